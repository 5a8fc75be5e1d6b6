package main

import (
	"path/filepath"
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/view/figure"
	"spile/internal/view/report"
)

// dpi is the resolution of a picture.
const dpi = 300

// picture is a figure that a command also draws.
type picture struct {
	Figure string `placeholder:"FILE.svg|png|pdf" help:"Also draw it into this file; its ending says how."`
	Size   string `enum:"${sizes}" default:"page" placeholder:"${sizes_or}"`
}

// check refuses a name that does not say how, before anything is computed.
func (p picture) check() error {
	if p.Figure == "" {
		return nil
	}
	return drawable("--figure", p.Figure)
}

// drawable refuses a name that does not say how to draw.
func drawable(flag, path string) error {
	if !slices.Contains([]string{".svg", ".png", ".pdf"}, strings.ToLower(filepath.Ext(path))) {
		return misuse{note.New("%s %s: allowed: a name that ends in .svg, .png or .pdf", flag, path)}
	}
	return nil
}

// sheet writes a figure as SVG, PNG or PDF by the ending of the file's name. The date is that of the data, zero where
// it has none.
func (o *out) sheet(s *figure.Sheet, date time.Time, path string) error {
	var data []byte
	var err error
	switch strings.ToLower(filepath.Ext(path)) {
	case ".svg":
		data = s.SVGFile()
	case ".pdf":
		data, err = s.PDF(report.Untitled(date, o.voice, versionText()))
	default:
		data, err = s.PNG(dpi)
	}
	if err != nil {
		return err
	}
	return o.files.File(path, data)
}

// Package page is what every room of the workbench stands on: one state of its input, and how a page, a form and a file
// are made of it. It knows no room.
package page

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"slices"
	"time"

	"spile/internal/view/markup"
	"spile/internal/view/say"
)

//go:embed *.html *.css *.js
var files embed.FS

// Kit is what pages are made with in one language, whatever the input.
type Kit struct {
	Voice   *say.Voice
	Version string // of the program, for the foot of a page and the report

	began     int64 // another run may be of another program
	templates *template.Template
	assets    map[string]asset
}

var began = time.Now().UnixNano()

type asset struct {
	kind, tag string
	body      []byte
}

// NewKit takes the files of the rooms beside those of this package: templates (*.html) are parsed together, style
// sheets (*.css) are served as one, in the order of the rooms, and scripts (*.js) by their names. editable says whether
// the input is a workbook's.
func NewKit(v *say.Voice, version string, editable bool, rooms ...fs.FS) (*Kit, error) {
	k := &Kit{Voice: v, Version: version, began: began, assets: map[string]asset{}}
	was := func(text string) string {
		if editable {
			return v.Text("workbook: %s", text)
		}
		return v.Text("files: %s", text)
	}
	k.templates = template.New("").Funcs(template.FuncMap{
		"t": v.Text, "list": v.List, "was": was, "editable": func() bool { return editable },
	})
	style := []byte(markup.Stylesheet())
	err := eachFile(slices.Concat([]fs.FS{files}, rooms), func(name string, body []byte) error {
		var err error
		switch path.Ext(name) {
		case ".html":
			_, err = k.templates.New(name).Parse(string(body))
		case ".css":
			style = append(style, body...)
		case ".js":
			k.assets[name] = newAsset("text/javascript; charset=utf-8", body)
		}
		return err
	})
	k.assets["style.css"] = newAsset("text/css; charset=utf-8", style)
	return k, err
}

// eachFile calls with every file at the root of file systems, in their order.
func eachFile(list []fs.FS, do func(name string, body []byte) error) error {
	for _, files := range list {
		entries, err := fs.ReadDir(files, ".")
		if err != nil {
			return err
		}
		for _, e := range entries {
			body, err := fs.ReadFile(files, e.Name())
			if err == nil {
				err = do(e.Name(), body)
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

func newAsset(kind string, body []byte) asset { return asset{kind, digest(body), body} }

func digest(body []byte) string {
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:8])
}

// Asset is the address of a style sheet or script, which changes with its content.
func (k *Kit) Asset(name string) string {
	return "/asset/" + name + "?" + TagKey + "=" + k.assets[name].tag
}

// Make makes a page by a template; false where that failed, which is then what was answered.
func (k *Kit) Make(w http.ResponseWriter, name string, data any) ([]byte, bool) {
	var b bytes.Buffer
	if err := k.templates.ExecuteTemplate(&b, name, data); err != nil {
		http.Error(w, k.Voice.Text("This page could not be made: %s", err.Error()), http.StatusInternalServerError)
		return nil, false
	}
	return b.Bytes(), true
}

// Fragment is a piece of a page made by a template, for a cell of a table; where that fails, why.
func (k *Kit) Fragment(name string, data any) template.HTML {
	var b bytes.Buffer
	if err := k.templates.ExecuteTemplate(&b, name, data); err != nil {
		return template.HTML(template.HTMLEscapeString(err.Error()))
	}
	return template.HTML(b.String())
}

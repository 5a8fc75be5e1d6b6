package paper

import (
	"encoding/binary"
	"slices"

	"golang.org/x/image/font/sfnt"
)

// Cut is the font with nothing but the letters of a text and the blank box, for a file that carries its font: tables
// of TrueType outlines (ISO/IEC 14496-22, Open Font Format), glyphs renumbered, without kerning.
func (s Style) Cut(text string) []byte {
	tables := tablesOf(s.TTF())
	glyphs := []uint16{0} // by their new number: that of before
	number := func(old uint16) uint16 {
		i := slices.Index(glyphs, old)
		if i < 0 {
			i, glyphs = len(glyphs), append(glyphs, old)
		}
		return uint16(i)
	}
	letters := []rune(text)
	slices.Sort(letters)
	var buf sfnt.Buffer
	var coded [][2]uint32 // letter and glyph
	for _, r := range slices.Compact(letters) {
		if g, err := cuts()[s].face.GlyphIndex(&buf, r); err == nil && g != 0 {
			coded = append(coded, [2]uint32{uint32(r), uint32(number(uint16(g)))})
		}
	}
	be := binary.BigEndian
	var loca, glyf, hmtx []byte
	metrics := int(be.Uint16(tables["hhea"][34:])) // glyphs with an advance of their own; others have the last one's
	for i := 0; i < len(glyphs); i++ {             // parts of letters join the list as they are met
		old := int(glyphs[i])
		loca = be.AppendUint32(loca, uint32(len(glyf)))
		glyf = append(glyf, renumbered(outline(tables, old), number)...)
		glyf = append(glyf, make([]byte, -len(glyf)&3)...)
		advance, bearing := 4*min(old, metrics-1), 4*old+2
		if old >= metrics {
			bearing = 4*metrics + 2*(old-metrics)
		}
		hmtx = append(append(hmtx, tables["hmtx"][advance:advance+2]...), tables["hmtx"][bearing:bearing+2]...)
	}
	loca = be.AppendUint32(loca, uint32(len(glyf)))
	put := func(name string, at int, value uint16) {
		tables[name] = slices.Clone(tables[name])
		be.PutUint16(tables[name][at:], value)
	}
	put("head", 50, 1) // offsets of four bytes
	put("hhea", 34, uint16(len(glyphs)))
	put("maxp", 4, uint16(len(glyphs)))
	// one subtable of format 12: groups of letters, here of one each
	cmap := []byte{0, 0, 0, 1, 0, 3, 0, 10, 0, 0, 0, 12, 0, 12, 0, 0}
	for _, n := range []int{16 + 12*len(coded), 0, len(coded)} {
		cmap = be.AppendUint32(cmap, uint32(n))
	}
	for _, c := range coded {
		cmap = be.AppendUint32(be.AppendUint32(be.AppendUint32(cmap, c[0]), c[0]), c[1])
	}
	post := append([]byte{0, 3, 0, 0}, tables["post"][4:32]...) // no names of glyphs
	return written(map[string][]byte{"OS/2": tables["OS/2"], "cmap": cmap, "glyf": glyf, "head": tables["head"],
		"hhea": tables["hhea"], "hmtx": hmtx, "loca": loca, "maxp": tables["maxp"], "name": tables["name"],
		"post": post})
}

// tablesOf are the tables of a font by their names.
func tablesOf(font []byte) map[string][]byte {
	be := binary.BigEndian
	tables := map[string][]byte{}
	for i := range int(be.Uint16(font[4:])) {
		e := font[12+16*i:]
		at := be.Uint32(e[8:])
		tables[string(e[:4])] = font[at : at+be.Uint32(e[12:])]
	}
	return tables
}

// outline is the outline of a glyph; a space has none.
func outline(tables map[string][]byte, glyph int) []byte {
	be, loca := binary.BigEndian, tables["loca"]
	if be.Uint16(tables["head"][50:]) == 1 {
		return tables["glyf"][be.Uint32(loca[4*glyph:]):be.Uint32(loca[4*glyph+4:])]
	}
	return tables["glyf"][2*int(be.Uint16(loca[2*glyph:])) : 2*int(be.Uint16(loca[2*glyph+2:]))]
}

// renumbered is an outline; where it is made of other glyphs, it has their new numbers.
func renumbered(outline []byte, number func(uint16) uint16) []byte {
	be := binary.BigEndian
	if len(outline) == 0 || int16(be.Uint16(outline)) >= 0 {
		return outline
	}
	const words, scale, more, two, matrix = 1, 8, 0x20, 0x40, 0x80
	outline = slices.Clone(outline)
	for at := 10; ; {
		flags := be.Uint16(outline[at:])
		be.PutUint16(outline[at+2:], number(be.Uint16(outline[at+2:])))
		at += 6
		if flags&words != 0 {
			at += 2
		}
		switch {
		case flags&scale != 0:
			at += 2
		case flags&two != 0:
			at += 4
		case flags&matrix != 0:
			at += 8
		}
		if flags&more == 0 {
			return outline
		}
	}
}

// written is a font file of tables.
func written(tables map[string][]byte) []byte {
	be := binary.BigEndian
	var names []string
	for name := range tables {
		names = append(names, name)
	}
	slices.Sort(names)
	search, log := 1, 0
	for search*2 <= len(names) {
		search, log = search*2, log+1
	}
	file := []byte{0, 1, 0, 0}
	for _, n := range []int{len(names), 16 * search, log, 16 * (len(names) - search)} {
		file = be.AppendUint16(file, uint16(n))
	}
	at := 12 + 16*len(names)
	var body []byte
	for _, name := range names {
		t := tables[name]
		if name == "head" {
			t = slices.Clone(t)
			be.PutUint32(t[8:], 0) // the sum of the whole, below
			tables[name] = t
		}
		file = append(file, name...)
		padded := append(slices.Clone(t), make([]byte, -len(t)&3)...)
		for _, n := range []uint32{sum(padded), uint32(at + len(body)), uint32(len(t))} {
			file = be.AppendUint32(file, n)
		}
		body = append(body, padded...)
	}
	file = append(file, body...)
	for i := range names {
		if e := file[12+16*i:]; string(e[:4]) == "head" {
			be.PutUint32(file[be.Uint32(e[8:])+8:], 0xB1B0AFBA-sum(file))
		}
	}
	return file
}

// sum adds up words of four bytes.
func sum(b []byte) (s uint32) {
	for i := 0; i+4 <= len(b); i += 4 {
		s += binary.BigEndian.Uint32(b[i:])
	}
	return s
}

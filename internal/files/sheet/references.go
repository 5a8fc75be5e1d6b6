package sheet

import (
	"fmt"
	"strings"
	"unicode"

	"spile/internal/trade/evidence"
)

// BibTeX writes the sources of studies, an entry a study. A source is a text as somebody wrote it, so that the entry
// is @misc with the text as its note: what is title and what is author in it is not guessed. Studies without a source
// have no entry.
func BibTeX(studies []evidence.Study) []byte {
	var b strings.Builder
	keys := map[string]int{}
	for _, s := range studies {
		if s.Source == "" {
			continue
		}
		key := citeKey(s)
		if keys[key]++; keys[key] > 1 {
			key = fmt.Sprintf("%s-%d", key, keys[key])
		}
		fmt.Fprintf(&b, "@misc{%s,\n  title = {{%s}},\n  year = {%d},\n  note = {%s}\n}\n\n", key,
			texText(oneRow(s.Name)), s.Season, texText(oneRow(s.Source)))
	}
	return []byte(b.String())
}

// citeKey is a study's name and season in letters that every reader of BibTeX takes.
func citeKey(s evidence.Study) string {
	var b strings.Builder
	for _, r := range strings.ToLower(s.Name) {
		switch {
		case r < 0x80 && (unicode.IsLetter(r) || unicode.IsDigit(r)):
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	key, year := strings.Trim(b.String(), "-"), fmt.Sprint(s.Season)
	switch {
	case key == "":
		return "study-" + year
	case strings.Contains(key, year):
		return key
	}
	return key + "-" + year
}

// texText writes a text for TeX, whose ten characters of its own are escaped (Knuth, The TeXbook, 1984, chapter 7).
func texText(s string) string {
	return strings.NewReplacer(`\`, `\textbackslash{}`, "{", `\{`, "}", `\}`, "$", `\$`, "&", `\&`, "#", `\#`, "%",
		`\%`, "_", `\_`,
		"~", `\textasciitilde{}`, "^", `\textasciicircum{}`).Replace(s)
}

// RIS writes the sources of studies, a GEN entry a study with the source as its note (N1). A tag is two characters, two
// spaces, a hyphen and a space; an entry begins with TY and ends with ER; rows end with CR and LF.
func RIS(studies []evidence.Study) []byte {
	var b strings.Builder
	for _, s := range studies {
		if s.Source == "" {
			continue
		}
		for _, f := range [][2]string{{"TY", "GEN"}, {"TI", oneRow(s.Name)}, {"PY", fmt.Sprint(s.Season)},
			{"N1", oneRow(s.Source)}, {"ER", ""}} {
			b.WriteString(f[0] + "  - " + f[1] + "\r\n")
		}
		b.WriteString("\r\n")
	}
	return []byte(b.String())
}

// oneRow puts a text on one row: a new row would begin a new field.
func oneRow(s string) string {
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }),
		" ")
}

package report_test

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"io"
	"io/fs"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"spile/internal/view/report"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// spoken are the texts of each part of a presentation that bears a name, in their order.
func spoken(t *testing.T, data []byte, part string) []string {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := r.Open(part)
	if err != nil {
		return nil
	}
	var texts []string
	d := xml.NewDecoder(f)
	for {
		token, err := d.Token()
		if err == io.EOF {
			return texts
		} else if err != nil {
			t.Fatal(err)
		}
		if x, ok := token.(xml.StartElement); ok && x.Name.Local == "t" {
			var text string
			if err := d.DecodeElement(&text, &x); err != nil {
				t.Fatal(err)
			}
			texts = append(texts, text)
		}
	}
}

// A talk says one thing a slide, in at most twelve words, and both its forms have the same slides with the same
// titles; the presentation has what the speaker needs in its notes.
func TestATalkInBothForms(t *testing.T) {
	a := answer()
	for _, lang := range []string{"en", "fr"} {
		v := say.In(lang)
		x := report.Talk{By: "A. Speaker"}
		pdf, err := x.PDF(a, v, "1")
		if err != nil {
			t.Fatal(err)
		}
		deck, err := x.Deck(a, v, "1")
		if err != nil {
			t.Fatal(err)
		}
		list := show.Of(a, v).Talk("A. Speaker", "a day", nil)
		pages := strings.Split(strings.TrimSuffix(poppler(t, pdf, "pdftotext", "-layout"), "\f"), "\f")
		if len(pages) != len(list) {
			t.Errorf("%s: %d slides on %d pages", lang, len(list), len(pages))
		}
		noted := 0
		for i, s := range list {
			title := strings.TrimSuffix(s.Title, v.Text("%s, continued", ""))
			if n := len(strings.Fields(title)); n > 15 && !s.Opening { // figures and units are words of their own
				t.Errorf("%s: %d words: %s", lang, n, s.Title)
			}
			name := "ppt/slides/slide" + strconv.Itoa(i+1) + ".xml"
			if texts := spoken(t, deck, name); len(texts) == 0 || texts[0] != s.Title {
				t.Errorf("%s: %s: %q, want %q first", lang, name, texts, s.Title)
			}
			if i < len(pages) && !strings.Contains(squeezed(pages[i]), squeezed(s.Title)) {
				t.Errorf("%s: page %d does not say %q", lang, i+1, s.Title)
			}
			noted += len(spoken(t, deck, "ppt/notesSlides/notesSlide"+strconv.Itoa(i+1)+".xml"))
		}
		if noted < len(a.Input.Studies) {
			t.Errorf("%s: notes hold %d texts", lang, noted)
		}
	}
}

func squeezed(text string) string { return strings.Join(strings.Fields(text), "") }

// No slide holds more points than a hall can read.
func TestSlidesAreShort(t *testing.T) {
	for _, s := range show.Of(answer(), say.In("en")).Talk("", "", nil) {
		n := 0
		for _, p := range s.Points {
			n += len(p)
		}
		if len(s.Points) > 6 || n > 700 {
			t.Errorf("%s: %d points, %d letters", s.Title, len(s.Points), n)
		}
	}
}

// Every picture and table of the presentation says what it shows to who does not see it, in the talk's language.
func TestEveryPictureOfATalkIsTold(t *testing.T) {
	a := answer()
	for _, lang := range []string{"en", "fr"} {
		v := say.In(lang)
		data, err := report.Talk{}.Deck(a, v, "1")
		if err != nil {
			t.Fatal(err)
		}
		r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Fatal(err)
		}
		told := map[string]bool{}
		for i, s := range show.Of(a, v).Talk("", "", nil) {
			if s.Figure == nil && s.Table == nil {
				continue
			}
			f, err := fs.ReadFile(r, "ppt/slides/slide"+strconv.Itoa(i+1)+".xml")
			if err != nil {
				t.Fatal(err)
			}
			m := regexp.MustCompile(`descr="([^"]{10,})"`).FindSubmatch(f)
			if m == nil || told[string(m[1])] {
				t.Errorf("%s: slide %d, %s: its picture is told as %q", lang, i+1, s.Title, m)
				continue
			}
			told[string(m[1])] = true
		}
		if len(told) < 5 {
			t.Errorf("%s: %d pictures are told", lang, len(told))
		}
	}
}

// What to do is told sentence by sentence, and no slide goes on for one point alone after a full one.
func TestWhatToDoIsToldSentenceBySentence(t *testing.T) {
	for _, lang := range []string{"en", "fr"} {
		v := say.In(lang)
		list := show.Of(answer(), v).Talk("", "", nil)
		for i, s := range list {
			if s.Title == v.Text("What to do") {
				for _, p := range s.Points {
					if regexp.MustCompile(`\. \p{Lu}`).MatchString(strings.TrimSuffix(p, v.Text("This report informs; "+
						"it does not permit. The label is the law."))) {
						t.Errorf("%s: one point of several sentences: %s", lang, p)
					}
				}
			}
			if i > 0 && len(s.Points) == 1 && len(list[i-1].Points) > 3 && strings.HasPrefix(s.Title, list[i-1].Title) {
				t.Errorf("%s: %s: one point alone", lang, s.Title)
			}
		}
	}
}

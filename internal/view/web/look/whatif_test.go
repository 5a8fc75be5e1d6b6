package look

import (
	"net/url"
	"os"
	"path/filepath"
	"testing"

	"spile/internal/demo"
	"spile/internal/engine/advice"
	"spile/internal/files/sheet"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
)

// Whatever an address asks, it is written so that it reads as the same.
func FuzzTry(f *testing.F) {
	for _, q := range []string{"wage=24", "wage=%00&last=wage%3D3", "exclude=Larkmoor+2014&without=freak-season",
		"today=new-drop%2F3%2Bcheck-valve", "place=US-VT",
		"discount=-1", "baseline.yield=0", "longest=30", "moderator=vacuum&site=no", "wage=1;wage=2",
		"last=last%3Dlast"} {
		f.Add(q)
	}
	s := room(f)
	f.Fuzz(func(t *testing.T, query string) {
		q, err := url.ParseQuery(query)
		if err != nil {
			return
		}
		p := s.parse(q)
		if len(p.faults) > 0 {
			return
		}
		// An address that was read is written so that it reads as the same.
		again := s.parse(p.canonical())
		if len(again.faults) > 0 || again.canonical().Encode() != p.canonical().Encode() {
			t.Errorf("%q is written as %q, which reads as %q %v", query, p.canonical().Encode(),
				again.canonical().Encode(), again.faults)
		}
	})
}

// room is the room over the invented scenario of package demo.
func room(f *testing.F) *Room {
	f.Helper()
	dir := f.TempDir()
	if err := os.CopyFS(dir, demo.Files()); err != nil {
		f.Fatal(err)
	}
	in, err := sheet.Read(filepath.Join(dir, "evidence.csv"), filepath.Join(dir, "prices.toml"))
	if err != nil {
		f.Fatal(err)
	}
	kit, err := page.NewKit(say.In("en"), "test", false, Files)
	if err != nil {
		f.Fatal(err)
	}
	s := &page.Site{Kit: kit, Memo: new(advice.Memo), Input: advice.Usual(in)}
	if err := s.Answer(); err != nil {
		f.Fatal(err)
	}
	return New(s)
}

package look

import (
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spile/internal/demo"
	"spile/internal/engine/advice"
	"spile/internal/engine/pool"
	"spile/internal/files/sheet"
	"spile/internal/trade/practice"
	"spile/internal/view/say"
	"spile/internal/view/show"
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
	if err := s.Answer(nil); err != nil {
		f.Fatal(err)
	}
	return New(s)
}

// How much of a gain is just the spout is told with its interval, and only where that lies above zero; and the page of
// gains says what else the answer without money says.
func TestWhatThePageOfGainsSays(t *testing.T) {
	gain := func(k practice.Key, pct, low, high float64) pool.Gain {
		return pool.Gain{Treatment: practice.Treatment{Practice: k}, Studies: 3, Trials: 3, Pct: pct, LowPct: low,
			HighPct: high}
	}
	share := func(k practice.Key, x, low, high float64) pool.Share {
		return pool.Share{Practice: practice.NewSpout, Of: k, Share: &x, Low: &low, High: &high}
	}
	a := &advice.Advice{Pool: &pool.Result{
		Gains: []pool.Gain{gain(practice.NewSpout, 10, -30, 70), gain(practice.CheckValve, 80, -20, 150)},
		Shares: []pool.Share{share(practice.CheckValve, 0.14, -0.75, 0.99),
			share(practice.SilverSpout, 0.4, 0.2, 0.6)},
	}}
	a.Input.Practices = practice.Shipped()
	d := &drawn{whatIf: &whatIf{answer: a}, view: show.Of(a, say.In("en"))}
	said := strings.ReplaceAll(strings.Join(d.mostSap(), "\n"), "\u00a0", " ")
	for _, want := range []string{
		"No practice is shown to give more sap than unsanitized. Check-valve spout each season comes first with 80 %",
		"part of the other gains: 40 % (20 to 60 %) of that of silver-bearing spout."} {
		if !strings.Contains(said, want) {
			t.Errorf("%q is not said in\n%s", want, said)
		}
	}
	if strings.Contains(said, "14 %") {
		t.Errorf("a share that may be none is told in\n%s", said)
	}
}

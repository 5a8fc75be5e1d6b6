package book

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"spile/internal/note"
	"spile/internal/trade/input"
	"spile/internal/trade/past"
	"spile/internal/trade/station"
)

// desk is a workbook as the side that others sync with.
func desk(b *Book, from string, kinds ...Kind) Desk {
	return Desk{Book: b, Name: "maple.example.org", From: from, Kinds: kinds, At: day, Say: note.Note.English}
}

func syncing(who string) Edit { return Edit{At: day, Who: who, What: "sync with maple.example.org"} }

func synced(t testing.TB, b *Book, with Side) Synced {
	t.Helper()
	s, err := b.Sync(with, syncing("Bo"))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// alikeNow asks that two workbooks hold the same, as those see them who may.
func alikeNow(t testing.TB, a, b *Book) {
	t.Helper()
	x, y := contents(t, a), contents(t, b)
	if x.Sources[0].Digest != y.Sources[0].Digest {
		t.Errorf("they hold other things: %v and %v", said(a), said(b))
	}
}

func season(year int, source string) past.Season {
	return past.Season{Year: year, YieldL: new(70.0), Source: source}
}

// What each side adds, changes and removes comes to the other, with who did it and where it was first made; run again,
// nothing is done.
func TestSync(t *testing.T) {
	server, file := fresh(t), fresh(t)
	save(t, server, by("Ada", 0), Keep(study("Otter Hill 2019", 24)), Keep(study("Old", 20)),
		Keep(practiceOf("steam-rinse")))
	save(t, file, by("Bo", 0), Keep(study("Fern Gate 2020", 26)), Keep(season(2019, "own books")))
	if s := synced(t, file, desk(server, "Bo Reed")); !s.Same || len(s.Taken) != 3 || len(s.Sent) != 2 ||
		s.Crossed != nil {
		t.Errorf("%+v", s)
	}
	alikeNow(t, file, server)
	why := by("Bo", 9)
	why.Replace, why.Why = true, "a slip of the pen"
	save(t, file, why, Keep(study("Otter Hill 2019", 25)), Remove(Study, "Old"))
	save(t, server, Edit{At: day.Add(time.Hour), Who: "Ada", What: "test", Seen: Sight{Change: 9}, Replace: true},
		Keep(season(2019, "the bank")))
	if s := synced(t, file, desk(server, "Bo Reed")); !s.Same || len(s.Taken) != 1 || len(s.Sent) != 2 {
		t.Errorf("%+v", s)
	}
	alikeNow(t, file, server)
	before := contents(t, server).History + contents(t, file).History
	for range 2 {
		if s := synced(t, file, desk(server, "Bo Reed")); !s.Same || s.Taken != nil || s.Sent != nil {
			t.Errorf("%+v", s)
		}
	}
	if contents(t, server).History+contents(t, file).History != before {
		t.Error("a second run has changed something")
	}
	all, err := server.History(0, math.MaxInt)
	if err != nil {
		t.Fatal(err)
	}
	own, err := file.History(0, math.MaxInt)
	if err != nil {
		t.Fatal(err)
	}
	x := all[0]
	made := own[slices.IndexFunc(own, func(e Entry) bool { return e.Why != "" })]
	if x.Who != "Bo" || x.Why != "a slip of the pen" || x.Origin == nil || x.Origin.From != "Bo Reed" ||
		x.Origin.ID != made.ID || x.Origin.Digest != made.digest || len(x.Steps) != 2 {
		t.Errorf("%+v of %+v", x, made)
	}
	for _, b := range []*Book{server, file} {
		sound(t, b.path)
	}
}

// What both have changed stays as it is on both sides until somebody has looked, and comes to the same whatever is
// decided. The rest goes on.
func TestSyncCrossed(t *testing.T) {
	for name, decide := range map[string]func(t *testing.T, b *Book) any{
		"ours": func(t *testing.T, b *Book) any {
			e := beside(by("Bo", contents(t, b).Change))
			must(b.Decide(e, Touched{Study, "A"}, false))
			return 31.0
		},
		"theirs": func(t *testing.T, b *Book) any {
			e := by("Bo", contents(t, b).Change)
			if _, err := b.Decide(e, Touched{Study, "A"}, true); !errors.As(err, new(*Conflict)) {
				t.Errorf("what was not shown is taken: %v", err)
			}
			e.Seen.Beside = true
			must(b.Decide(e, Touched{Study, "A"}, true))
			return 32.0
		},
		"both, at the form": func(t *testing.T, b *Book) any {
			e := by("Bo", contents(t, b).Change)
			e.Replace = true
			var c *Conflict
			if _, err := b.Save(e, Keep(study("A", 33))); !errors.As(err, &c) || len(c.Theirs) != 1 {
				t.Fatalf("what was not shown is overwritten: %v", err)
			}
			if l := c.Theirs[0]; l.Who != "Ada" || l.Kind != Study || l.There != "maple.example.org" ||
				!strings.Contains(c.Error(), "side by side") {
				t.Errorf("%+v: %v", l, c)
			}
			e.Seen = c.Theirs[0].Seen
			save(t, b, e, Keep(study("A", 33)))
			return 33.0
		},
		"ours, saved as it stands": func(t *testing.T, b *Book) any {
			save(t, b, beside(by("Bo", contents(t, b).Change)), Keep(study("A", 31)))
			return 31.0
		},
		"neither": func(t *testing.T, b *Book) any {
			save(t, b, beside(by("Bo", contents(t, b).Change)), Remove(Study, "A"))
			return nil
		},
	} {
		t.Run(name, func(t *testing.T) {
			server, file := fresh(t), fresh(t)
			save(t, server, by("Ada", 0), Keep(study("A", 30)))
			synced(t, file, desk(server, "Bo Reed"))
			edit := by("Bo", 9)
			edit.Replace = true
			save(t, file, edit, Keep(study("A", 31)), Keep(study("B", 20)))
			edit.Who = "Ada"
			save(t, server, edit, Keep(study("A", 32)), Keep(study("C", 20)))
			for range 2 {
				if s := synced(t, file, desk(server, "Bo Reed")); s.Same || len(s.Crossed) != 1 {
					t.Errorf("%+v", s)
				}
			}
			means := func(b *Book) map[string]float64 {
				list := map[string]float64{}
				for _, x := range contents(t, b).Studies {
					list[x.Name] = *x.Arms[1].Mean
				}
				return list
			}
			if a, b := means(file), means(server); a["A"] != 31 || b["A"] != 32 || a["C"] != 20 || b["B"] != 20 {
				t.Errorf("overwritten, or the rest does not go on: %v, %v", a, b)
			}
			if c := contents(t, file); len(c.Crossed) != 1 || contents(t, server).Crossed != nil {
				t.Errorf("%+v", c.Crossed)
			}
			want := decide(t, file)
			if s := synced(t, file, desk(server, "Bo Reed")); !s.Same || s.Crossed != nil {
				t.Errorf("%+v", s)
			}
			alikeNow(t, file, server)
			if x, ok := means(server)["A"]; want == nil && ok || want != nil && x != want {
				t.Errorf("%v, wanted %v", x, want)
			}
			if contents(t, file).Crossed != nil {
				t.Error("it waits still")
			}
			sound(t, file.path)
			sound(t, server.path)
		})
	}
}

// What says the same on both sides is no conflict, now or later.
func TestSyncAlike(t *testing.T) {
	server, file := fresh(t), fresh(t)
	save(t, server, by("Ada", 0), Keep(study("A", 30)), Keep(study("B", 30)))
	save(t, file, by("Bo", 0), Keep(study("A", 30)))
	synced(t, file, desk(server, "Bo"))
	for n, b := range []*Book{server, file} {
		save(t, b, by("Ada", 9), Remove(Study, "B"))
		if n == 1 {
			synced(t, file, desk(server, "Bo"))
		}
	}
	e := by("Bo", 20)
	e.Replace = true
	save(t, file, e, Keep(study("A", 31)))
	save(t, server, e, Keep(study("B", 40)))
	if s := synced(t, file, desk(server, "Bo")); !s.Same || s.Crossed != nil {
		t.Errorf("%+v", s)
	}
	alikeNow(t, file, server)
}

// What one side needs and the other has taken away is told, and the rest goes on.
func TestSyncNeeds(t *testing.T) {
	server, file := fresh(t), fresh(t)
	save(t, server, by("Ada", 0), Keep(study("A", 30)))
	synced(t, file, desk(server, "Bo"))
	save(t, file, by("Bo", 9), Keep(input.Exclusion{Study: "A", Reason: "a leak"}), Keep(study("B", 20)))
	save(t, server, by("Ada", 9), Remove(Study, "A"), Keep(study("C", 20)))
	s := synced(t, file, desk(server, "Bo"))
	if s.Same || len(s.Refused) != 2 || !strings.Contains(s.Refused[0].Why, "is left out") {
		t.Errorf("%+v", s)
	}
	if a, b := contents(t, file), contents(t, server); len(a.Studies) != 3 || len(b.Studies) != 2 {
		t.Errorf("%d and %d studies", len(a.Studies), len(b.Studies))
	}
	save(t, file, by("Bo", 20), Remove(Excluded, "A"))
	if s := synced(t, file, desk(server, "Bo")); !s.Same {
		t.Errorf("%+v", s)
	}
	alikeNow(t, file, server)
}

// heard writes down all that a side says.
type heard struct {
	Side
	said *strings.Builder
}

func (h heard) write(x any, err error) {
	data, _ := json.Marshal(x)
	fmt.Fprintln(h.said, string(data), err)
}

func (h heard) Heads() (Heads, error) {
	x, err := h.Side.Heads()
	h.write(x, err)
	return x, err
}

func (h heard) Lines(of []string) (Parcel, error) {
	x, err := h.Side.Lines(of)
	h.write(x, err)
	return x, err
}

func (h heard) Take(p Parcel) (Taken, error) {
	x, err := h.Side.Take(p)
	h.write(x, err)
	return x, err
}

// What a station sends is its own there, which comes here with the same sync: it had to be run twice.
func TestSyncOfOnesOwn(t *testing.T) {
	server, file := fresh(t), fresh(t)
	north := server.For("North Sugar", func() time.Time { return day })
	save(t, file, by("Bo", 0), Keep(study("Ours", 22)))
	s := synced(t, file, desk(north, "Bo Reed", Kinds...))
	if !s.Same || len(s.Sent) != 1 || len(s.Taken) != 1 || s.Taken[0].Kind != Holding {
		t.Errorf("%+v", s)
	}
	if s = synced(t, file, desk(north, "Bo Reed", Kinds...)); !s.Same || s.Sent != nil || s.Taken != nil {
		t.Errorf("again: %+v", s)
	}
}

// Who is of a station gets what that station sees, and sends what it may; what is another's alone is in nothing that is
// said. What is withdrawn is taken out, and comes again once it is shown again.
func TestSyncStations(t *testing.T) {
	const secret = "Quillback"
	server, file := fresh(t), fresh(t)
	now := func() time.Time { return day }
	fern, north := server.For("Fern Gate", now), server.For("North Sugar", now)
	mine := func(from string) Desk { return desk(north, from, Kinds...) }
	save(t, server, by("Ada", 0), Keep(study("Everybody's", 20)))
	save(t, fern, Edit{At: day, Who: "Fay", What: secret, Why: secret, Seen: Sight{Change: 9}}, Keep(study(secret, 20)),
		Keep(study("Lent", 21)), Keep(input.Exclusion{Study: secret, Reason: secret}))
	step := func(of *Book, act, name, why string) {
		t.Helper()
		a := station.Acts[slices.IndexFunc(station.Acts, func(a station.Act) bool { return a.Key == act })]
		e := Edit{At: day, Who: "Fay", What: act, Why: why, Seen: Sight{Change: 99}}
		if _, err := of.Step(e, a, station.Study, name, "", ""); err != nil {
			t.Fatal(err)
		}
	}
	step(fern, "offer", "Lent", "")
	step(fern, "admit", "Lent", "")
	save(t, file, by("Bo", 0), Keep(study(secret, 40)), Keep(study("Ours", 22)))

	var words strings.Builder
	listen := heard{mine("Bo Reed"), &words}
	s := synced(t, file, listen)
	names := func(b *Book) (list []string) {
		for _, x := range contents(t, b).Studies {
			list = append(list, x.Name)
		}
		slices.Sort(list)
		return list
	}
	if got := names(north); !slices.Equal(got, []string{"Everybody's", "Lent", "Ours"}) {
		t.Errorf("%v: %+v", got, s)
	}
	if len(s.Refused) != 1 || !strings.Contains(s.Refused[0].Why, "is taken") {
		t.Errorf("%+v", s.Refused)
	}
	if got := names(fern); !slices.Equal(got, []string{"Everybody's", "Lent", secret}) {
		t.Errorf("what came is not its station's own: %v", got)
	}
	if text := strings.ReplaceAll(words.String(), `"`+secret+`","why":"the name `+secret+` is taken`, ""); strings.
		Contains(text, secret) {
		at := strings.Index(text, secret)
		t.Errorf("it is told: %s", text[max(0, at-300):min(len(text), at+100)])
	}
	save(t, file, by("Bo", 99), Remove(Study, secret)) // it is called something else
	if s = synced(t, file, listen); !s.Same {
		t.Errorf("%+v", s)
	}

	e := by("Bo", 99)
	e.Replace = true
	save(t, file, e, Keep(study("Lent", 50)), Keep(study("Ours", 23)))
	s = synced(t, file, listen)
	if len(s.Refused) != 1 || !strings.Contains(s.Refused[0].Why, "Fern Gate") || s.Same {
		t.Errorf("%+v", s)
	}
	if got := must(*contents(t, north).Studies[1].Arms[1].Mean, nil); got != 21 {
		t.Errorf("another station's was changed: %v", got)
	}

	step(fern, "withdraw", "Lent", "the pump was found broken")
	for range 2 {
		s = synced(t, file, listen)
		if !s.Same || slices.Contains(names(file), "Lent") {
			t.Errorf("%v, %+v", names(file), s)
		}
	}
	e.Who = "Fay"
	save(t, fern, e, Keep(study("Lent", 60)))
	step(fern, "offer", "Lent", "")
	step(fern, "admit", "Lent", "")
	for n := range 2 {
		s = synced(t, file, listen)
		if !slices.Contains(names(file), "Lent") && len(s.Crossed) != 1 {
			t.Errorf("%v, %+v", names(file), s)
		}
		if n == 0 && len(s.Crossed) == 1 { // it was changed here before it was withdrawn
			must(file.Decide(beside(by("Bo", contents(t, file).Change)), s.Crossed[0], true))
		}
	}
	if !s.Same {
		t.Errorf("%+v", s)
	}
	alikeNow(t, file, north)
	sound(t, file.path)
	sound(t, server.path)
}

// An account sends what its right allows, and is told what stays.
func TestSyncRights(t *testing.T) {
	for name, tt := range map[string]struct {
		kinds      []Kind
		sent, kept int
	}{"reader": {[]Kind{}, 0, 2}, "recorder": {[]Kind{Reading}, 0, 2}, "editor": {Kinds, 2, 0}} {
		server, file := fresh(t), fresh(t)
		save(t, server, by("Ada", 0), Keep(study("A", 20)))
		save(t, file, by("Bo", 0), Keep(study("B", 20)), Keep(season(2019, "x")))
		with := desk(server, "Bo")
		with.Kinds = tt.kinds
		s := synced(t, file, with)
		if len(s.Sent) != tt.sent || len(s.Kept) != tt.kept || len(contents(t, file).Studies) != 2 ||
			len(contents(t, server).Studies) != 1+tt.sent/2 {
			t.Errorf("%s: %+v", name, s)
		}
		// and what is sent all the same is refused
		lines := file.now.things
		p := parcel([]end{{ref{Past, "2019"}, "", []edition{{Made{ID: 1, At: "2026-03-01T08:30:00Z", Who: "Eve",
			Digest: strings.Repeat("ab", 32)}, 0, lines[ref{Past, "2019"}].body, nil}}}})
		if taken, err := with.Take(p); err != nil || tt.sent == 0 && (taken.Things > 0 || len(taken.Refused) != 1) {
			t.Errorf("%s: %+v, %v", name, taken, err)
		}
	}
}

// What no spile has written is refused, all of it.
func TestSyncHostile(t *testing.T) {
	made := Made{ID: 1, At: "2026-03-01T08:30:00Z", Who: "Eve", Digest: strings.Repeat("ab", 32)}
	body := `{"year":2019}`
	for name, spoil := range map[string]func(*Parcel){
		"a kind that is none":     func(p *Parcel) { p.Lines[0].Kind = "person" },
		"a body of another thing": func(p *Parcel) { p.Lines[0].Key = "2020" },
		"a body that is none":     func(p *Parcel) { p.Lines[0].Told[0].Body = new(`{"year":`) },
		"a field that is none":    func(p *Parcel) { p.Lines[0].Told[0].Body = new(`{"year":2019,"x":1}`) },
		"written otherwise":       func(p *Parcel) { p.Lines[0].Told[0].Body = new(`{ "year":2019}`) },
		"no key":                  func(p *Parcel) { p.Lines[0].Key = "" },
		"the same twice":          func(p *Parcel) { p.Lines = append(p.Lines, p.Lines[0]) },
		"of a change that is not": func(p *Parcel) { p.Lines[0].Told[0].Of = 1 },
		"of a change below":       func(p *Parcel) { p.Lines[0].Told[0].Of = -1 },
		"nothing":                 func(p *Parcel) { p.Lines[0].Told = nil },
		"nobody":                  func(p *Parcel) { p.Changes[0].Who = " " },
		"at no time":              func(p *Parcel) { p.Changes[0].At = "soon" },
		"no digest":               func(p *Parcel) { p.Changes[0].Digest = "ab" },
		"a zero":                  func(p *Parcel) { p.Changes[0].What = "\x00" },
		"no text":                 func(p *Parcel) { p.Changes[0].Why = "\xff" },
		"what says whose it is": func(p *Parcel) {
			i := Keep(station.Hold{Of: station.Study, Name: "A", Station: "Eve's", Stage: station.Own})
			p.Lines[0] = Line{Kind: Holding, Key: i.key, Told: []Told{{Body: i.body}}}
		},
		"a crossing": func(p *Parcel) {
			i := Keep(Crossing{Touched: Touched{Study, "A"}, Made: made})
			p.Lines[0] = Line{Kind: Crossed, Key: i.key, Told: []Told{{Body: i.body}}}
		},
	} {
		server := fresh(t)
		save(t, server, by("Ada", 0), Keep(study("A", 20)))
		p := Parcel{[]Made{made}, []Line{{Kind: Past, Key: "2019", Told: []Told{{Body: &body}}}}}
		spoil(&p)
		taken, err := desk(server, "Eve", Kinds...).Take(p)
		if err == nil && len(taken.Refused) == 0 || contents(t, server).Change != 1 {
			t.Errorf("%s: %+v, %v", name, taken, err)
		}
	}
}

// flaky breaks off at one of what a side is asked, before or after it is done.
type flaky struct {
	Side
	left *int
	done bool
}

var errBroken = errors.New("the line broke")

func broken[T any](f flaky, do func() (T, error)) (x T, err error) {
	*f.left--
	if *f.left != 0 {
		return do()
	}
	if f.done {
		do()
	}
	return x, errBroken
}

func (f flaky) Heads() (Heads, error) { return broken(f, f.Side.Heads) }
func (f flaky) Lines(of []string) (Parcel, error) {
	return broken(f, func() (Parcel, error) { return f.Side.Lines(of) })
}
func (f flaky) Take(p Parcel) (Taken, error) {
	return broken(f, func() (Taken, error) { return f.Side.Take(p) })
}

// Broken off at any step, before or after the other side has done it, a sync is run again and comes to what it would
// have come to.
func TestSyncBrokenOff(t *testing.T) {
	for step := 1; ; step++ {
		broke := false
		for _, done := range []bool{false, true} {
			server, file := fresh(t), fresh(t)
			save(t, server, by("Ada", 0), Keep(study("A", 20)), Keep(study("B", 20)))
			synced(t, file, desk(server, "Bo"))
			e := by("Ada", 9)
			e.Replace = true
			save(t, server, e, Keep(study("A", 21)), Keep(study("C", 20)))
			save(t, file, e, Keep(study("A", 22)), Keep(study("B", 22)), Keep(study("D", 20)))
			left := step
			_, err := file.Sync(flaky{desk(server, "Bo"), &left, done}, syncing("Bo"))
			broke = broke || err != nil
			if err != nil && !errors.Is(err, errBroken) {
				t.Fatal(err)
			}
			if s := synced(t, file, desk(server, "Bo")); len(s.Crossed) != 1 {
				t.Errorf("step %d: %+v", step, s)
			}
			must(file.Decide(beside(by("Bo", contents(t, file).Change)), Touched{Study, "A"}, true))
			if s := synced(t, file, desk(server, "Bo")); !s.Same {
				t.Errorf("step %d: %+v", step, s)
			}
			alikeNow(t, file, server)
			all, err := server.History(0, math.MaxInt)
			if err != nil || len(all) != 3 { // each of the file's changes came once
				t.Errorf("step %d: %d changes, %v", step, len(all), err)
			}
			sound(t, file.path)
			sound(t, server.path)
		}
		if !broke {
			if step < 5 {
				t.Errorf("only %d steps", step)
			}
			return
		}
	}
}

// What others write on the other side between two steps is not overwritten.
type racing struct {
	Side
	once func()
}

func (r *racing) Take(p Parcel) (Taken, error) {
	if r.once != nil {
		r.once()
		r.once = nil
	}
	return r.Side.Take(p)
}

func TestSyncRaced(t *testing.T) {
	server, file := fresh(t), fresh(t)
	save(t, server, by("Ada", 0), Keep(study("A", 20)))
	synced(t, file, desk(server, "Bo"))
	e := by("Bo", 9)
	e.Replace = true
	save(t, file, e, Keep(study("A", 22)))
	s := synced(t, file, &racing{desk(server, "Bo"), func() {
		e.Who = "Ada"
		save(t, server, e, Keep(study("A", 21)))
	}})
	if len(s.Crossed) != 1 || *contents(t, server).Studies[0].Arms[1].Mean != 21 {
		t.Errorf("%+v", s)
	}
}

// A server and three files, random edits, syncs and decisions in any order. A second account of who has seen what, kept
// by sets, says what each sync has to do: what was changed in knowledge of the other takes its place, and what was not
// waits. In the end all hold the same.
func TestSyncProperty(t *testing.T) {
	empty := func() (*Book, error) { return Create(somewhere(t)) }
	if newSchema == nil { // a copy is sooner made
		b := fresh(t)
		b.Close()
		data := must(os.ReadFile(b.path))
		empty = func() (*Book, error) { return Open(put(t, data)) }
	}
	rapid.Check(t, func(rt *rapid.T) {
		const keys = 3
		type event = int
		var books []*Book
		for range 3 {
			b, err := empty()
			if err != nil {
				rt.Fatal(err)
			}
			b.hurry()
			defer b.Close()
			books = append(books, b)
		}
		head := make([][keys]event, len(books)) // 0: never there
		known := map[event]map[event]bool{0: {}}
		lines := make([][keys][]event, len(books))
		texts := map[event]string{}
		n := 0
		become := func(side, key int, text string, from ...event) {
			n++
			known[n], texts[n] = map[event]bool{n: true, 0: true}, text
			for _, f := range append(from, head[side][key]) {
				maps.Copy(known[n], known[f])
			}
			head[side][key] = n
			lines[side][key] = append(lines[side][key], n)
		}
		take := func(from, to, key int) {
			f, after := lines[from][key], lines[from][key]
			if i := slices.Index(f, head[to][key]); i >= 0 {
				after = f[i+1:]
			}
			lines[to][key] = append(lines[to][key], after...)
			head[to][key] = head[from][key]
		}
		// Nobody changes two workbooks in one second: of one history such changes would be one, digest and all.
		at := func(e Edit) Edit {
			n++
			known[n] = map[event]bool{0: true}
			e.At = e.At.Add(time.Duration(n) * time.Second)
			return e
		}
		waiting := map[[2]int]event{}
		have := func(side, key int) string {
			for _, s := range contents(t, books[side]).Past {
				if s.Year == 2000+key {
					return s.Source
				}
			}
			return ""
		}
		sync := func(side int) {
			s, err := books[side].Sync(desk(books[0], "Bo"), syncing("Bo"))
			if err != nil {
				rt.Fatal(err)
			}
			crossed := 0
			for key := range keys {
				o, t := head[side][key], head[0][key]
				at := [2]int{side, key}
				delete(waiting, at)
				apart := !slices.ContainsFunc(lines[0][key],
					func(e event) bool { return slices.Contains(lines[side][key], e) })
				switch {
				case t == 0 && texts[o] == "": // it came and went
				case known[t][o], apart && texts[o] == "":
					maps.Copy(known[t], known[o])
					take(0, side, key)
				case known[o][t], apart && texts[t] == "":
					maps.Copy(known[o], known[t])
					take(side, 0, key)
				case texts[o] == texts[t]: // both removed it
					maps.Copy(known[t], known[o])
					head[side][key] = t
					lines[side][key] = append(lines[side][key], t)
				default:
					waiting[at] = t
					crossed++
				}
			}
			if len(s.Crossed) != crossed || s.Same != (crossed == 0) {
				rt.Fatalf("%d wait, not %d: %+v\n%v beside %v, with %v", len(s.Crossed), crossed, s, lines[side],
					lines[0], known)
			}
		}
		decide := func(side, key int, theirs bool) {
			t := waiting[[2]int{side, key}]
			of := Touched{Past, fmt.Sprint(2000 + key)}
			c, _ := books[side].Contents()
			if _, err := books[side].Decide(at(beside(by("Bo", c.Change))), of, theirs); err != nil {
				rt.Fatal(err)
			}
			delete(waiting, [2]int{side, key})
			if theirs {
				maps.Copy(known[t], known[head[side][key]])
				head[side][key] = t
				lines[side][key] = append(lines[side][key], t)
			} else {
				lines[side][key] = append(lines[side][key], t)
				become(side, key, texts[head[side][key]], t)
			}
		}
		for range rapid.IntRange(1, 24).Draw(rt, "steps") {
			side := rapid.IntRange(0, len(books)-1).Draw(rt, "side")
			key := rapid.IntRange(0, keys-1).Draw(rt, "key")
			c, _ := books[side].Contents()
			e := at(by("Ada", c.Change))
			e.Replace = true
			_, waits := waiting[[2]int{side, key}]
			do := rapid.IntRange(0, 5).Draw(rt, "do")
			switch {
			case do < 2 && !waits:
				text := fmt.Sprint("text ", n)
				if _, err := books[side].Save(e, Keep(season(2000+key, text))); err != nil {
					rt.Fatal(err)
				}
				become(side, key, text)
			case do == 2 && !waits && have(side, key) != "":
				if _, err := books[side].Save(e, Remove(Past, fmt.Sprint(2000+key))); err != nil {
					rt.Fatal(err)
				}
				become(side, key, "")
			case do < 5 && side > 0:
				sync(side)
			case waits:
				decide(side, key, rapid.Bool().Draw(rt, "theirs"))
			}
			for s := range books {
				for k := range keys {
					if got := have(s, k); got != texts[head[s][k]] {
						rt.Fatalf("side %d, key %d: %q, wanted %q", s, k, got, texts[head[s][k]])
					}
				}
			}
		}
		for range 2 {
			for side := 1; side < len(books); side++ {
				sync(side)
				for key := range keys {
					if _, waits := waiting[[2]int{side, key}]; waits {
						decide(side, key, rapid.Bool().Draw(rt, "theirs"))
					}
				}
				sync(side)
			}
		}
		for _, b := range books {
			if a, c := contents(t, books[0]), contents(t, b); a.Sources[0].Digest != c.Sources[0].Digest {
				rt.Fatalf("%v and %v", said(books[0]), said(b))
			}
		}
		if _, err := Check(books[1].path); err != nil {
			rt.Fatal(err)
		}
	})
}

// beside is an edit of one who was shown the other side of what is crossed.
func beside(e Edit) Edit {
	e.Seen.Beside = true
	return e
}

package harvest

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"spile/internal/note"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
	"spile/internal/trade/unit"
)

// FindingKind is what spoils a comparison.
type FindingKind string

const (
	Departs    FindingKind = "departs"    // a unit far from its block on one run
	Gap        FindingKind = "gap"        // a unit not read when its block was
	Backwards  FindingKind = "backwards"  // a counter that shows less than before, without a reset
	Impossible FindingKind = "impossible" // more sap than taps can give
	Twice      FindingKind = "twice"      // one reading that was entered twice, it seems
	Happened   FindingKind = "event"      // something that stops or loses sap
	Vacuum     FindingKind = "vacuum"     // practices under unequal vacuum
	TapsChange FindingKind = "taps"       // taps that changed in mid-season
	OneLine    FindingKind = "mainline"   // one practice's units all on one mainline
)

// Kinds are all of them, in the order in which they are listed, and what each is called.
var Kinds = []struct {
	Kind FindingKind
	Name string
}{
	{Departs, "departs from its block"}, {Gap, "not read"}, {Backwards, "counter went back"}, {Impossible, "cannot be"},
	{Twice, "entered twice"}, {Happened, "something happened"}, {TapsChange, "taps changed"},
	{Vacuum, "unequal vacuum"}, {OneLine, "one mainline"},
}

// Finding is one thing that spoils a comparison, with its evidence and a remedy that is never applied unasked.
type Finding struct {
	Kind      FindingKind
	Block     string
	Units     []string
	Practices []practice.Key
	From, To  time.Time // of the run, where it is of one
	Evidence  note.Note
	Remedy    note.Note
	Exclusion *trial.Exclusion // what the remedy would take out; nil where it is of another kind
}

// ID names a finding within its season, the same as long as the finding is the same.
func (f Finding) ID() string {
	parts := []string{string(f.Kind), f.Block, strings.Join(f.Units, "+")}
	for _, p := range f.Practices {
		parts = append(parts, string(p))
	}
	if !f.To.IsZero() {
		parts = append(parts, f.To.UTC().Format("2006-01-02T15:04"))
	}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), "/")
}

// Limits of what is found.
const (
	far       = 3.5  // robust z beyond which a reading departs (Iglewicz & Hoaglin 1993)
	perDay    = 20.0 // litres a tap and day, some two to three times the best day's (common practice, no source)
	unequal   = 1.0  // inHg between practices
	biasAnInH = 5.0  // percent of sap for each inHg (common practice, no source)
)

// findings lists what spoils the comparison, in the order of the kinds.
func (s season) findings(t *Total) []Finding {
	var out []Finding
	rounds := s.rounds(func(p trial.Plot) string { return p.Block })
	out = append(out, s.departures(t, rounds)...)
	out = append(out, s.gaps(t, rounds)...)
	out = append(out, s.counters(t, rounds)...)
	out = append(out, s.twice()...)
	out = append(out, s.happened(t, rounds)...)
	out = append(out, s.tapChanges()...)
	out = append(out, Unequal(t.Rows)...)
	return append(out, s.lines()...)
}

func (s season) plot(u string) trial.Plot {
	return s.Plots[slices.IndexFunc(s.Plots, func(p trial.Plot) bool { return p.Unit == u })]
}

// wholeBlock is the remedy for a bad run: the exclusion holds the runs of all units of the block between the same
// rounds. Where another unit was passed over in one of these, its run reaches beyond them, and the exclusion with it.
func (s season) wholeBlock(t *Total, x rounds, block string, r Run) (note.Note, *trial.Exclusion) {
	from, to := x.span(block, r)
	for moved := true; moved; {
		moved = false
		for _, run := range t.Runs {
			if run.aside || s.plot(run.Unit).Block != block {
				continue
			}
			if a, b := x.span(block, run); a.Before(to) && b.After(from) && (a.Before(from) || b.After(to)) {
				moved = true
				if a.Before(from) {
					from = a
				}
				if b.After(to) {
					to = b
				}
			}
		}
	}
	return note.New("take this run out for the whole block %s, not for the unit alone: the units left in would keep "+
			"sap that it could not gather", block),
		&trial.Exclusion{Block: block, From: from, To: to}
}

// gaps are units that were not read when others of their block were, and counters whose first count came when others
// had given sap already: what they count began later.
func (s season) gaps(t *Total, rounds rounds) []Finding {
	of := map[string][]*round{} // rounds of each block that runs ended in
	first := map[string]Run{}   // of each unit: from its first count where counts are read
	known := map[*round]bool{}
	for _, r := range t.Runs {
		if r.aside {
			continue
		}
		b, at := s.plot(r.Unit).Block, rounds.of[instant{r.Unit, r.To.Unix()}]
		if !known[at] {
			known[at] = true
			of[b] = append(of[b], at)
		}
		if _, have := first[r.Unit]; !have {
			first[r.Unit] = r
		}
	}
	var out []Finding
	for _, p := range s.Plots {
		start := first[p.Unit].From
		slices.SortFunc(of[p.Block], func(a, b *round) int { return a.first.Compare(b.first) })
		for _, at := range of[p.Block] {
			if !at.units[p.Unit] && at.last.After(start) {
				out = append(out, Finding{Kind: Gap, Block: p.Block, Units: []string{p.Unit}, To: at.first,
					Evidence: note.New("unit %s was not read on %s, when others of its block were", p.Unit,
						note.Day(at.first)),
					Remedy: note.New("where its sap was still gathered, its next reading holds it and nothing is " +
						"lost; where it ran over, enter an overflow")})
			}
		}
		if start.IsZero() {
			continue
		}
		missed := Run{Unit: p.Unit, To: start}
		if _, to := rounds.span(p.Block, missed); !slices.ContainsFunc(of[p.Block],
			func(at *round) bool { return !at.last.After(to) }) {
			continue
		}
		f := Finding{Kind: Gap, Block: p.Block, Units: []string{p.Unit}, To: start,
			Evidence: note.New("the first count of unit %s is of %s, when others of its block had given sap already: "+
				"what it gave before is not counted", p.Unit, note.Day(start))}
		f.Remedy, f.Exclusion = s.wholeBlock(t, rounds, p.Block, missed)
		out = append(out, f)
	}
	return out
}

// counters are those that went backwards, and sums that cannot be.
func (s season) counters(t *Total, rounds rounds) []Finding {
	var out []Finding
	for _, r := range t.Runs {
		p := s.plot(r.Unit)
		add := func(kind FindingKind, evidence note.Note) {
			f := Finding{Kind: kind, Block: p.Block, Units: []string{r.Unit}, From: r.From, To: r.To,
				Evidence: evidence}
			f.Remedy, f.Exclusion = s.wholeBlock(t, rounds, p.Block, r)
			out = append(out, f)
		}
		if r.backwards {
			add(Backwards,
				note.New("the counter of unit %s shows less on %s than at the reading before, and no reset is "+
					"written down: its run counts as nothing", r.Unit, note.Day(r.To)))
		}
		if r.From.IsZero() || r.Out {
			continue
		}
		days := max(1, r.To.Sub(r.From).Hours()/24)
		if most := float64(r.Volume) / float64(s.taps(p)) / days; most > perDay {
			add(Impossible,
				note.New("unit %s gave %.0f litres a tap and day on the run to %s; more than %.0f cannot be", r.Unit,
					most, note.Day(r.To), perDay))
		}
	}
	return out
}

// twice are units that have the same sap twice on one day, once with a time and once without: one reading, most likely,
// that was entered on a phone and from the sheet.
func (s season) twice() []Finding {
	bare := map[instant]trial.Reading{}
	for _, r := range s.Readings {
		if trial.DayOnly(r.At) {
			bare[instant{r.Unit, r.At.Unix()}] = r
		}
	}
	same := func(a, b trial.Reading) bool {
		return a.Volume != nil && b.Volume != nil && *a.Volume == *b.Volume && *a.Volume > 0 || a.Depth != nil &&
			b.Depth != nil && *a.Depth == *b.Depth && *a.Depth > 0
	}
	again := map[string][]time.Time{} // of each unit
	for _, r := range s.Readings {
		if b, ok := bare[instant{r.Unit, r.At.Truncate(24 * time.Hour).Unix()}]; ok && !trial.DayOnly(r.At) &&
			same(r, b) {
			again[r.Unit] = append(again[r.Unit], r.At)
		}
	}
	var out []Finding
	for _, p := range s.Plots {
		for _, at := range slices.SortedFunc(slices.Values(again[p.Unit]), time.Time.Compare) {
			out = append(out, Finding{Kind: Twice, Block: p.Block, Units: []string{p.Unit}, To: at,
				Evidence: note.New("unit %s has the same sap twice on %s, at %s and without a time", p.Unit,
					note.Day(at), at.Format("15:04")),
				Remedy: note.New("where it was read once, take one of the two readings away")})
		}
	}
	return out
}

// happened are events that stop or lose sap on some units of a block and not on others.
func (s season) happened(t *Total, rounds rounds) []Finding {
	var out []Finding
	for _, e := range s.Events {
		if slices.Contains([]trial.EventKind{trial.CounterReset, trial.Overflow, trial.Retapped}, e.Kind) {
			continue // 'at least', or a matter of taps
		}
		hit := map[*round]bool{}
		for _, r := range t.Runs {
			if !r.Out && !r.aside && touches(e, r) {
				p := s.plot(r.Unit)
				if key := rounds.of[instant{r.Unit, r.To.Unix()}]; !hit[key] {
					hit[key] = true
					f := Finding{Kind: Happened, Block: p.Block, Units: e.Units, From: r.From, To: r.To,
						Evidence: note.New("%s from %s to %s touches the run to %s", note.Term(e.Kind),
							note.Day(e.From), note.Day(e.To), note.Day(r.To))}
					f.Remedy, f.Exclusion = s.wholeBlock(t, rounds, p.Block, r)
					out = append(out, f)
				}
			}
		}
	}
	return out
}

// tapChanges are units whose counts differ.
func (s season) tapChanges() []Finding {
	var out []Finding
	for _, p := range s.Plots {
		counts := s.counts(p.Unit)
		for i, c := range counts {
			if i == 0 || c.Taps-c.Again == counts[0].Taps-counts[0].Again {
				continue
			}
			out = append(out, Finding{Kind: TapsChange, Block: p.Block, Units: []string{p.Unit}, From: counts[0].At,
				To: c.At,
				Evidence: note.New("unit %s had %d taps on %s and %d on %s", p.Unit, counts[0].Taps-counts[0].Again,
					note.Day(counts[0].At), c.Taps-c.Again, note.Day(c.At)),
				Remedy: note.New("find out when; its yield stands per tap of the first count until a count is " +
					"corrected")})
			break
		}
	}
	return out
}

// Unequal finds practices whose mean vacuum differs by more than 1 inHg from the practice with the least, with the
// bias that this implies.
func Unequal(rows []trial.UnitSeason) []Finding {
	type mean struct {
		k      practice.Key
		sum, n float64
	}
	var means []mean
	for _, r := range rows {
		if r.Vacuum == nil {
			continue
		}
		i := slices.IndexFunc(means, func(m mean) bool { return m.k == r.Practice })
		if i < 0 {
			i = len(means)
			means = append(means, mean{k: r.Practice})
		}
		means[i].sum += r.Vacuum.In(unit.InchOfMercury)
		means[i].n++
	}
	if len(means) < 2 {
		return nil
	}
	at := func(m mean) float64 { return m.sum / m.n }
	low := slices.MinFunc(means, func(a, b mean) int { return cmp.Compare(at(a), at(b)) })
	var out []Finding
	for _, m := range means {
		if d := at(m) - at(low); d > unequal {
			out = append(out, Finding{Kind: Vacuum, Practices: []practice.Key{m.k, low.k},
				Evidence: note.New("%s ran under %.1f inHg and %s under %.1f: at about %v an inHg that alone is some "+
					"%v more sap",
					note.Term(m.k), at(m), note.Term(low.k), at(low), note.Percent(biasAnInH),
					note.Percent(biasAnInH*d)),
				Remedy: note.New("adjust the analysis for vacuum, or read the gain with this in mind")})
		}
	}
	return out
}

// lines are practices whose units all hang on one mainline that not all units hang on.
func (s season) lines() []Finding {
	of, all := map[practice.Key][]string{}, []string{}
	var order []practice.Key
	units := map[practice.Key]int{}
	for _, p := range s.Plots {
		if p.Mainline == "" {
			continue
		}
		if of[p.Practice] == nil {
			order = append(order, p.Practice)
		}
		units[p.Practice]++
		if !slices.Contains(of[p.Practice], p.Mainline) {
			of[p.Practice] = append(of[p.Practice], p.Mainline)
		}
		if !slices.Contains(all, p.Mainline) {
			all = append(all, p.Mainline)
		}
	}
	var out []Finding
	for _, k := range order {
		if len(of[k]) == 1 && len(all) > 1 && units[k] > 1 {
			out = append(out, Finding{Kind: OneLine, Practices: []practice.Key{k},
				Evidence: note.New("all %d units of %s are on the mainline %s: what the practice does cannot be told "+
					"from what that mainline does", units[k], note.Term(k), of[k][0]),
				Remedy: note.New("nothing mends this afterwards; say it beside the result, and spread practices " +
					"over mainlines next time")})
		}
	}
	return out
}

package show

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"spile/internal/engine/advice"
	"spile/internal/trade/input"
	"spile/internal/trade/practice"
	"spile/internal/view/figure"
)

// Slide is one slide of a talk: its finding as the title, then a picture, a table or points; and what the speaker has
// to hand: numbers, sources, caveats.
type Slide struct {
	Title   string
	Points  []string
	Figure  *Drawn
	Table   *Table
	Notes   []string
	Opening bool
}

// points is how many points a slide holds, broken the lines that they may fill together, across how many letters a line
// holds in the wider of the faces that a program may set it in, lines how many rows of a table, in type of 24 points.
const (
	points = 6
	broken = 12
	across = 58
	lines  = 4
)

// Talk is the answer as a talk, in the order that builds the argument: what was asked and compared, every study, pooled
// gains, ageing and rotation, money, how sure, what caveats do, what is permitted, what is not known, the cautions, and
// what to do. by is who gives it, and where; tried is what is assumed otherwise than the files say.
func (w *View) Talk(by string, day string, tried []string) []Slide {
	v := w.V
	list := []Slide{{Opening: true, Title: v.Text("What should be done about tap holes and drops, and does it pay?"),
		Points: slices.DeleteFunc([]string{w.wherePriced(), by, day}, func(s string) bool { return s == "" })}}
	say := func(title string, points []string, notes ...string) {
		for i, part := range parted(points) {
			x := Slide{Title: title, Points: part, Notes: notes}
			if i > 0 {
				x.Title, x.Notes = v.Text("%s, continued", title), nil
			}
			list = append(list, x)
		}
	}
	say(w.inShort())
	say(v.Text("Trials asked: how much more sap does clean plastic give?"), w.asked(), w.sources()...)
	if len(tried) > 0 {
		say(v.Text("Tried, and not as the files stand"), tried)
	}
	list = append(list, w.slidesAt("evidence")...)
	list = append(list, w.slidesAt("money")...)
	say(w.permittedHere())
	say(v.Text("What we do not know"), append(w.Open(), w.invented()...), texts(Warn(v, w.A.Notes, 2))...)
	list = append(list, w.slidesAt("unknown")...)
	list = append(list, w.cautionSlide())
	if r := w.Recommendation(); len(r) > 0 {
		title := v.Text("What to do")
		if deed := w.Deed(); deed != "" {
			title = heard(v.Text("What to do: %s", deed), title)
		}
		say(title, append(w.deeds(r[0]),
			v.Text("This report informs; it does not permit. The label is the law.")), r...)
	}
	for i, s := range list {
		if len(s.Notes) > 0 { // the sentence first, then what it rests on
			list[i].Notes = slices.Insert(slices.Clone(s.Notes), 0, ended(s.Title))
		}
	}
	return list
}

// titled is how many words the title of a slide has at most; a number with its unit is one.
const titled = 12

// heard is the first of some ways to say a title that is short enough, else the last.
func heard(ways ...string) string {
	for _, way := range ways[:len(ways)-1] {
		n := 0
		for word := range strings.SplitSeq(way, " ") {
			if strings.ContainsFunc(word, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }) {
				n++
			}
		}
		if n <= titled {
			return way
		}
	}
	return ways[len(ways)-1]
}

// finding is a title that names an option, or only says that it is the one in front where its name is long.
func (w *View) finding(name string, say func(name string) string) string {
	return heard(say(capital(name)), say(capital(w.V.Text("the practice in front"))))
}

// ended is a title as a sentence.
func ended(title string) string {
	if strings.HasSuffix(title, "?") {
		return title
	}
	return title + "."
}

// inShort is the answer for who hears nothing else: what to do, what it brings, how surely, and by how much sap.
func (w *View) inShort() (title string, points []string) {
	v, deed := w.V, w.Deed()
	o, ok := w.A.Best()
	if !ok || deed == "" {
		return "", nil
	}
	net, than := o.Today, v.Text("a tap and season over today's practice")
	if o.IsToday || w.A.Untold.Practice != "" {
		net, than = o.Unsanitized, v.Text("a tap and season over unsanitized")
	}
	money := w.currency()
	if o.Practice != practice.Unsanitized {
		points = append(points, fmt.Sprintf("%s (%s) %s.", v.Money(net.Average(), money),
			v.MoneyRange(net.NetLow, net.NetHigh, money), than))
	}
	if likely := w.likely(o); likely != "" {
		points = append(points, capital(likely)+".")
	}
	if o.Practice != practice.Unsanitized {
		points = append(points, w.moreSap(o))
	}
	return heard(v.Text("In short: %s", deed), v.Text("In short")), points
}

// deeds are the sentences of the recommendation that say what to do; its numbers were told at the beginning.
func (w *View) deeds(first string) []string {
	list := sentences(first)
	if _, told := w.inShort(); told == nil {
		return list
	}
	number := func(s string) bool { return strings.ContainsFunc(s, unicode.IsDigit) && strings.Contains(s, "%") }
	return slices.DeleteFunc(list, number)
}

// invented is what a hall must be told of the input: that it is invented. Who speaks has every warning in the notes.
func (w *View) invented() (list []string) {
	for _, n := range w.A.Notes {
		if input.SaysInvented(n) {
			list = append(list, capital(w.V.Note(n))+".")
		}
	}
	return list
}

// sentences are those of a text: a full stop, a space and a capital part them.
func sentences(text string) []string {
	return strings.Split(stop.ReplaceAllString(text, ".\n$1"), "\n")
}

var stop = regexp.MustCompile(`\. (\p{Lu})`)

// parted are points by slides, none of which stands alone after fuller ones.
func parted(list []string) (parts [][]string) {
	filled := func(part []string) (n int) {
		for _, x := range part {
			n += (utf8.RuneCountInString(x) + across - 1) / across
		}
		return n
	}
	for _, x := range list {
		last := len(parts) - 1
		if last >= 0 && len(parts[last]) < points && filled(parts[last])+filled([]string{x}) <= broken {
			parts[last] = append(parts[last], x)
		} else {
			parts = append(parts, []string{x})
		}
	}
	if last := len(parts) - 1; last > 0 && len(parts[last]) == 1 && len(parts[last-1]) > 2 {
		whole := slices.Concat(parts[last-1], parts[last])
		half := (len(whole) + 1) / 2
		if filled(whole[half:]) <= broken {
			parts[last-1], parts[last] = whole[:half], whole[half:]
		}
	}
	return parts
}

// slidesAt are the figures and tables of a part of the talk, each with its finding.
func (w *View) slidesAt(in string) []Slide {
	var list []Slide
	for _, x := range Figures {
		if !x.Stands(Talk, in) {
			continue
		}
		says := said(x, w)
		for i, d := range drawn(x, w, Talk) {
			title := says(i)
			if title == "" {
				title = d.Draw(figure.Slide).Heading()
			}
			list = append(list, Slide{Title: title, Figure: &d, Notes: w.beside(x.Key)})
		}
	}
	for _, x := range Tables {
		spot, here := x.spot(Talk, in)
		if !here {
			continue
		}
		says := said(x, w)
		for i, t := range filled(x, w, Talk, spot) {
			title := says(i)
			if title == "" {
				title = t.Title
			}
			for n, part := range slices.Collect(slices.Chunk(t.Rows, lines)) {
				piece := t
				piece.Rows = part
				if n > 0 {
					title = w.V.Text("%s, continued", list[len(list)-n].Title)
				}
				list = append(list, Slide{Title: title, Table: &piece, Notes: noted(t)})
			}
		}
	}
	return list
}

// said gives the finding of each slide of an exhibit; "" where it says none.
func said[T any](x Exhibit[T], w *View) func(i int) string {
	if x.Says == nil || !x.Needs.met(w) {
		return func(int) string { return "" }
	}
	list := x.Says(w)
	return func(i int) string {
		if i < len(list) {
			return list[i]
		}
		return ""
	}
}

// beside is what the table beside a figure says, row by row, for the speaker.
func (w *View) beside(key string) []string {
	var out []string
	for _, x := range Tables {
		near := func(s Spot) bool { return s.Beside == key && (s.Medium == Page || s.Medium == Report) }
		if !slices.ContainsFunc(x.At, near) || x.Each != nil || !x.Needs.met(w) {
			continue
		}
		t := x.Build(w)
		best := func(r Row) bool { return r.Best } // what the talk is about comes first
		if i := slices.IndexFunc(t.Rows, best); i > 0 {
			t.Rows = slices.Insert(slices.Delete(slices.Clone(t.Rows), i, i+1), 0, t.Rows[i])
		}
		for _, r := range t.Rows {
			var cells []string
			for i, c := range r.Cells {
				if c.Text != "" && i < len(t.Columns) {
					cells = append(cells, t.Columns[i].Head()+": "+c.Text)
				}
			}
			out = append(out, strings.Join(cells, "; "))
		}
		out = append(out, noted(t)...)
		break
	}
	return out
}

func noted(t Table) []string {
	var list []string
	for _, n := range t.Notes {
		list = append(list, n.Text)
	}
	return list
}

// wherePriced is the place and the day that the prices are of.
func (w *View) wherePriced() string {
	if p := w.A.Input.Prices; p != nil && p.Place != "" {
		return w.V.Place(p.Place)
	}
	return ""
}

// asked is what was compared with what, and on what the answer rests.
func (w *View) asked() []string {
	v, a := w.V, w.A
	if a.Pool == nil {
		return nil
	}
	var names []string
	for _, g := range a.Pool.Gains {
		if g.Treatment.DropAge == 0 {
			names = append(names, w.Practice(g.Treatment.Practice))
		}
	}
	seasons := []int{}
	for _, s := range a.Effects.Studies {
		seasons = append(seasons, s.AllSeasons()...)
	}
	out := []string{
		v.Text("Compared: %s.", v.List(names)),
		v.Text("Each beside reused, unwashed spouts and tubing, in the same season at the same site."),
		v.Text("%s (%s) at %s, %s, in one joint model.", v.Text("%d studies", a.Pool.Studies),
			v.Text("%d comparisons", a.Pool.Rows), v.Text("%d sites", a.Pool.Sites),
			v.Seasons(slices.Min(seasons), slices.Max(seasons))),
	}
	if a.Input.Prices != nil {
		out = append(out, v.Text("Today's practice: %s.", w.Today()))
	}
	return out
}

// sources are the studies with their sources and caveats.
func (w *View) sources() []string {
	var list []string
	for _, s := range w.A.Input.Studies {
		parts := []string{s.Name}
		if s.Source != "" {
			parts = append(parts, s.Source)
		}
		for _, c := range w.A.Caveats[s.Name] {
			parts = append(parts, w.V.Text("%s", c.Said()))
		}
		list = append(list, strings.Join(parts, "; "))
	}
	return list
}

// permittedHere is what the rules of the place say of each practice, those that are held back for one reason together.
func (w *View) permittedHere() (title string, points []string) {
	v := w.V
	var yes, reasons, out []string
	no := 0
	held := map[string][]string{}
	seen := map[practice.Key]bool{}
	for _, o := range w.A.Ranking {
		if o.With != "" || seen[o.Practice] {
			continue
		}
		seen[o.Practice] = true
		if o.Verdict == practice.Permitted {
			yes = append(yes, w.Practice(o.Practice))
			continue
		}
		no++
		if len(o.Reasons) > 0 {
			why := v.Note(o.Reasons[0])
			if held[why] == nil {
				reasons = append(reasons, why)
			}
			held[why] = append(held[why], w.Practice(o.Practice))
		}
	}
	if yes != nil {
		out = append(out, v.Text("Permitted: %s.", v.List(yes)))
	}
	for _, why := range reasons {
		out = append(out, v.Text("Not for now, %s: %s.", v.List(held[why]), why))
	}
	if no == 0 {
		return v.Text("Nothing that was compared is held back here"), out
	}
	return v.Text("Held back here: %d of %d practices", no, len(seen)), out
}

// cautionSlide is the cautions that concern most practices, on one slide; the rest stands on the handout.
func (w *View) cautionSlide() Slide {
	v := w.V
	s := Slide{Title: v.Text("Cautions")}
	if slices.ContainsFunc(w.A.Ranking, func(o advice.Option) bool {
		p, known := w.A.Input.Practices.Find(o.Practice)
		return known && p.Chemical()
	}) {
		s.Title = v.Text("Chemicals and valves: the label is the law")
	}
	for _, r := range shared(w.Cautions()).Rows {
		s.Points = append(s.Points, capital(r.Cells[1].Text)+".")
		s.Notes = append(s.Notes, r.Cells[0].Text+": "+r.Cells[1].Text)
	}
	short := parted(s.Points)
	if len(short) > 1 {
		s.Points = append(short[0][:max(1, len(short[0])-1)],
			v.Text("All %d cautions stand on the handout and in the report.", len(s.Points)))
	}
	return s
}

// Open is what the evidence leaves open.
func (w *View) Open() []string {
	v, a := w.V, w.A
	var list []string
	if a.Pool == nil {
		return nil
	}
	if o, ok := w.A.Best(); ok {
		for _, g := range a.Pool.Gains {
			if g.Treatment.Practice == o.Practice && g.Treatment.DropAge == 0 {
				list = append(list, v.Text("One new season at a new site: the gain of %s is %s, 95 times in 100.",
					w.Treatment(g.Treatment), v.PercentRange(g.SeasonLowPct, g.SeasonHighPct)))
			}
		}
	}
	if a.Pool.Ageing.Estimable {
		list = append(list, v.Text("No drop beyond its season %d in use was studied.", a.Pool.Ageing.Oldest+1))
	}
	var pairs []string
	for _, i := range w.Choices() {
		if o := a.Ranking[i]; o.With != "" {
			pairs = append(pairs, w.Option(o))
		}
	}
	if len(pairs) > 0 {
		list = append(list, v.Text("No study holds %s.", v.List(pairs)))
	}
	for _, k := range a.Pool.NotEstimable {
		list = append(list, v.Text("No chain of studies links %s to unsanitized.", w.Practice(k)))
	}
	return list
}

// leading is the practice that the talk is about: the one recommended, else that with the largest gain.
func (w *View) leading() (k practice.Key, pct float64) {
	if w.A.Pool == nil {
		return "", 0
	}
	o, have := w.A.Best()
	for _, g := range w.A.Pool.Gains {
		if g.Treatment.DropAge == 0 && (have && g.Treatment.Practice == o.Practice || !have && g.Pct > pct) {
			k, pct = g.Treatment.Practice, g.Pct
		}
	}
	return k, pct
}

func (w *View) barsSay() []string {
	k, pct := w.leading()
	if k == "" || pct <= 0 {
		return []string{w.V.Text("What each study found")}
	}
	return []string{w.finding(w.Practice(k), func(name string) string {
		if g, ok := w.gain(k); ok && g.LowPct <= 0 {
			return w.V.Text("%s gave %s more sap, which is not settled", name, w.V.Percent(pct))
		}
		return w.V.Text("%s gave %s more sap", name, w.V.Percent(pct))
	})}
}

// pooledSays is how much of the leading gain the new spout alone explains.
func (w *View) pooledSays() []string {
	k, _ := w.leading()
	for _, s := range w.A.Pool.Shares {
		if s.Of == k && s.Practice == practice.NewSpout && s.Share != nil && *s.Share > 0 && *s.Share < 1 {
			return []string{w.V.Text("A new spout alone gives %s of that gain", w.V.Percent(100**s.Share))}
		}
	}
	surely := 0
	for _, g := range w.A.Pool.Gains {
		if g.LowPct > 0 {
			surely++
		}
	}
	return []string{w.V.Text("Surely above zero: %d of %d gains", surely, len(w.A.Pool.Gains))}
}

func (w *View) ageingSays() []string {
	v := w.V
	fades := v.Text("New drops lose their gain season by season")
	if !w.A.Pool.Ageing.Estimable || w.A.Pool.Ageing.Rises() {
		fades = v.Text("How drops age, the studies do not tell")
	}
	if w.A.Rotation.Best == 0 {
		return []string{fades}
	}
	pays := v.Text("Of rotations, every %d seasons pays best", w.A.Rotation.Best)
	if w.A.Rotation.Longest() == 1 {
		pays = v.Text("Of rotations, only every season was studied")
	}
	if f, ok := w.ageingKnown().(figure.Ageing); ok && !f.Gain.Drawn() {
		return []string{pays}
	}
	return []string{fades, pays}
}

func (w *View) netsSay() []string {
	v, money := w.V, w.currency()
	o, ok := w.A.Best()
	if !ok {
		return []string{v.Text("Against doing nothing"), v.Text("Against today's practice")}
	}
	against := w.finding(w.Option(o), func(name string) string {
		return v.Text("%s nets %s a tap over reused spouts", name, v.Money(o.Unsanitized.Average(), money))
	})
	if o.IsToday {
		return []string{against, v.Text("Nothing nets more than today's practice")}
	}
	return []string{against, w.finding(w.Option(o), func(name string) string {
		return v.Text("%s nets %s a tap more than today", name, v.Money(o.Today.Average(), money))
	})}
}

func (w *View) outlooksSay() []string {
	v := w.V
	o, ok := w.A.Best()
	p := w.A.Weighed.Prospect
	if !ok || p == nil || p.Best < 0 || p.Best >= len(p.Summary.Rows) {
		return []string{v.Text("Over the long run"), v.Text("In one single season")}
	}
	r := p.Summary.Rows[p.Best]
	first := w.finding(w.Option(o), func(name string) string {
		return v.Text("%s comes first %s times of 100", name, v.Decimal(100*r.Long.Best, 0))
	})
	if o.IsToday { // which neither gains nor loses against itself
		return []string{first,
			v.Text("In one season it comes first %s times of 100", v.Decimal(100*r.Season.Best, 0))}
	}
	loses := v.Money(max(0, -r.Season.Poor), w.currency()) // as in the table of a poor, a usual and a good season
	poor := v.Text("One spring in ten loses %s a tap or more against today", loses)
	if loses == v.Money(0, w.currency()) {
		poor = v.Text("Even a poor spring loses nothing against today")
	}
	return []string{first, poor}
}

func (w *View) paybackSays() []string {
	o, ok := w.A.Best()
	if !ok || o.Way == nil || o.IsToday || o.Way.Payback == 0 {
		return nil
	}
	return []string{w.V.Text("%s is paid back in season %d", capital(w.Option(o)), o.Way.Payback)}
}

func (w *View) scenariosSay() []string {
	t := w.Scenarios()
	if n := len(w.changing(t)); n > 0 {
		return []string{w.V.Text("The advice changes in %d of %d states of the world", n, len(t.Rows))}
	}
	return []string{w.V.Text("The advice holds in all %d states of the world", len(t.Rows))}
}

func (w *View) caveatsSay() []string {
	o, ok := w.A.Best()
	if !ok {
		return nil
	}
	n, other := 0, 0
	for _, c := range w.A.CaveatEffects {
		n++
		if c.Best != "" && c.Best != o.ID() {
			other++
		}
	}
	switch {
	case n == 1 && other == 1:
		return []string{w.V.Text("Leaving out the one caveat changes the answer")}
	case other == 0:
		return []string{w.V.Text("No caveat changes what comes first")}
	}
	return []string{w.V.Text("Leaving out %d of %d caveats changes the answer", other, n)}
}

func (w *View) mapSays() []string {
	best, _ := w.A.Best()
	if c := w.A.Weighed.Contest; c != nil {
		options := w.A.Weighed.Prospect.Model.Options
		for _, row := range c.Winner {
			if slices.ContainsFunc(row, func(k int) bool { return options[k].Choice.Practice != best.Practice }) {
				return []string{w.V.Text("With other assumptions another practice comes first")}
			}
		}
	}
	return []string{w.V.Text("With other assumptions the same practice comes first")}
}

func (w *View) sizesSay() []string {
	if n := w.A.Weighed.Next; n != nil && len(n.Ranked) > 0 && n.Ranked[0].Net > 0 {
		if t := n.Ranked[0].Trial; t.Sites > 1 {
			return []string{w.V.Text("A trial at %s is worth more than it costs", w.V.Text("%d new sites", t.Sites))}
		}
		return []string{w.V.Text("A trial of %s is worth more than it costs",
			w.V.Text("%d blocks", n.Ranked[0].Trial.Blocks))}
	}
	return []string{w.V.Text("No trial is worth what it costs")}
}

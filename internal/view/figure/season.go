package figure

import (
	"cmp"
	"slices"

	"gonum.org/v1/plot/vg"
)

// Season is a season of a trial, run by run: what each practice had gathered a tap by each day, what happened, and
// beneath it the weather of the same days.
type Season struct {
	Words
	Y       string // "sap a tap so far, gal"
	Curves  []SeasonCurve
	Ticks   []DayTick // ascending
	Events  []SeasonEvent
	Weather *Weather // nil where it is not known
	Key     SeasonKey
}

// SeasonKey words the parts of the key; an empty one is left out.
type SeasonKey struct {
	Mean       string // "mean of the units and its 95 % band"
	Reference  string // "unsanitized, the reference"
	Event      string // "something that stops or loses sap"
	Out        string // "run taken out"
	Day        string // "lowest to highest of a day"
	FreezeThaw string // "freeze-thaw day"
	Freezing   string // "freezing"
	End        string // on a slide: "95 % at the season's end"
}

// SeasonCurve is one practice.
type SeasonCurve struct {
	Name      string
	Value     string // the season's sum in words: "17.2 gal (15.9 to 18.5)"
	Reference bool   // drawn behind every other, too
	Points    []SeasonPoint
}

// SeasonPoint is what was gathered by a day; equal ends where there is no interval.
type SeasonPoint struct {
	Day   float64 // days from any first day
	Mean  float64
	Range Range // 95 %
}

// DayTick is a day that is named under the axis: "15 Mar". The names of months' first days stand where there is no room
// for all.
type DayTick struct {
	Day   float64
	Name  string
	First bool // of a month
}

// SeasonEvent is what happened between two days, both in.
type SeasonEvent struct {
	From, To float64
	Curves   []int // practices that it touched
	Mark     int   // its footnote, from 1 into Notes; 0 for none
	Out      bool  // a run that is taken out
}

// Weather is the days of the season.
type Weather struct {
	Y      string  // "temperature, °C"
	Said   string  // "a usual season: 34 freeze-thaw days; ended hot"
	Freeze float64 // the freezing level on its axis
	Days   []WeatherDay
}

// WeatherDay is one day's lowest and highest temperature.
type WeatherDay struct {
	Day, Low, High float64
	FreezeThaw     bool
}

// Draw lays the figure out: on a page and a phone a plot a practice with its band, below each other; on a slide one
// plot for all, with the intervals at the season's end.
func (f Season) Draw(size Size) *Sheet {
	b := newBoard(size, f.Words)
	l := f.layout()
	if size == Slide {
		f.together(b, l)
	} else {
		f.apart(b, l)
	}
	return b.done()
}

// seasonLayout is the axes that all parts of the figure share.
type seasonLayout struct {
	first, last float64 // days
	high        float64 // sap
	cold, warm  float64 // weather
}

func (f Season) layout() seasonLayout {
	var l seasonLayout
	any := false
	day := func(d float64) {
		d = finite(d)
		if !any {
			l.first, l.last, any = d, d, true
		}
		l.first, l.last = min(l.first, d), max(l.last, d)
	}
	for _, c := range f.Curves {
		for _, p := range c.Points {
			day(p.Day)
			l.high = max(l.high, finite(p.Mean), finite(p.Range.High))
		}
	}
	if w := f.Weather; w != nil {
		l.cold, l.warm = finite(w.Freeze), finite(w.Freeze)
		for _, d := range w.Days {
			day(d.Day)
			l.cold, l.warm = min(l.cold, finite(d.Low)), max(l.warm, finite(d.High))
		}
		pad := (l.warm - l.cold) * 0.04
		l.cold, l.warm = l.cold-pad, l.warm+pad
		if l.warm == l.cold {
			l.warm++
		}
	}
	if l.last-l.first < 1 {
		l.last = l.first + 1
	}
	l.high *= 1.05
	if l.high <= 0 {
		l.high = 1
	}
	return l
}

// numbersWidth is the column that the numbers of an upright axis so high need.
func (b *board) numbersWidth(low, high float64, tall vg.Length) vg.Length {
	ticks, decimals := b.ticksY(scale{low, high, tall, 0}, 1.6)
	return b.widthOf(ticks, decimals)
}

// widthOf is the width of the widest of some numbers.
func (b *board) widthOf(numbers []float64, decimals int) (w vg.Length) {
	for _, v := range numbers {
		w = max(w, b.small.of(b.Number(v, decimals)))
	}
	return w
}

// ticksY are the ticks of an upright scale, so many lines apart.
func (b *board) ticksY(y scale, lines vg.Length) ([]float64, int) {
	return y.ticks(max(1, int((y.from-y.to)/(b.small.lead()*lines))))
}

// numbersY writes the numbers of an upright axis left of a plot from x.from to x.to, and gives its grid.
func (b *board) numbersY(x, y scale, ticks []float64, decimals int) (grid vg.Path) {
	for _, v := range ticks {
		h := y.at(v)
		base := min(max(h+b.small.size*0.34, y.to+b.small.size*0.75), y.from)
		b.right(b.small, faint, x.from-b.small.size*0.5, base, b.Number(v, decimals))
		grid = append(grid, trace(at(x.from, h), at(x.to, h))...)
	}
	return grid
}

// upright is the upright axis of a plot.
func (b *board) upright(x, y scale) {
	ticks, decimals := b.ticksY(y, 1.6)
	b.stroke(rule, 1, nil, b.numbersY(x, y, ticks, decimals))
}

// named are the day ticks within an axis whose names have room: all of them, else the first days of months, else as
// many of these as stand clear.
func (b *board) named(ticks []DayTick, x scale) []DayTick {
	width := func(t DayTick) vg.Length { return b.small.of(t.Name) }
	var all, months []DayTick
	for _, t := range ticks {
		if !x.holds(t.Day) || x.at(t.Day)-width(t)/2 < b.left || x.at(t.Day)+width(t)/2 > b.edge {
			continue
		}
		all = append(all, t)
		if t.First {
			months = append(months, t)
		}
	}
	clear := func(list []DayTick) []DayTick {
		var kept []DayTick
		end := vg.Length(-1e6)
		for _, t := range list {
			if at := x.at(t.Day); at-width(t)/2 >= end+b.small.size*0.6 {
				kept, end = append(kept, t), at+width(t)/2
			}
		}
		return kept
	}
	if kept := clear(all); len(kept) == len(all) || len(months) == 0 {
		return kept
	}
	return clear(months)
}

// days writes the names of days under a plot that ends at a height; tall is what they take.
func (b *board) days(ticks []DayTick, x scale, bottom vg.Length) {
	for _, t := range b.named(ticks, x) {
		h := x.at(t.Day)
		b.down(faint, 1, nil, h, bottom, bottom+b.small.size*0.25)
		b.centre(b.small, faint, h, bottom+b.small.rise()+2, t.Name)
	}
}

// daysGrid is an upright hair at every day that is named.
func (b *board) daysGrid(ticks []DayTick, x, y scale) {
	var p vg.Path
	for _, t := range b.named(ticks, x) {
		p = append(p, trace(at(x.at(t.Day), y.from), at(x.at(t.Day), y.to))...)
	}
	b.stroke(rule, 1, nil, p)
}

// spot is an event with its place on a lane over a plot.
type spot struct {
	event  SeasonEvent
	x0, x1 vg.Length // its bar
	lane   int
}

// spots lays events out on as few lanes as their bars and numbers need.
func (f Season) spots(b *board, curve int, x scale) (all []spot, lanes int) {
	var ends []vg.Length
	events := slices.Clone(f.Events)
	slices.SortStableFunc(events, func(a, b SeasonEvent) int { return cmp.Compare(a.From, b.From) })
	for _, e := range events {
		if curve >= 0 && !slices.Contains(e.Curves, curve) {
			continue
		}
		s := spot{event: e, x0: x.kept(finite(e.From)), x1: x.kept(finite(e.To))}
		if least := b.small.size * 0.4; s.x1-s.x0 < least {
			mid := min(max((s.x0+s.x1)/2, x.from+least/2), x.to-least/2)
			s.x0, s.x1 = mid-least/2, mid+least/2
		}
		from, to := s.x0, s.x1
		if e.Mark > 0 {
			at, w := b.numberAt(s, x)
			from, to = min(from, at), max(to, at+w)
		}
		s.lane = slices.IndexFunc(ends, func(end vg.Length) bool { return end <= from })
		switch {
		case s.lane >= 0:
		case b.size == Slide && e.Mark == 0 && len(ends) > 1: // no room for more: they lie on each other
			s.lane = 1
		default:
			s.lane = len(ends)
			ends = append(ends, 0)
		}
		ends[s.lane] = max(ends[s.lane], to+b.small.size*0.35)
		all = append(all, s)
	}
	return all, len(ends)
}

// numberAt is the left end and width of an event's footnote number: behind its bar, or before it at the edge.
func (b *board) numberAt(s spot, x scale) (left, width vg.Length) {
	width = b.note.of(numeral(s.event.Mark))
	gap := b.small.size * 0.2
	if s.x1+gap+width > b.edge {
		return s.x0 - gap - width, width
	}
	return s.x1 + gap, width
}

// lane is the height of a row of events, lower where they have no numbers.
func (b *board) lane(spots []spot) vg.Length {
	if slices.ContainsFunc(spots, func(s spot) bool { return s.event.Mark > 0 }) {
		return b.note.size * 1.15
	}
	return b.small.size * 0.5
}

// event draws the bar of an event: full, or hatched where its run is taken out.
func (b *board) event(e SeasonEvent, x0, x1, mid vg.Length) {
	h := b.small.size * 0.2
	if e.Out {
		b.fill(paperColour, box(x0, mid-h, x1, mid+h))
		b.stroke(ink, 1, nil, hatch(x0, mid-h, x1, mid+h, b.hair*3.5))
		b.stroke(ink, 1, nil, box(x0, mid-h, x1, mid+h))
		return
	}
	b.fill(ink, box(x0, mid-h, x1, mid+h))
}

// lanesOver draws events over a plot whose top is y.to, the first lane lowest.
func (b *board) lanesOver(spots []spot, x scale, top vg.Length) {
	for _, s := range spots {
		mid := top - b.lane(spots)*(vg.Length(s.lane)+0.5)
		b.event(s.event, s.x0, s.x1, mid)
		if s.event.Mark > 0 {
			left, _ := b.numberAt(s, x)
			b.text(b.note, accent, left, mid+b.note.size*0.33, numeral(s.event.Mark))
		}
	}
}

// runOf is a curve's points on the sheet.
func runOf(c SeasonCurve, x, y scale) []vg.Point {
	var run []vg.Point
	for _, p := range c.Points {
		run = append(run, at(x.kept(finite(p.Day)), y.kept(finite(p.Mean))))
	}
	return run
}

// marksAlong sets a mark at the points of a curve that stand clear of each other.
func (b *board) marksAlong(run []vg.Point, draw func(pt vg.Point)) {
	end := vg.Length(-1e6)
	for _, pt := range run {
		if pt.X-end >= b.small.size*0.75 {
			draw(pt)
			end = pt.X
		}
	}
}

// reference is the curve that stands behind the others; nil for none.
func (f Season) reference() *SeasonCurve {
	for i, c := range f.Curves {
		if c.Reference {
			return &f.Curves[i]
		}
	}
	return nil
}

// apart is a plot a practice, below each other on one axis of days, with the weather last.
func (f Season) apart(b *board, l seasonLayout) {
	b.block(b.base, ink, f.Y, 0)
	b.key(f.samples(b, false))
	b.y += b.gap / 2
	tall, weather := vg.Length(66), vg.Length(84)
	if b.size == Phone {
		tall, weather = 58, 70
	}
	column := b.numbersWidth(0, l.high, tall)
	if f.Weather != nil {
		column = max(column, b.numbersWidth(l.cold, l.warm, weather))
	}
	column = min(column, (b.edge-b.left)/3)
	x := scale{l.first, l.last, b.left + column + b.small.size*0.5, b.edge - b.small.size*0.3}
	ref := f.reference()
	for i, c := range f.Curves {
		if i > 0 {
			b.y += b.gap
		}
		// the name, and the season's sum at the right end where it fits beside it
		names := b.bold.wrap(c.Name, b.edge-b.left, 0)
		for k, n := range names {
			b.text(b.bold, ink, b.left, b.y+b.bold.rise(), n)
			if k == len(names)-1 && b.bold.of(n)+b.small.of(c.Value)+b.small.size > b.edge-b.left {
				b.y += b.bold.lead()
			}
			if k == len(names)-1 {
				for _, v := range b.small.wrap(c.Value, b.edge-b.left, 1) {
					b.right(b.small, faint, b.edge, b.y+b.bold.rise(), v)
				}
			}
			b.y += b.bold.lead()
		}
		spots, lanes := f.spots(b, i, x)
		b.y += b.lane(spots)*vg.Length(lanes) + 3
		y := scale{0, l.high, b.y + tall, b.y}
		b.lanesOver(spots, x, y.to-1)
		b.daysGrid(f.Ticks, x, y)
		b.upright(x, y)
		soft, c0 := accentSoft, accent
		if c.Reference {
			soft, c0 = inkSoft, ink
		}
		var band []ranging
		for _, p := range c.Points {
			band = append(band, ranging{p.Day, p.Range})
		}
		b.band(soft, x, y, band)
		if ref != nil && !c.Reference {
			b.line(ink, 1.6, dots, runOf(*ref, x, y)...)
		}
		run := runOf(c, x, y)
		if len(run) > 1 {
			b.line(c0, 2.4, nil, run...)
		}
		b.marksAlong(run, func(pt vg.Point) { b.dot(c0, pt.X, pt.Y, b.small.size*0.19, false) })
		b.across(faint, 1, nil, x.from, x.to, y.from)
		b.y = y.from
	}
	if f.Weather != nil {
		b.y += b.small.lead()*0.35 + b.gap
		f.weather(b, l, x, weather)
	}
	b.days(f.Ticks, x, b.y)
	b.y += b.small.lead() + 2 + b.gap
	b.footnotes(f.used())
}

// weather is the days' temperatures under the sap.
func (f Season) weather(b *board, l seasonLayout, x scale, tall vg.Length) {
	w := f.Weather
	b.block(b.bold, ink, w.Said, b.most(1))
	if b.size != Slide {
		b.block(b.small, ink, w.Y, 0)
	}
	b.y += 3
	y := scale{l.cold, l.warm, b.y + tall, b.y}
	b.daysGrid(f.Ticks, x, y)
	b.upright(x, y)
	half := min(max((x.to-x.from)/vg.Length(l.last-l.first)*0.36, b.hair*0.5), b.small.size*0.5)
	for _, d := range w.Days {
		b.weatherDay(d, x.kept(finite(d.Day)), y, half)
	}
	b.across(ink, 1.6, nil, x.from, x.to, y.at(finite(w.Freeze)))
	b.across(faint, 1, nil, x.from, x.to, y.from)
	b.y = y.from
}

// weatherDay is a day from its lowest to its highest: broad and dark where it freezes and thaws, else thin and light.
func (b *board) weatherDay(d WeatherDay, mid vg.Length, y scale, half vg.Length) {
	low, high := y.kept(finite(d.Low)), y.kept(finite(d.High))
	if d.FreezeThaw {
		b.fill(faint, box(mid-half, high, mid+half, low))
		return
	}
	b.fill(inkSoft, box(mid-half*0.6, high, mid+half*0.6, low))
}

// used are the footnotes of events.
func (f Season) used() map[int]bool {
	used := map[int]bool{}
	for _, e := range f.Events {
		used[e.Mark] = true
	}
	return used
}

// samples are the entries of the key: together, a curve a practice; apart, what a plot shows.
func (f Season) samples(b *board, together bool) []sample {
	w := b.small.size * 2.2
	h := b.small.size * 0.35
	var all []sample
	if together {
		for i, c := range f.Curves {
			all = append(all, sample{w, func(x, mid vg.Length) {
				b.seasonStroke(c.Reference, trace(at(x, mid), at(x+w, mid)))
				b.seasonMark(i, c.Reference, x+w/2, mid)
			}, c.Name})
		}
		all = append(all, sample{b.small.size * 0.4, func(x, mid vg.Length) {
			b.down(accent, 2, nil, x+b.small.size*0.2, mid-h*1.3, mid+h*1.3)
		}, f.Key.End})
	} else {
		all = append(all, sample{w, func(x, mid vg.Length) {
			b.fill(accentSoft, box(x, mid-h, x+w, mid+h))
			b.across(accent, 2.4, nil, x, x+w, mid)
			b.dot(accent, x+w/2, mid, b.small.size*0.19, false)
		}, f.Key.Mean})
		if ref := f.reference(); ref != nil && len(f.Curves) > 1 {
			all = append(all, sample{w,
				func(x, mid vg.Length) { b.across(ink, 1.6, dots, x, x+w, mid) },
				f.Key.Reference})
		}
	}
	bar := b.small.size * 1.1
	happened, out := false, false
	for _, e := range f.Events {
		happened, out = happened || !e.Out, out || e.Out
	}
	if happened {
		all = append(all, sample{bar, func(x, mid vg.Length) { b.event(SeasonEvent{}, x, x+bar, mid) }, f.Key.Event})
	}
	if out {
		all = append(all, sample{bar, func(x, mid vg.Length) { b.event(SeasonEvent{Out: true}, x, x+bar, mid) },
			f.Key.Out})
	}
	half := b.small.size * 0.16
	switch {
	case f.Weather == nil:
	case together: // the rest tells itself
		all = append(all, sample{half * 2, func(x, mid vg.Length) {
			b.weatherDay(WeatherDay{Low: 0, High: 1, FreezeThaw: true}, x+half, scale{0, 1, mid + h*1.3, mid - h*1.3},
				half)
		}, f.Key.FreezeThaw})
	default:
		unit := func(mid vg.Length) scale { return scale{0, 1, mid + h*1.3, mid - h*1.3} }
		all = append(all, sample{half * 2, func(x, mid vg.Length) {
			b.weatherDay(WeatherDay{Low: 0, High: 1}, x+half, unit(mid), half)
		}, f.Key.Day}, sample{half * 2, func(x, mid vg.Length) {
			b.weatherDay(WeatherDay{Low: 0, High: 1, FreezeThaw: true}, x+half, unit(mid), half)
		}, f.Key.FreezeThaw}, sample{
			w, func(x, mid vg.Length) { b.across(ink, 1.6, nil, x, x+w, mid) }, f.Key.Freezing})
	}
	return all
}

// together is all practices in one plot, for a slide: their intervals stand at the season's end.
func (f Season) together(b *board, l seasonLayout) {
	b.block(b.small, ink, f.Y, 1)
	top := b.y
	tries := []struct {
		notes, terse, weather bool
		rows                  int
	}{{true, false, true, 3}, {true, true, true, 3}, {false, true, true, 3}, {false, true, true, 4},
		{false, true, false, 6}}
	for k, try := range tries {
		b.y, b.terse, b.rows = top, try.terse, try.rows
		g := f
		if !try.weather {
			g.Weather = nil
		}
		if !try.notes { // numbers that would have no notes are not set
			g.Events = slices.Clone(f.Events)
			for i := range g.Events {
				g.Events[i].Mark = 0
			}
		}
		whole := true
		foot := b.tall(func() {
			b.y += b.small.lead() + 4
			whole = b.key(g.samples(b, true))
			whole = b.footnotes(g.used()) && whole
		})
		weather := vg.Length(0)
		if g.Weather != nil {
			weather = 84
		}
		over := vg.Length(0)
		if weather > 0 {
			over = b.bold.lead() + b.gap
		}
		column := b.numbersWidth(0, l.high, 200)
		if g.Weather != nil {
			column = max(column, b.numbersWidth(l.cold, l.warm, weather))
		}
		ends := b.small.size * 0.8 * vg.Length(len(f.Curves)+1)
		x := scale{l.first, l.last, b.left + min(column, (b.edge-b.left)/3) + b.small.size*0.5, b.edge - ends}
		spots, lanes := g.spots(b, -1, x)
		events := b.lane(spots) * vg.Length(lanes)
		tall := b.Height - b.margin - foot - weather - over - events - top - 6
		if (tall < 110 || !whole) && k < len(tries)-1 {
			continue
		}
		tall = max(tall, 40)
		b.y = top + events + 3
		y := scale{0, l.high, b.y + tall, b.y}
		b.lanesOver(spots, x, y.to-1)
		b.daysGrid(f.Ticks, x, y)
		b.upright(x, y)
		for i, c := range f.Curves {
			run := runOf(c, x, y)
			if len(run) == 0 {
				continue
			}
			b.seasonStroke(c.Reference, trace(run...))
			b.marksAlong(run, func(pt vg.Point) { b.seasonMark(i, c.Reference, pt.X, pt.Y) })
			last := c.Points[len(c.Points)-1]
			h := x.to + b.small.size*0.8*(vg.Length(i)+1)
			b.standing(seasonColour(c.Reference), h, y, last.Range, 2, nil)
			b.seasonMark(i, c.Reference, h, run[len(run)-1].Y)
		}
		b.across(faint, 1, nil, x.from, b.edge, y.from)
		b.y = y.from
		if g.Weather != nil {
			b.y += b.gap
			f.weather(b, l, x, weather)
		}
		b.days(f.Ticks, x, b.y)
		b.y += b.small.lead() + 4
		b.key(g.samples(b, true))
		b.footnotes(g.used())
		return
	}
}

func seasonColour(reference bool) Colour {
	if reference {
		return ink
	}
	return accent
}

// seasonStroke and seasonMark are a practice where all share a plot: told apart by the shape of the mark, the reference
// dotted.
func (b *board) seasonStroke(reference bool, p vg.Path) {
	if reference {
		b.stroke(ink, 1.8, dots, p)
	} else {
		b.stroke(accent, 1.8, nil, p)
	}
}

func (b *board) seasonMark(i int, reference bool, x, y vg.Length) {
	b.shape(seasonColour(reference), i, x, y, b.small.size*0.24)
}

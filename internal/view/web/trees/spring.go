package trees

import (
	"math"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"spile/internal/files/book"
	trials "spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/trade/weather"
	"spile/internal/view/web/page"
)

// SpringPath is where the rules are changed by which a spring is short, usual or long, and ends hot or not.
const SpringPath = "/trials/spring"

// springField is one of these rules in the form: a day of the year, a temperature or a number of days.
type springField struct {
	Key, Label, Value string
	day               *weather.MonthDay
	degrees           *unit.Temperature
	days              *int
	low               int // least of days
}

// springFields are the rules as a form, in the order of the sentences beneath the table of seasons.
func (s desk) springFields(r *weather.Rules) []springField {
	v := s.Voice
	list := []springField{
		{Key: "from", Label: v.Text("First day looked at, month-day"), day: &r.From},
		{Key: "to", Label: v.Text("Last day looked at, month-day"), day: &r.To},
		{Key: "freeze", Label: v.Text("Lowest of a freeze-thaw day, below"), degrees: &r.Freeze},
		{Key: "thaw", Label: v.Text("Highest of a freeze-thaw day, above"), degrees: &r.Thaw},
		{Key: "warm", Label: v.Text("Lowest of a warm day, above"), degrees: &r.Warm},
		{Key: "short", Label: v.Text("Freeze-thaw days of a short season, at most"), days: &r.ShortUpTo},
		{Key: "long", Label: v.Text("Freeze-thaw days of a long season, at least"), days: &r.LongFrom, low: 1},
		{Key: "hot", Label: v.Text("Highest of a hot day, at least"), degrees: &r.Hot},
		{Key: "hot-days", Label: v.Text("Hot days in a row of a hot end, at least"), days: &r.HotDays, low: 1},
		{Key: "last-days", Label: v.Text("Days between a hot end and the last freeze-thaw day, at most"),
			days: &r.LastDays},
		{Key: "base", Label: v.Text("Degree days, above"), degrees: &r.Base},
		{Key: "gap", Label: v.Text("Missing days of a season that is classed, at most"), days: &r.MaxGap},
	}
	for i := range list {
		switch f := &list[i]; {
		case f.day != nil:
			f.Value = time.Date(2000, f.day.Month, f.day.Day, 0, 0, 0, 0, time.UTC).Format("01-02")
		case f.degrees != nil:
			f.Label, f.Value = v.Text("%s, %s", f.Label, v.TemperatureUnit()),
				page.Bare(math.Round(10*v.TemperatureNumber(*f.degrees))/10)
		default:
			f.Value = strconv.Itoa(*f.days)
		}
	}
	return list
}

// rulesOf are the rules that a trial's springs are classed by.
func rulesOf(t trials.Trial) weather.Rules {
	if t.Rules != nil {
		return *t.Rules
	}
	return weather.Usual()
}

// springForm is the form, with what was typed where it was refused.
func (s desk) springForm(t trials.Trial, typed url.Values) []springField {
	r := rulesOf(t)
	list := s.springFields(&r)
	for i := range list {
		if typed.Has(list[i].Key) {
			list[i].Value = typed.Get(list[i].Key)
		}
	}
	return list
}

// saveSpring keeps the rules of a trial, or goes back to the usual ones.
func (s desk) saveSpring(w http.ResponseWriter, r *http.Request) {
	v, f := s.Voice, r.PostForm
	t, ok := s.Trial(f.Get("name"))
	if !ok {
		s.Missing(w, r)
		return
	}
	refuse := func(tr page.Trouble) { s.ofTrial(w, r, f, tr) }
	what := v.Text("changed the rules of the season's class of %s", t.Name)
	if f.Get("do") == "usual" {
		what, t.Rules = v.Text("went back to the usual rules of the season's class of %s", t.Name), nil
	} else {
		rules := rulesOf(t)
		scale := unit.Celsius
		if v.TemperatureNumber(0) != 0 {
			scale = unit.Fahrenheit
		}
		var faults []string
		fault := func(x springField, allowed string) {
			faults = append(faults, v.Text("%s: %s; allowed: %s", x.Label, page.Short(f.Get(x.Key)), allowed))
		}
		for _, x := range s.springFields(&rules) {
			text := page.Clean(f.Get(x.Key))
			number, good := v.Parsed(text)
			switch {
			case x.day != nil:
				day, err := time.Parse("2006-01-02", "2000-"+text)
				if err != nil {
					fault(x, v.Text("month-day, such as 02-15"))
				}
				*x.day = weather.MonthDay{Month: day.Month(), Day: day.Day()}
			case x.degrees != nil:
				at := scale.Of(number)
				if !good || at < -60 || at > 60 {
					fault(x, v.Text("a temperature from %s to %s", v.Temperature(-60), v.Temperature(60)))
					continue
				}
				// What was not typed anew stays as it was, to the last digit.
				if page.Bare(math.Round(10*v.TemperatureNumber(*x.degrees))/10) != page.Bare(number) {
					*x.degrees = at
				}
			default:
				if !good || number != math.Trunc(number) || number < float64(x.low) || number > 366 {
					fault(x, v.Text("a whole number from %s to %s", strconv.Itoa(x.low), "366"))
					continue
				}
				*x.days = int(number)
			}
		}
		if faults == nil {
			if _, err := weather.Of(2000, nil, rules); err != nil {
				faults = s.Said(page.Faults(err))
			}
		}
		if faults != nil {
			refuse(page.Refused(faults...))
			return
		}
		t.Rules = &rules
	}
	if err := s.Save(r.PostForm, what, page.Seen(r.PostForm), true, book.Keep(t)); err != nil {
		tr, _ := s.Troubled(err, s.besideSpring(t))
		refuse(tr)
		return
	}
	page.SeeOther(w, r, page.TrialAddress(t.Name)+"#weather")
}

// besideSpring puts the rules that another has kept beside those in the form, where they differ.
func (s desk) besideSpring(mine trials.Trial) page.Beside {
	return func(l book.Later) [][3]string {
		theirs, ok := l.Value.(trials.Trial)
		if !ok {
			return nil
		}
		var list [][3]string
		my := s.springForm(mine, nil)
		for i, x := range s.springForm(theirs, nil) {
			if x.Value != my[i].Value {
				list = append(list, [3]string{x.Label, x.Value, my[i].Value})
			}
		}
		return list
	}
}

package trees

import (
	"bytes"
	"encoding/csv"
	"net/url"
	"slices"
	"strings"

	"spile/internal/files/sheet"
	"spile/internal/note"
	tables "spile/internal/trade/column"
	trials "spile/internal/trade/trial"
	"spile/internal/trade/unit"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
)

// slip is a form of the log: a row of one of a trial's tables, read as the file that it stands for.
type slip struct {
	Table       string // its name
	Title, Lead string // English in the list of slips
	Lines       string // what two columns of numbers are typed under, a line a row; "": each has a field
	Fields      []blank
	Asked       []page.Unusual
	columns     []tables.Column[any]
	faults      int
}

// slips are the forms of a season's log.
var slips = []slip{
	{Table: trials.Events.Name, Title: "What happened", columns: tables.Bare(trials.Events.Columns)},
	{Table: trials.Dumps.Name, Title: "What a dump holds", columns: tables.Bare(trials.Dumps.Columns),
		Lead: "Measure a dump at slow and at fast flow, at the start and at the end of the season: mechanical " +
			"releasers drift by 5 to 15 %% (common practice)."},
	{Table: trials.Counts.Name, Title: "Taps counted", columns: tables.Bare(trials.Counts.Columns),
		Lead: "Count when tapping is done, and when spouts are pulled. A tree that was tapped again has a second " +
			"hole: it counts once."},
	{Table: trials.Tanks.Name, Title: "What a tank holds by depth", columns: tables.Bare(trials.Tanks.Columns),
		Lines: "A row each: the depth, then what it holds"},
}

// blank is a place of a slip.
type blank struct {
	ID, Key, Label, Hint string
	As                   string // "choice", "moment", "lines", "number", or a line of text
	Value, Time          string
	Options              []page.Picked
	Fault                string
}

// lines is the place in which several columns are typed.
const lines = "lines"

// typedIn is true of the columns of a slip that are typed: those with a name on pages, in the reader's units.
func typedIn(v *say.Voice, c tables.Column[any]) bool {
	volume, depth := unit.Litre, unit.Centimetre
	if v.Units().Gallons() {
		volume = unit.USGallon
	}
	if v.Units().Inches() {
		depth = unit.Inch
	}
	if own := sheet.OwnUnit(c).Key; own != "" {
		return own == string(volume) || own == string(depth)
	}
	return c.Label != "" && c.Instead == "" && c.Name != "season"
}

// slip is a form as it stands when so much was typed.
func (s desk) slip(x slip, record trials.Record, typed url.Values) slip {
	v := s.Voice
	if x.Title = v.Text(x.Title); x.Lead != "" {
		x.Lead = v.Text(x.Lead)
	}
	x.columns = slices.DeleteFunc(slices.Clone(x.columns),
		func(c tables.Column[any]) bool { return !typedIn(v, c) })
	var together []string
	for _, c := range x.columns {
		b := blank{ID: x.Table + "-" + c.Name, Key: c.Name, Label: s.called(c.Name), Value: typed.Get(c.Name)}
		if c.Hint != "" {
			b.Hint = v.Text(c.Hint)
		}
		switch {
		case x.Lines != "" && c.Kind == tables.Number:
			together = append(together, b.Label)
			continue
		case c.Name == "unit":
			var units []page.Option
			if !c.Needed {
				units = append(units, page.Opt("", v.Text("all that are not measured by themselves")))
			}
			for _, p := range record.Plots {
				units = append(units, page.Opt(p.Unit, p.Unit))
			}
			b.As, b.Options = "choice", page.Pick(units, b.Value)
		case c.Words != nil:
			b.As, b.Options = "choice", page.Pick(s.Terms(c.Words...), b.Value)
		case c.Kind == tables.Moment || c.Kind == tables.Own: // an end is a moment too
			b.As, b.Time = "moment", typed.Get(c.Name+"-time")
		case c.Kind.Numeric():
			b.As = "number"
		}
		x.Fields = append(x.Fields, b)
	}
	if together != nil {
		x.Fields = append(x.Fields, blank{ID: x.Table + "-" + lines, Key: lines, As: lines, Value: typed.Get(lines),
			Label: v.Text(x.Lines), Hint: strings.Join(together, "; ")})
	}
	return x
}

// rows are those of the file that a slip stands for, and how many of them stand before what was typed in lines. A tank
// holds nothing at depth 0, which need not be typed.
func (s desk) rows(x slip) (rows [][]string, before int) {
	var first []string
	for _, c := range x.columns {
		i := slices.IndexFunc(x.Fields, func(b blank) bool { return b.Key == c.Name })
		if i < 0 {
			continue
		}
		b := x.Fields[i]
		cell := page.Clean(strings.TrimSpace(b.Value + " " + b.Time))
		if c.Kind.Numeric() {
			cell = s.Voice.Pointed(cell)
		}
		first = append(first, cell)
	}
	if x.Lines == "" {
		return [][]string{first}, 0
	}
	for line := range strings.Lines(x.Fields[len(x.Fields)-1].Value) {
		if strings.TrimSpace(line) == "" {
			continue
		}
		cells := append(strings.Fields(page.Clean(line)), "", "")
		pair := []string{s.Voice.Pointed(cells[0]), s.Voice.Pointed(strings.TrimSpace(strings.Join(cells[1:], " ")))}
		if rows == nil && pair[0] != "0" {
			rows, before = append(rows, append(slices.Clone(first), "0", "0")), 1
		}
		rows = append(rows, append(slices.Clone(first), pair...))
	}
	return rows, before
}

// read takes what a slip says, as a trial that holds nothing else; what is wrong is put beside its place, and what has
// none is returned.
func (s desk) read(x *slip, t trials.Trial, record trials.Record) (said trials.Trial, other []string) {
	rows, before := s.rows(*x)
	var b bytes.Buffer
	out := csv.NewWriter(&b)
	out.Write(tables.Names(x.columns))
	out.WriteAll(rows)
	t.Records = []trials.Record{record}
	said, _, err := sheet.TrialOf(t, s.Input.Practices, nil, x.Table+".csv", b.Bytes())
	if rows == nil || err == nil && len(s.entries(t, said.Records[0])) == 0 {
		x.faults++
		x.Fields[len(x.Fields)-1].Fault = s.Voice.Text("Nothing to write down was typed.")
		return said, nil
	}
	if err == nil {
		return said, nil
	}
	for _, n := range page.Faults(err) {
		text := s.Said(note.Faults{n})[0]
		x.faults++
		i := slices.IndexFunc(x.Fields, func(b blank) bool { return b.Key == n.Where.Column })
		if i < 0 && x.Lines != "" {
			i, text = len(x.Fields)-1, s.Voice.Text("row %d: %s", max(1, n.Where.Row-1-before), text)
		}
		if i < 0 {
			other = append(other, text)
			continue
		}
		x.Fields[i].Fault = strings.TrimPrefix(x.Fields[i].Fault+" "+text, " ")
	}
	return said, other
}

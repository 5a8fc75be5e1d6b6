package sheet

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"spile/internal/demo"
	"spile/internal/note"
	"spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/trade/price"
)

const smallPrices = `currency = "USD"
as_of = 2025-11-01
place = "US-VT"
wage = 20
discount = 0.05
[units]
sap = "gal"
syrup = "gal"
mass = "lb"
chemical = "gal"
[baseline]
yield = { best = 20, low = 15, high = 25, source = "records" }
practice = "new-spout"
brix = 2
[sells]
bulk.amber = { share = 1, price = 2.5 }
[material.spout]
price = 0.40
[chemical.alcohol]
price = 30
[use.new-spout]
material.spout = { count = 1, life = 1 }
minutes = { tapping = 0.1 }
[use.alcohol-flush]
chemical = "alcohol"
chemical_amount = 0.01
`

func TestPrices(t *testing.T) {
	p, _, err := Prices("p.toml", []byte(smallPrices), practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	near := func(what string, got, want float64) {
		if math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	// 1 US gal = 3.785411784 L and 1 lb = 0.45359237 kg, exactly (NIST Handbook 44, appendix C).
	near("yield", p.Baseline.Yield.Best, 20*3.785411784)
	near("low yield", *p.Baseline.Yield.Low, 15*3.785411784)
	near("bulk price", p.Sells.Grades[0].Price.Best, 2.5/0.45359237)
	near("alcohol", p.Chemicals[0].Price.Best, 30/3.785411784)
	near("dose", p.Uses[1].ChemicalL.Best, 0.01*3.785411784)
	if p.Today.Practice != practice.NewSpout || p.FarmAdjust.Best != 1 {
		t.Errorf("what the file leaves out: today %v, farm_adjust %v", p.Today, p.FarmAdjust)
	}
	if p.Baseline.Yield.Source != "records" || p.AsOf != "2025-11-01" || p.Uses[0].Minutes[price.Tapping].Best != 0.1 {
		t.Errorf("read as %+v", p)
	}
	if p.Lines["baseline.yield"] != 12 || p.Lines["use.new-spout.material.spout.life"] != 22 {
		t.Errorf("lines %v", p.Lines)
	}
}

// The same prices in US, imperial and metric units are the same prices.
func TestUnits(t *testing.T) {
	us, _, err := Prices("p.toml", []byte(smallPrices), practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	// 20 US gal = 75.70823568 L = 16.65348… imperial gallons of 4.54609 L (Canada, Weights and Measures Act).
	const gal, imp, lb = 3.785411784, 4.54609, 0.45359237
	for name, c := range map[string]struct{ volume, mass, unit, weight string }{
		"imperial": {unit: "gal_imp", weight: "lb"}, "metric": {unit: "l", weight: "kg"},
		"named US gallon": {unit: "gal_us", weight: "lb"},
	} {
		k, m := 1.0, 1.0
		switch c.unit {
		case "gal_imp":
			k = gal / imp
		case "l":
			k = gal
		}
		if c.weight == "kg" {
			m = lb
		}
		text := strings.NewReplacer(`"gal"`, `"`+c.unit+`"`, `"lb"`, `"`+c.weight+`"`, `"US-VT"`, `"CA-QC"`,
			"best = 20, low = 15, high = 25", fmt.Sprintf("best = %.15g, low = %.15g, high = %.15g", 20*k, 15*k, 25*k),
			"price = 2.5", fmt.Sprintf("price = %.15g", 2.5/m), "price = 30", fmt.Sprintf("price = %.15g", 30/k),
			"chemical_amount = 0.01", fmt.Sprintf("chemical_amount = %.15g", 0.01*k)).Replace(smallPrices)
		p, _, err := Prices("p.toml", []byte(text), practice.Shipped())
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for what, v := range map[string][2]float64{
			"yield":   {us.Baseline.Yield.Best, p.Baseline.Yield.Best},
			"price":   {us.Sells.Grades[0].Price.Best, p.Sells.Grades[0].Price.Best},
			"alcohol": {us.Chemicals[0].Price.Best, p.Chemicals[0].Price.Best},
			"dose":    {us.Uses[1].ChemicalL.Best, p.Uses[1].ChemicalL.Best},
		} {
			if math.Abs(v[0]-v[1]) > 1e-9*v[0] {
				t.Errorf("%s: %s is %v, want %v", name, what, v[1], v[0])
			}
		}
	}
}

func TestPriceFaults(t *testing.T) {
	with := func(old, new string) string {
		if !strings.Contains(smallPrices, old) {
			t.Fatalf("the price file has no %q", old)
		}
		return strings.Replace(smallPrices, old, new, 1)
	}
	for _, c := range []struct {
		name, text string
		row        int
		column     string
		says       []string
	}{
		{"empty", "", 0, "", []string{"empty"}},
		{"misspelt key", with("discount = 0.05", "discuont = 0.05"), 5, "discuont",
			[]string{`"discuont"`, "did you mean discount"}},
		{"misspelt table of a mapping", "[colums]\nmean = \"Sap\"\n", 2, "colums", []string{"did you mean columns"}},
		{"misspelt key in a table", with("brix = 2", "birx = 2"), 14, "baseline.birx",
			[]string{`"birx"`, "did you mean brix"}},
		{"misspelt part of a value", with("low = 15", "lo = 15"), 12, "baseline.yield.lo",
			[]string{`"lo"`, "did you mean low"}},
		{"misspelt section", with("[units]", "[unit]"), 7, "unit", []string{`"unit"`, "did you mean units"}},
		{"unknown key", with("wage = 20", "wage = 20\nzzzzzzzz = 1"), 5, "zzzzzzzz",
			[]string{"not known", "allowed here: all_at_once, as_of, baseline", "wage"}}, // no keys of a mapping
		{"text where a number belongs", with("wage = 20", `wage = "20 an hour"`), 4, "wage",
			[]string{`"20 an hour"`, "a number without quotes"}},
		{"bare words", with("wage = 20", "wage = twenty"), 4, "wage", []string{"wage = twenty", "a number alone"}},
		{"percent sign", with("discount = 0.05", "discount = 5%"), 5, "discount",
			[]string{"discount = 5%", "percent sign"}},
		{"thousands separator", with("wage = 20", "wage = 1,200"), 4, "wage", []string{"thousands separator"}},
		{"number where text belongs", with(`practice = "new-spout"`, "practice = 7"), 13, "baseline.practice",
			[]string{`"7"`, "new-spout"}},
		{"an accent without quotes", with("bulk.amber", "bulk.doré"), 16, "bulk.doré",
			[]string{"quotes", `write bulk."doré" = { share = 1`}},
		{"an accent in a table's name", with("[material.spout]", "[material.chalumeau d'été] # hier"), 17, "",
			[]string{"quotes", `write [material."chalumeau d'été"] # hier`}},
		{"NaN", with("wage = 20", "wage = nan"), 4, "wage", []string{`"nan"`, "not a number"}},
		{"infinite", with("wage = 20", "wage = inf"), 4, "wage", []string{`"inf"`, "not a number"}},
		{"1e308", with("wage = 20", "wage = 1e308"), 4, "wage", []string{"1e308", "100000"}},
		{"negative wage", with("wage = 20", "wage = -1"), 4, "wage", []string{"-1", "0 to"}},
		{"discount rate of -1", with("discount = 0.05", "discount = -1"), 5, "discount", []string{"-1", "-0.5 to 1"}},
		{"a yield of 0", with("best = 20, low = 15", "best = 0, low = 0"), 12, "baseline.yield.best",
			[]string{"above 0"}},
		{"low above best", with("low = 15", "low = 21"), 12, "baseline.yield.low",
			[]string{"21", "20", "at most best"}},
		{"low and high the wrong way round, the high", with("low = 15, high = 25", "low = 21, high = 19"), 12,
			"baseline.yield.high", []string{"high is 19 and best is 20"}},
		{"a value without best", with("best = 20, ", ""), 12, "baseline.yield.best", []string{"needed"}},
		{"no wage", with("wage = 20\n", ""), 1, "wage", []string{"wage", "needed"}},
		{"no unit", with("sap = \"gal\"\n", ""), 6, "units.sap",
			[]string{"baseline.yield", "unit is unknown", "gal_imp"}},
		{"a unit that is none", with(`sap = "gal"`, `sap = "bucket"`), 7, "units.sap", []string{`"bucket"`, "gal_imp"}},
		{"a bare gallon from Canada", strings.Replace(with(`"US-VT"`, `"CA-QC"`), `"gal"`, `"gallon"`, 1), 7,
			"units.sap", []string{`"gallon"`, "CA-QC", "gal_us, gal_imp"}},
		{"a bare gallon that nothing uses", with(`"US-VT"`, `"CA-QC"`), 10, "units.chemical",
			[]string{`"gal"`, "CA-QC"}},
		{"a currency that is none", with(`"USD"`, `"dollars"`), 1, "currency", []string{`"dollars"`, "ISO 4217"}},
		{"two currencies", with(`bulk.amber = { share = 1, price = 2.5 }`,
			`bulk.amber = { share = 1, price = { best = 2.5, currency = "CAD" } }`), 16, "sells.bulk.amber.price.currency", []string{"two currencies", "CAD", "USD"}},
		{"a key twice", with("wage = 20", "wage = 20\nwage = 21"), 5, "wage", []string{"twice", "row 4"}},
		{"a table twice", with("[material.spout]", "[units]\nsap = \"l\"\n[material.spout]"), 17, "units",
			[]string{"twice", "row 6"}},
		{"shares that do not sum to 1", with("share = 1", "share = 0.9"), 15, "sells", []string{"0.9", "sum to 1"}},
		{"an unknown practice", with("[use.new-spout]", "[use.new-spuot]"), 21, "use.new-spuot",
			[]string{"did you mean new-spout"}},
		{"an unknown material", with("material.spout = {", "material.spuot = {"), 22, "use.new-spout.material.spuot",
			[]string{"did you mean spout"}},
		{"an unknown chemical", with(`chemical = "alcohol"`, `chemical = "acid"`), 25, "use.alcohol-flush.chemical",
			[]string{`"acid"`, "alcohol"}},
		{"no date", with("as_of = 2025-11-01", `as_of = "autumn"`), 2, "as_of", []string{`"autumn"`, "year-month-day"}},
		{"a place that is none", with(`"US-VT"`, `"Vermont"`), 3, "place", []string{`"Vermont"`, "US-VT"}},
		{"a value where a table belongs", with("wage = 20", "today = \"new-spout\"\nwage = 20"), 4, "today",
			[]string{`"new-spout"`, "a table belongs", "practice"}},
		{"a value and a table", with("wage = 20", "wage = 20\nwage.best = 21"), 5, "wage.best",
			[]string{"twice", "row 4"}},
		{"an age of drops that are not replaced",
			with("practice = \"new-spout\"\nbrix", "practice = \"new-spout\"\ndrop_age = 2\nbrix"), 14,
			"baseline.drop_age", []string{"not replaced"}},
		{"binary", "currency = \"\x00\"", 1, "", []string{"zero byte"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, _, err := Prices("p.toml", []byte(c.text), practice.Shipped())
			var faults note.Faults
			if !errors.As(err, &faults) || p != nil {
				t.Fatalf("no faults, but %v", err)
			}
			found := false
			for _, f := range faults {
				if f.Where == (note.Where{File: "p.toml", Row: c.row, Column: c.column}) {
					found = true
					for _, say := range c.says {
						if !strings.Contains(f.English(), say) {
							t.Errorf("does not say %s: %v", say, f.English())
						}
					}
				}
				if strings.Contains(f.English(), "%!") {
					t.Errorf("verbs and arguments differ: %v", f.English())
				}
			}
			if !found {
				t.Errorf("no fault in row %d, key %q:\n%v", c.row, c.column, err)
			}
		})
	}
}

// Every fault of a price file comes at once, those of TOML itself beside those of what it says.
func TestAllPriceFaultsAtOnce(t *testing.T) {
	text := strings.NewReplacer("wage = 20", "wage = 20 USD", "discount = 0.05", "discount = 5%", "brix = 2",
		"brix = -2",
		"[use.new-spout]", "[use.new-spuot]").Replace(smallPrices)
	_, _, err := Prices("p.toml", []byte(text), practice.Shipped())
	var faults note.Faults
	errors.As(err, &faults)
	if len(faults) != 4 {
		t.Errorf("%d faults, want 4:\n%v", len(faults), err)
	}
	for i := range faults[1:] {
		if faults[i].Where.Row > faults[i+1].Where.Row {
			t.Errorf("the faults are not listed from the top:\n%v", err)
		}
	}
}

func TestRead(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	embedded := func(name string) string {
		data, err := fs.ReadFile(demo.Files(), name)
		if err != nil {
			t.Fatal(err)
		}
		return put(name, string(data))
	}
	table, money := embedded("evidence.csv"), embedded("prices.toml")
	own := put("own.toml", `[practice.steam-rinse]
name = "steam rinse"
spout = "reused"
drops = "kept"
wash = "none"

[[rule]]
wash = "alcohol"
place = "US"
verdict = "held-back"
reason = "look at the label"
checked = 2025-10-01

[[rule]]
chemical = true
unlabelled = true
place = "?"
verdict = "held-back"
reason = "look at the label"
checked = 2025-10-01
`)
	steam := put("steam.csv",
		"study,site,season,practice,mean,n,sd\nS,here,2020,unsanitized,15,6,2\nS,here,2020,steam-rinse,17,6,2\n")

	in, err := Read(table, money, steam, own)
	if err != nil {
		t.Fatal(err)
	}
	if len(in.Studies) != 36 || in.Prices == nil || in.Prices.Currency != "USD" || len(in.Rules) != 2 ||
		len(in.Sources) != 4 {
		t.Errorf("%d studies, %d rules, %d sources", len(in.Studies), len(in.Rules), len(in.Sources))
	}
	if p, ok := in.Practices.Find("steam-rinse"); !ok || p.Name != "steam rinse" {
		t.Error("the practice of the user's own is not known")
	}
	if r := in.Rules[0]; r.Wash != practice.WashAlcohol || r.Place != "US" || r.Verdict != practice.HeldBack ||
		r.Checked != "2025-10-01" {
		t.Errorf("rule %+v", r)
	}
	if r := in.Rules[1]; !r.Chemical || !r.Unlabelled || r.Place != place.Unknown {
		t.Errorf("rule %+v", r)
	}

	theirs := put("theirs.csv",
		"Trial;Farm;Year;Treatment;Sap (L per tap);Sites\nT;there;2020;unsanitized;60,5;x\n"+
			"T;there;2020;new-spout;71,5;y\n")
	names := put("names.toml",
		"[columns]\nstudy = \"Trial\"\nsite = \"Farm\"\nseason = \"Year\"\npractice = \"Treatment\"\nmean = \"Sap (L "+
			"per tap)\"\n")
	in, err = Read(theirs, names)
	if err != nil || len(in.Studies) != 1 || *in.Studies[0].Arms[1].Mean != 71.5 || in.Prices != nil {
		t.Errorf("foreign headers: %v, %+v", err, in.Studies)
	}
	if n := in.Notes; len(n) != 1 || !strings.Contains(n[0].English(), "sites") {
		t.Errorf("warnings %v, want one that names the column sites", n)
	}

	for name, c := range map[string]struct {
		paths []string
		says  []string
	}{
		"no such file":         {[]string{filepath.Join(dir, "nothing.csv")}, []string{"no such file"}},
		"a folder":             {[]string{put2(t, dir, "folder.csv")}, []string{"a folder"}},
		"another kind of file": {[]string{put("sheet.ods", "PK\x03\x04")}, []string{`".ods"`, ".csv", ".xlsx"}},
		"two price files": {[]string{money, put("more.toml", smallPrices)},
			[]string{"second price file", "prices.toml"}},
		"two currencies": {[]string{money, put("cad.toml", strings.Replace(smallPrices, "USD", "CAD", 1))},
			[]string{"two currencies", "CAD", "USD"}},
		"a study in two files": {
			[]string{steam, own, put("again.csv", "study,site,season,practice,mean,n,sd\n"+
				"S,here,2020,unsanitized,15,6,2\nS,here,2020,new-spout,17,6,2\n")}, []string{"another file already"}},
		"faults of every file": {[]string{put("a.csv", "study,site\n"), put("b.toml", "wage = 1%\n")},
			[]string{"a.csv", "practice is missing", "b.toml", "percent sign"}},
		"a header for two": {
			[]string{theirs, put("two.toml", "columns.study = \"Trial\"\ncolumns.site = \"Trial\"\n")},
			[]string{"two columns"}},
		"a column that is none": {[]string{theirs, put("none.toml", "columns.sutdy = \"Trial\"\n")},
			[]string{"did you mean study"}},
		"a practice unknown": {[]string{steam}, []string{"steam-rinse", "not known"}},
		"a rule without a date": {[]string{put("rule.toml", "[[rule]]\nwash = \"alcohol\"\nverdict = \"perhaps\"\n"+
			"reason = \"x\"\n")}, []string{`"perhaps"`, "held-back", "rule.1.checked"}},
	} {
		in, err := Read(c.paths...)
		if err == nil {
			t.Errorf("%s: no fault", name)
			continue
		}
		if in.Studies != nil || in.Prices != nil {
			t.Errorf("%s: something was taken in spite of the faults", name)
		}
		for _, say := range c.says {
			if !strings.Contains(err.Error(), say) {
				t.Errorf("%s: does not say %s:\n%v", name, say, err)
			}
		}
	}
}

func put2(t *testing.T, dir, name string) string {
	path := filepath.Join(dir, name)
	if err := os.Mkdir(path, 0o755); err != nil {
		t.Fatal(err)
	}
	return path
}

// Junk of any size is refused in words.
func TestJunk(t *testing.T) {
	path := filepath.Join(t.TempDir(), "junk.csv")
	if err := os.WriteFile(path, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(path, 50<<20); err != nil { // 50 MB of zero bytes
		t.Fatal(err)
	}
	if _, err := Read(path); err == nil || !strings.Contains(err.Error(), "larger than 16 MiB") {
		t.Errorf("50 MB of junk: %v", err)
	}
	for name, line := range map[string]string{"commas": ",", "quotes": "\"", "lines": "\n", "words": "junk ",
		"rows": "a,b,c\n"} {
		_, _, err := Evidence("junk.csv", []byte(strings.Repeat(line, 1<<20/len(line))), practice.Shipped(), nil)
		var faults note.Faults
		if !errors.As(err, &faults) || len(faults) > shown+1 {
			t.Errorf("%s: %d faults", name, len(faults))
		}
	}
	head := "study,site,season,practice,mean\n"
	for name, line := range map[string]string{"rows": "a,b,c\n", "quotes": "\"", "wide": ",x"} {
		_, _, err := Evidence("junk.csv", []byte(head+strings.Repeat(line, 1<<20/len(line))), practice.Shipped(), nil)
		var faults note.Faults
		if !errors.As(err, &faults) || len(faults) > shown+1 {
			t.Errorf("%s below a header: %d faults", name, len(faults))
		}
	}
}

func FuzzPrices(f *testing.F) {
	f.Add([]byte(smallPrices))
	data, err := fs.ReadFile(demo.Files(), "prices.toml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add([]byte("[[rule]]\n[rule.x]\na.b = [1, {c = 2}, []]\n"))
	f.Add([]byte("a = \"\"\"\nb\nc = 1\n"))
	f.Add([]byte("a = 1_000 %\r\n[practice.\"a.b\"]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, _, err := Prices("p.toml", data, practice.Shipped())
		if (p == nil) == (err == nil) {
			t.Errorf("prices %v and error %v", p, err)
		}
		if p != nil && (p.Wage.Best < 0 || p.Discount.Best <= -1 || p.Baseline.Yield.Best <= 0 || p.Currency == "") {
			t.Errorf("prices at fault were taken: %+v", p)
		}
	})
}

// A digest is of what a price file says.
func TestPriceDigest(t *testing.T) {
	dir := t.TempDir()
	of := func(text string) string {
		path := filepath.Join(dir, "p.toml")
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		in, err := Read(path)
		if err != nil {
			t.Fatal(err)
		}
		return in.Sources[0].Digest
	}
	same := of(smallPrices)
	for name, text := range map[string]string{
		"comments":    "# prices\n" + strings.ReplaceAll(smallPrices, "wage = 20", "wage = 20 # an hour"),
		"CRLF":        strings.ReplaceAll(smallPrices, "\n", "\r\n"),
		"dotted keys": strings.Replace(smallPrices, "minutes = { tapping = 0.1 }", "minutes.tapping = 0.10", 1),
		"another order": strings.Replace(smallPrices, "wage = 20\ndiscount = 0.05\n",
			"discount = 5e-2\nwage = 20.0\n",
			1),
	} {
		if of(text) != same {
			t.Errorf("%s changed the digest", name)
		}
	}
	if of(strings.Replace(smallPrices, "wage = 20", "wage = 21", 1)) == same {
		t.Error("another wage left the digest as it was")
	}
}

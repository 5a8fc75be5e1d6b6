package sheet

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"spile/internal/trade/doubt"
	"spile/internal/trade/evidence"
	"spile/internal/trade/gloss"
	"spile/internal/trade/input"
	"spile/internal/trade/place"
	"spile/internal/trade/practice"
	"spile/internal/trade/trial"
)

// whole is a package with one of everything.
func whole(t testing.TB) Package {
	t.Helper()
	studies, _, err := Evidence("e.csv", demoFile(t, "evidence.csv"), practice.Shipped(), nil)
	if err != nil {
		t.Fatal(err)
	}
	prices, _, err := Prices("p.toml", demoFile(t, "prices.toml"), practice.Shipped())
	if err != nil {
		t.Fatal(err)
	}
	return Package{License: "CC-BY-4.0", Input: input.Input{
		Studies: studies, Prices: prices,
		Practices: append(practice.Shipped(), practice.Practice{Key: "steam-rinse", Name: "steam, \"hot\"; rinse",
			Spout: practice.SpoutReused, Drops: practice.DropsKept, Wash: practice.WashNone}),
		Rules: []practice.Rule{
			{Wash: practice.WashPeroxide, Place: "CA-QC", Organic: new(true), Verdict: practice.HeldBack,
				Reason: "ask first,\nthen again", Checked: "2025-10-01"},
			{Chemical: true, Unlabelled: true, Place: place.Unknown, Organic: new(false), Verdict: practice.Never,
				Reason: "no", Checked: "2025-10-02"},
		},
		Excluded: []input.Exclusion{{Study: studies[2].Name, Reason: "a leak, found late"}},
		Answers:  []doubt.Answer{{ID: "0a1b2c3d", About: "is that, \"really\", meant?"}},
		Search:   "Reports of three stations, \"all of them\", 2024-11;\n\n- talks left out: no numbers",
		Words: gloss.Glossary{{Of: gloss.Columns, Said: "L/entaille, \"sec\"", Means: "mean.l"},
			{Of: gloss.Unknown, Said: "–", Means: gloss.Unknown},
			{Of: "practice", Said: "Témoin", Means: "unsanitized"}},
	}}
}

func writeAll(t testing.TB, dir string, p Package) {
	t.Helper()
	files, err := p.Files()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// What is written as a data package is read back as it was, by the folder and by the descriptor's name.
func TestPackageRoundTrip(t *testing.T) {
	p := whole(t)
	dir := t.TempDir()
	writeAll(t, dir, p)
	flat, nested := filepath.Join(dir, "flat.ZIP"), filepath.Join(dir, "nested.zip")
	files, err := p.Files()
	if err != nil {
		t.Fatal(err)
	}
	zipAll(t, flat, "", files...)
	zipAll(t, nested, "a folder/", files...)
	for _, path := range []string{dir, filepath.Join(dir, descriptor), flat, nested} {
		in, err := Read(path)
		if err != nil {
			t.Fatal(err)
		}
		got := Package{Input: in, License: p.License}
		got.Sources = nil
		if d := cmp.Diff(p, got, nowhere); d != "" {
			t.Error(d)
		}
	}
}

func zipAll(t *testing.T, path, folder string, files ...File) {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, f := range files {
		w, err := z.Create(folder + f.Name)
		if err == nil {
			_, err = w.Write(f.Data)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(z.Close(), os.WriteFile(path, b.Bytes(), 0o644)); err != nil {
		t.Fatal(err)
	}
}

// A ZIP file that is no package, that unpacks to more than is read, or whose paths climb out of it, says so.
func TestZippedPackageFaults(t *testing.T) {
	large := make([]byte, maxUnzipped)
	description := func(path string) File {
		return File{descriptor, []byte(`{"resources":[{"name":"evidence","path":"` + path + `"}]}`)}
	}
	for name, c := range map[string]struct {
		files []File
		says  string
	}{
		"no package": {[]File{{"a.csv", nil}}, "holds no data package"},
		"a bomb":     {[]File{description("e.csv"), {"e.csv", large}}, "holds no data package"},
		"climbs":     {[]File{description("../flat.csv"), {"../flat.csv", nil}}, "leads out of the package"},
		"missing":    {[]File{description("e.csv")}, filepath.Join("p.zip", "e.csv") + ": there is no such file"},
	} {
		dir := t.TempDir()
		path := filepath.Join(dir, "p.zip")
		zipAll(t, path, "", c.files...)
		if _, err := Read(path); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
	path := filepath.Join(t.TempDir(), "junk.zip")
	os.WriteFile(path, []byte("PK\x03\x04 and no more"), 0o644)
	if _, err := Read(path); err == nil || !strings.Contains(err.Error(), "holds no data package") {
		t.Errorf("junk: %v", err)
	}
	if _, err := Read(path + ".zip"); err == nil || !strings.Contains(err.Error(), "there is no such file") ||
		strings.Contains(err.Error(), "holds no") {
		t.Errorf("nothing: %v", err)
	}
}

// A workbook may hold trials and no study of others yet: its package is read back as well.
func TestPackageOfTrialsAlone(t *testing.T) {
	p := Package{Input: input.Input{Trials: []trial.Trial{laidOut()}}}
	dir := t.TempDir()
	writeAll(t, dir, p)
	in, err := Read(dir)
	if err != nil || len(in.Trials) != 1 || len(in.Studies) != 0 || len(in.Trials[0].Records) != 2 {
		t.Errorf("%v: %+v", err, in.Trials)
	}
}

func TestPackageRoundTripProperty(t *testing.T) {
	root := t.TempDir()
	i := 0
	rapid.Check(t, func(t *rapid.T) {
		p := Package{Input: input.Input{Studies: anyStudies(t)}}
		i++
		dir := filepath.Join(root, fmt.Sprint(i))
		if err := os.Mkdir(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		files, err := p.Files()
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			os.WriteFile(filepath.Join(dir, f.Name), f.Data, 0o644)
		}
		in, err := Read(dir)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(p.Studies, in.Studies, nowhere); d != "" {
			t.Fatal(d)
		}
	})
}

// The descriptor keeps what Data Package 1.0 and Table Schema 1.0 (specs.frictionlessdata.io) ask: names of small
// letters, digits and . _ -, paths inside the folder, a field for every column in its order, types of the standard.
func TestDescriptor(t *testing.T) {
	files, err := whole(t).Files()
	if err != nil {
		t.Fatal(err)
	}
	again, _ := whole(t).Files()
	if d := cmp.Diff(files, again); d != "" {
		t.Error("other bytes the second time")
	}
	data := map[string][]byte{}
	for _, f := range files {
		data[f.Name] = f.Data
	}
	var d struct {
		Name, Profile string
		Licenses      []struct{ Name string }
		Sources       []struct{ Title string }
		Resources     []struct {
			Name, Profile, Path, Hash string
			Bytes                     int
			Schema                    *struct {
				Fields []struct{ Name, Type, Description string }
			}
		}
	}
	if err := json.Unmarshal(data[descriptor], &d); err != nil {
		t.Fatal(err)
	}
	name := regexp.MustCompile(`^[a-z0-9._-]+$`)
	types := []string{"string", "number", "integer", "boolean", "date", "year"}
	seen := map[string]bool{}
	if !name.MatchString(d.Name) || d.Profile != "data-package" || len(d.Licenses) != 1 || len(d.Sources) == 0 ||
		len(d.Resources) < 7 {
		t.Errorf("%+v", d)
	}
	for _, r := range d.Resources {
		if !name.MatchString(r.Name) || seen[r.Name] || !filepath.IsLocal(r.Path) || len(data[r.Path]) != r.Bytes ||
			!strings.HasPrefix(r.Hash, "sha256:") {
			t.Errorf("resource %+v", r)
		}
		seen[r.Name] = true
		if r.Profile != "tabular-data-resource" {
			continue
		}
		rows, err := csv.NewReader(strings.NewReader(string(data[r.Path]))).ReadAll()
		if err != nil || len(rows) < 2 || r.Schema == nil || len(r.Schema.Fields) != len(rows[0]) {
			t.Errorf("%s: %v", r.Path, err)
			continue
		}
		for i, f := range r.Schema.Fields {
			if f.Name != rows[0][i] || !slices.Contains(types, f.Type) {
				t.Errorf("%s: field %+v over the column %s", r.Path, f, rows[0][i])
			}
			if r.Name == evidenceRole && f.Description == "" {
				t.Errorf("%s has no description", f.Name)
			}
			for _, row := range rows[1:] {
				if v := row[i]; v != "" && !valid(f.Type, v) {
					t.Errorf("%s: %q is not of type %s", f.Name, v, f.Type)
				}
			}
		}
	}
}

// valid is the lexical form of each type (Table Schema 1.0, Types and Formats).
func valid(kind, text string) bool {
	form := map[string]string{"number": `^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$`, "integer": `^[+-]?\d+$`,
		"year": `^\d{4}$`,
		"date": `^\d{4}-\d\d-\d\d$`, "boolean": `^(yes|no)$`, "string": `(?s).`}[kind]
	return regexp.MustCompile(form).MatchString(text)
}

func TestPackageFaults(t *testing.T) {
	for name, c := range map[string]struct {
		files map[string]string
		says  []string
	}{
		"not JSON":      {map[string]string{descriptor: "{"}, []string{"not the description"}},
		"nothing in it": {map[string]string{descriptor: "{}"}, []string{"names no table"}},
		"a path that climbs": {map[string]string{
			descriptor: `{"resources":[{"name":"a","path":"../a.csv"},{"name":"b","path":"/etc/passwd"},{"name":"c","path":"http://x.example/c.csv"},{"name":"d","path":"a\\b.csv"}]}`},
			[]string{`"../a.csv" leads out`, `"/etc/passwd" leads out`, "c.csv\" leads out", "resources.4"}},
		"no path": {map[string]string{
			descriptor: `{"resources":[{"name":"a"},{"name":"b","path":["x.csv","y.csv"]}]}`}, []string{
			`"a" has no path`, `"b" has no path`}},
		"a path twice": {map[string]string{
			descriptor: `{"resources":[{"name":"a","path":"e.csv"},{"name":"b","path":"e.csv"}]}`}, []string{
			`"e.csv" stands twice`}},
		"a missing file": {map[string]string{descriptor: `{"resources":[{"name":"evidence","path":"e.csv"}]}`},
			[]string{"e.csv: there is no such file"}},
		"not a table": {map[string]string{descriptor: `{"resources":[{"name":"map","path":"m.geojson"}]}`},
			[]string{"not a table"}},
		"a changed file": {map[string]string{
			descriptor: `{"resources":[{"name":"evidence","path":"e.csv","hash":"sha256:00ff"}]}`,
			"e.csv":    "study,site,season,practice,gain_pct\n"},
			[]string{"e.csv: this is not the file", "00ff", "a11024625bf4d490"}},
		"faults of tables": {map[string]string{
			descriptor: `{"resources":[{"name":"prices","path":"p.csv"},{"name":"practices","path":"k.csv"},{"name":"rules","path":"r.csv"},{"name":"excluded","path":"x.csv"}]}`,
			"p.csv":    "key,value,low,high,source\ncurrency,USD,,,\ncurrency,CAD,,,\nwage,20%,,,\nwaage,3,,,\n",
			"k.csv":    "key,name,spout,drops,wash\nnew-spout,x,new,kept,none\n",
			"r.csv":    "wash,spout,product\n", "x.csv": "study,reason\nA,\n"},
			[]string{"p.csv, row 3", "given twice", "percent sign", "did you mean wage", "practice already",
				"the column chemical is missing", "nothing is given for reason"}},
	} {
		dir := t.TempDir()
		for file, text := range c.files {
			os.WriteFile(filepath.Join(dir, file), []byte(text), 0o644)
		}
		in, err := Read(dir)
		if err == nil || in.Studies != nil {
			t.Errorf("%s: no fault", name)
			continue
		}
		for _, say := range c.says {
			if !strings.Contains(err.Error(), say) {
				t.Errorf("%s: does not say %s:\n%v", name, say, err)
			}
		}
	}
}

// What is left out must be there.
func TestExcludedStudyIsThere(t *testing.T) {
	p := whole(t)
	p.Excluded = append(p.Excluded, input.Exclusion{Study: "nobody's study", Reason: "why not"})
	dir := t.TempDir()
	writeAll(t, dir, p)
	if _, err := Read(dir); err == nil || !strings.Contains(err.Error(), "nobody's study") {
		t.Errorf("%v", err)
	}
}

func FuzzPackage(f *testing.F) {
	f.Add([]byte(`{"resources":[{"name":"prices","path":"p.csv"}]}`),
		[]byte("key,value,low,high,source\nwage,1,0,2,x\n"))
	f.Add([]byte(`{"resources":[{"name":"a","path":["../x"]}]}`),
		[]byte("key,name,spout,drops,wash\na.b,x,new,kept,none\n"))
	f.Add([]byte(`[]`), []byte("wash,spout,product,chemical,unlabelled,place,organic,verdict,reason,checked\n"+
		"alcohol,,,,,US,yes,never,x,2025-01-01\n"))
	f.Fuzz(func(t *testing.T, about, text []byte) {
		g := new(faults)
		for _, p := range readDescriptor("d/datapackage.json", about, g) {
			if !filepath.IsLocal(p.path) {
				t.Errorf("%q leads out of the folder", p.path)
			}
		}
		for _, role := range []string{pricesRole, practicesRole, rulesRole} {
			g := new(faults)
			if r := dottedTable("t.csv", role, text, g); r != nil {
				ownPractices(r, practice.Shipped(), nil)
				judgeRules(readRules(r, false), "")
				readPrices(r, practice.Shipped())
			}
		}
		readExcluded("x.csv", text, new(faults))
	})
}

// The escapes of BibTeX and RIS; entries are whole whatever a source says.
func TestReferences(t *testing.T) {
	studies := []evidence.Study{
		{Name: "Larkmoor 2014", Season: 2014, Source: "50 % of {them} & $5, A_B #1 ~x^2 \\y\nnext\rrow"},
		{Name: "Érable", Season: 2015, Source: "bulletin\r\nER  - "},
		{Name: "érable", Season: 2015, Source: "x"},
		{Name: "no source", Season: 2016},
	}
	bib := string(BibTeX(studies))
	for _, want := range []string{"@misc{larkmoor-2014,\n",
		`note = {50 \% of \{them\} \& \$5, A\_B \#1 \textasciitilde{}x\textasciicircum{}2 \textbackslash{}y next row}`,
		"title = {{Érable}}", "@misc{rable-2015,", "@misc{rable-2015-2,"} {
		if !strings.Contains(bib, want) {
			t.Errorf("%s is not in\n%s", want, bib)
		}
	}
	open := 0
	for i := range len(bib) {
		if i > 0 && bib[i-1] == '\\' {
			continue
		}
		switch bib[i] {
		case '{':
			open++
		case '}':
			open--
		}
		if open < 0 {
			t.Fatal("braces close that were not opened")
		}
	}
	if open != 0 || strings.Count(bib, "@misc{") != 3 {
		t.Errorf("braces left open: %d\n%s", open, bib)
	}
	field := regexp.MustCompile(`^[A-Z][A-Z0-9]  - .*$`)
	for row := range strings.SplitSeq(strings.TrimSuffix(string(RIS(studies)), "\r\n"), "\r\n") {
		if row != "" && !field.MatchString(row) {
			t.Errorf("%q is no field of RIS", row)
		}
	}
	if got := strings.Count(string(RIS(studies)), "\r\nER  - \r\n"); got != 3 {
		t.Errorf("%d entries end", got)
	}
}

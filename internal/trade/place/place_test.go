package place

import (
	"os"
	"slices"
	"strings"
	"testing"

	"golang.org/x/text/language"
)

// The countries are those that ISO 3166-1 assigns, as the tz database lists them (iso3166.tab, public domain).
func TestCountries(t *testing.T) {
	data, err := os.ReadFile("testdata/iso3166.tab")
	if err != nil {
		t.Fatal(err)
	}
	var want []string
	for line := range strings.Lines(string(data)) {
		if !strings.HasPrefix(line, "#") {
			want = append(want, line[:2])
		}
	}
	slices.Sort(want)
	if got := Countries(); len(want) != 249 || !slices.Equal(got, want) {
		t.Errorf("%d countries, want %d: %v", len(got), len(want), got)
	}
	for _, c := range want {
		if !Exists(c) || Name(c, language.English) == c || Name(c, language.French) == c {
			t.Errorf("%s exists: %v, named %q", c, Exists(c), Name(c, language.English))
		}
	}
}

// ISO 3166-2:US has 50 states, one district and six outlying areas, ISO 3166-2:CA ten provinces and three territories.
func TestParts(t *testing.T) {
	count := map[string]int{}
	for _, p := range parts {
		count[p.code[:3]]++
	}
	if count["US-"] != 57 || count["CA-"] != 13 {
		t.Errorf("%v", count)
	}
}

func TestExists(t *testing.T) {
	for _, c := range []string{"US", "US-VT", "CA", "CA-QC", "JP-01", "FR-ARA", "GB", "DE-BY"} {
		if !Exists(c) {
			t.Errorf("%s exists", c)
		}
	}
	for _, c := range []string{"", "XX", "XX-01", "US-TV", "US-", "us-vt", "USA", "CA-PQ", "UK", "ZZ", "EU", "QO",
		"-VT", "US-VT-1", "JP-", "JP-ABCD", Unknown, " US"} {
		if Exists(c) {
			t.Errorf("%q does not exist", c)
		}
	}
}

func TestNear(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"US-TV", "US-VT US-NV US-TN US-TX"}, {"us-vt", "US-VT"}, {"US VT", "US-VT"}, {"VT", "US-VT"},
		{"Vermont", "US-VT"},
		{"Vermnot", "US-VT"}, {"Quebec", "CA-QC"}, {"Nouvelle Ecosse", "CA-NS"}, {"Etats-Unis", "US"}, {"USA", "US"},
		{"UK", "GB"}, {"NH", "US-NH"}, {"PQ", "CA-QC"}, {"CA-PQ", "CA-QC"}, {"CAN-ON", "CA-ON"}, {"USA-VT", "US-VT"},
		{"Ontario, Canada", "CA-ON"}, {"Maine (USA)", "US-ME"}, {"Ont.", "CA-ON"}, {"Qué", "CA-QC"}, {"Mass.", "US-MA"},
		{"(", ""}, {"Penn", "US-PA"}, {"Wisc.", "US-WI"},
		{"Georgia", "US-GA GE"}, {"XX", ""}, {"US-", ""}, {"", ""}, {strings.Repeat("x", 1000), ""},
	} {
		if got := strings.Join(Near(c.text), " "); got != c.want {
			t.Errorf("%q: %q, want %q", c.text, got, c.want)
		}
	}
}

func TestSounding(t *testing.T) {
	for code, want := range map[string]string{"ME": "US-ME", "PA": "US-PA", "IN": "US-IN", "PE": "CA-PE", "CA": "",
		"US": "", "US-ME": "", "JP": "", "VT": "", "": ""} {
		if got := Sounding(code); got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
	}
}

func TestName(t *testing.T) {
	for _, c := range []struct{ code, english, french string }{
		{"CA-PE", "Prince Edward Island", "Île-du-Prince-Édouard"}, {"US-PA", "Pennsylvania", "Pennsylvanie"},
		{"US", "United States", "États-Unis"}, {"JP-01", "JP-01", "JP-01"},
	} {
		if en, fr := Name(c.code, language.English), Name(c.code, language.CanadianFrench); en != c.english ||
			fr != c.french {
			t.Errorf("%s: %q, %q", c.code, en, fr)
		}
	}
}

func FuzzNear(f *testing.F) {
	f.Add("US-TV")
	f.Add("Québec")
	f.Fuzz(func(t *testing.T, text string) {
		for _, c := range Near(text) {
			if !Exists(c) {
				t.Errorf("%q: %s does not exist", text, c)
			}
		}
		Fault(text).English()
	})
}

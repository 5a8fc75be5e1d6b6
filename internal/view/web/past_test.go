package web

import (
	"math"
	"net/http"
	"net/url"
	"reflect"
	"strings"
	"testing"

	"spile/internal/trade/past"
	"spile/internal/trade/unit"
)

// typedPast puts rows of past seasons into the form of them.
func typedPast(f url.Values, rows ...string) url.Values {
	for i, r := range rows {
		f["r"+string(rune('0'+i))] = strings.Split(r, "|")
	}
	return f
}

// Past seasons are typed in a table, with faults and what is unusual beside their cells; what was not changed stays as
// it was, to the last digit, and a season whose rows are cleared goes.
func TestPastSeasonsAreTyped(t *testing.T) {
	d := sit(t, true)
	form := func() url.Values { return with(d.form(d.get("/past"), "/past"), "do", "save") }
	seasons := func() []past.Season { return d.contents().Past }
	body := d.wants(d.post("/past", typedPast(form(), "2021|17.5|much||2.25|books", "|23|2.1|||", "21|20||||")),
		http.StatusUnprocessableEntity, "3 faults", "much", `value="17.5"`)
	if seasons() != nil {
		t.Fatal("half of it was kept")
	}
	f := with(typedPast(d.form(body, "/past"), "2021|17.5|1.9|amber|2.3|books", "2021|||dark|2.05|",
		"2022|80|2.1|amber|2.25|"), "do", "save")
	body = d.wants(d.post("/past", f), http.StatusUnprocessableEntity, "80 is beyond the usual", "52.8")
	accept := strings.Split(strings.Split(body, `name="accept" value="`)[1], `"`)[0]
	d.wants(d.post("/past", with(with(d.form(body, "/past"), "accept", accept), "do", "save")), http.StatusSeeOther)
	first := seasons()
	if len(first) != 2 || math.Abs(*first[0].YieldL/unit.USGallon.Of(17.5).In(unit.Litre)-1) > 1e-9 ||
		len(first[0].Prices) != 2 || first[0].Source != "books" {
		t.Fatalf("%+v", first)
	}
	if body := d.get("/past"); strings.Contains(body, "beyond the usual") {
		t.Error("what was said to be meant is asked again")
	}
	change := d.contents().Change
	d.wants(d.post("/past", form()), http.StatusSeeOther)
	if now := d.contents(); now.Change != change || !reflect.DeepEqual(now.Past, first) {
		t.Error("a form that was only sent changed something")
	}
	f = form()
	f["r2"][1] = "24"
	d.wants(d.post("/past", f), http.StatusSeeOther)
	if now := seasons(); !reflect.DeepEqual(now[0], first[0]) || now[1].YieldL == first[1].YieldL {
		t.Errorf("changed: %+v", now)
	}
	if body := d.get("/history"); !strings.Contains(body, `data-name="before">80</td>`) {
		t.Error("the history does not tell what was before")
	}
	d.wants(d.post("/past", typedPast(form(), "|||||", "|||||")), http.StatusSeeOther)
	if now := seasons(); len(now) != 1 || now[0].Year != 2022 {
		t.Errorf("taken away: %+v", now)
	}
}

// A table that is brought is shown in the form, beside what is held, and kept from there.
func TestPastSeasonsAreBrought(t *testing.T) {
	d := sit(t, false)
	body := d.wants(d.upload("past.csv", "Année;Rendement (gal);Sucre;Prix ($/lb)\n2020;19;2,2;2,1\n"+
		"2021;17,5;1,9;2,3\n", nil), http.StatusOK, "Nothing is kept before you save it", `value="2.2"`)
	if d.contents().Past != nil {
		t.Fatal("kept before it was looked over")
	}
	d.wants(d.post("/past", with(d.form(body, "/past"), "do", "save")), http.StatusSeeOther)
	body = d.wants(d.upload("past.csv", "season,yield_gal\n2019,16\n2021,18\n", nil), http.StatusOK)
	if now := d.contents().Past; len(now) != 2 {
		t.Fatalf("%+v", now)
	}
	d.wants(d.post("/past", with(d.form(body, "/past"), "do", "save")), http.StatusSeeOther)
	now := d.contents().Past
	if len(now) != 3 || *now[1].Brix != 2.2 || now[2].Brix != nil ||
		math.Abs(*now[2].YieldL-unit.USGallon.Of(18).In(unit.Litre)) > 1e-9 {
		t.Errorf("%+v", now)
	}
	d.wants(d.upload("past.csv", "season,yield_l\n2021,-3\n", nil), http.StatusUnprocessableEntity, "above 0")
}

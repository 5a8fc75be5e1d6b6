// The house: which package of ours imports which. A package is one idea, and its row names what it needs and no more.
package internal_test

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// house is the table, storey by storey: what each package imports of each storey. note is open to all. What a row lacks
// or has too much the test says.
const house = `
cmd/spile       view: figure publish report say show web web/door web/trees worksheet files: book output people reach sheet engine: advice compare design harvest pool
                power sure worth trade: bush doubt evidence input place practice price trial unit top: demo
view/deck
view/figure     view: paper
view/markup     view: figure paper show
view/own        view: markup say show files: sheet engine: advice plan trade: bush column place practice price species unit
view/paper
view/publish    view: markup own publish/engine say show engine: advice trade: practice
view/publish/engine
view/report     view: deck figure markup paper say show engine: advice trade: practice trial
view/say        trade: place unit
view/show       view: figure say files: sheet engine: advice budget compare effect harvest plan pool power rotation sure trust worth year
                trade: evidence input practice price trial unit weather
view/web        view: say web/door web/edit web/look web/page web/sugarbush web/trees files: book people engine: advice
view/web/door   view: web/page files: book people
view/web/page   view: figure markup report say show files: book people sheet engine: advice trade: column doubt evidence gloss input practice
                station trial
view/web/look   view: markup report say show worksheet web/page engine: advice pool trade: evidence place practice price
view/web/trees  view: report say show web/page files: book sheet engine: compare design effect harvest power
                trade: column gloss practice trial unit weather
view/web/edit   view: report say show web/look web/page web/sugarbush files: book people sheet engine: advice trade: bush column
                doubt evidence gloss input past place practice price station trial unit
view/web/sugarbush view: markup report say show web/page files: book sheet trade: bush column price species
view/worksheet  view: say show engine: advice trade: practice price sap
files/book      trade: bush doubt evidence gloss input past practice price station trial unit weather
files/output
files/people    files: book trade: station
files/reach     files: book
files/sheet     trade: bush column doubt evidence gloss input past practice price trial unit weather
engine/advice   engine: budget compare effect harvest plan pool rotation sure trust worth year trade: bush evidence input practice price
                species trial unit
engine/budget   trade: practice price sap
engine/compare  engine: effect harvest mvt reml trade: evidence practice sap trial unit weather
engine/design   engine: stream trade: evidence practice trial
engine/effect   trade: evidence practice unit
engine/harvest  engine: mvt trade: practice sap trial unit weather
engine/mixture
engine/mvt      engine: stream
engine/plan     engine: budget pool sure year trade: bush evidence practice price species unit
engine/pool     engine: effect mixture mvt reml trade: evidence practice
engine/power    engine: compare harvest design mvt stream trade: practice trial
engine/reml
engine/rotation engine: pool
engine/stream
engine/sure     engine: budget pool year trade: practice
engine/trust    engine: effect mixture mvt pool reml trade: practice
engine/worth    engine: pool sure trade: practice
engine/year     trade: past
trade/bush      trade: column doubt practice price species unit
trade/column
trade/doubt
trade/evidence  trade: column doubt gloss practice sap unit
trade/input     trade: bush doubt evidence gloss past practice price trial
trade/gloss
trade/past      trade: column doubt unit
trade/place
trade/practice  trade: gloss place
trade/price     trade: column doubt place practice unit
trade/sap       trade: unit
trade/species
trade/station
trade/trial     trade: column doubt evidence place practice unit weather
trade/unit
trade/weather   trade: unit
cluster
crosscheck      engine: reml trade: practice trial unit
demo
note
textflow
`

// below is the storeys that a storey may stand on: what keeps data needs no computation.
var below = map[string][]string{
	"trade": {"trade"}, "engine": {"engine", "trade"}, "files": {"files", "trade"},
	"view": {"view", "files", "engine", "trade"},
}

// rows reads the table.
func rows() map[string][]string {
	rows, room, storey := map[string][]string{}, "", ""
	for line := range strings.Lines(house) {
		words := strings.Fields(line)
		if len(words) > 0 && line[0] != ' ' {
			room, words = words[0], words[1:]
			rows[room] = nil
		}
		for _, word := range words {
			if at, ok := strings.CutSuffix(word, ":"); ok {
				storey = at + "/"
			} else {
				rows[room] = append(rows[room], strings.TrimPrefix(storey+word, "top/"))
			}
		}
	}
	return rows
}

func TestHouse(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "spile/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	rows := rows()
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p struct {
			ImportPath string
			Imports    []string
		}
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		room := strings.TrimPrefix(strings.TrimPrefix(p.ImportPath, "spile/"), "internal/")
		if room == "internal" {
			continue // it holds this test only
		}
		row, known := rows[room]
		if !known {
			t.Errorf("%s has no row in the house: give it one", room)
		}
		delete(rows, room)
		storey, _, _ := strings.Cut(room, "/")
		for _, path := range p.Imports {
			other, ours := strings.CutPrefix(path, "spile/internal/")
			if !ours || other == "note" {
				continue
			}
			if on, _, _ := strings.Cut(other, "/"); below[storey] != nil && !slices.Contains(below[storey], on) {
				t.Errorf("%s imports %s, and %s stands on %s alone", room, other, storey,
					strings.Join(below[storey], ", "))
			}
			at := slices.Index(row, other)
			if at < 0 {
				t.Errorf("%s imports %s, which its row does not name", room, other)
				continue
			}
			row = slices.Delete(slices.Clone(row), at, at+1)
		}
		if len(row) > 0 {
			t.Errorf("the row of %s names what it does not import: %s", room, strings.Join(row, " "))
		}
	}
	for room := range rows {
		t.Errorf("the house has a row for %s, and there is no such package", room)
	}
}

// The engine of published pages holds what a phone has to read and keep: of all that its packages could use it links
// nothing that writes or reads for a desk, and no language of templates, which keeps every method of every type.
func TestEngineIsLight(t *testing.T) {
	list := exec.Command("go", "list", "-deps", "spile/cmd/room")
	list.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	out, err := list.Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, heavy := range []string{"html/template", "text/template", "image/png", "codeberg.org/go-pdf/fpdf",
		"github.com/xuri/excelize/v2", "modernc.org/sqlite", "net/http", "golang.org/x/text/language/display",
		"spile/internal/files/book", "spile/internal/view/report"} {
		if slices.Contains(strings.Fields(string(out)), heavy) {
			t.Errorf("the engine links %s", heavy)
		}
	}
}

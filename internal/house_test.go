// The house: which package of ours may import which. A package is one idea, and imports only from its row here.
package internal_test

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// domain is the pure packages whose values travel: every row that shows, stores or reads results may name them.
const domain = "trade/doubt engine/advice engine/plan engine/worth engine/sure engine/compare engine/power engine/harvest engine/design trade/trial trade/weather engine/rotation engine/budget engine/pool engine/effect trade/input trade/bush trade/price trade/evidence trade/practice trade/place trade/column trade/sap trade/unit"

// rows is the table of docs/decisions.md; note is open to all.
var rows = map[string]string{
	"cmd/spile":       "view/web view/report view/show view/say view/figure files/book files/output files/sheet demo " + domain,
	"view/web":        "view/report view/show view/say view/figure files/book files/sheet " + domain,
	"view/report":     "view/show view/say view/figure view/paper " + domain,
	"demo":            "",
	"view/show":       "view/say view/figure " + domain,
	"view/figure":     "view/paper",
	"view/paper":      "",
	"view/say":        "trade/unit",
	"files/sheet":     domain,
	"files/book":      domain,
	"engine/advice":   "engine/worth engine/sure engine/plan engine/compare trade/trial trade/weather engine/rotation engine/budget engine/pool engine/effect trade/input trade/bush trade/price trade/evidence trade/practice trade/sap trade/unit",
	"engine/worth":    "engine/sure engine/rotation engine/budget engine/pool trade/price trade/practice",
	"engine/sure":     "engine/rotation engine/budget engine/pool trade/practice",
	"engine/plan":     "engine/sure engine/rotation engine/budget engine/pool trade/bush trade/price trade/practice trade/unit",
	"engine/rotation": "engine/pool engine/reml engine/budget trade/price trade/practice",
	"engine/power":    "engine/compare engine/design engine/mvt engine/stream trade/trial trade/practice",
	"engine/compare":  "engine/harvest engine/mvt engine/reml engine/effect trade/trial trade/evidence trade/weather trade/practice trade/sap trade/unit",
	"engine/harvest":  "engine/mvt trade/trial trade/weather trade/practice trade/sap trade/unit",
	"engine/design":   "engine/stream trade/trial trade/evidence trade/practice",
	"engine/mvt":      "engine/stream",
	"engine/stream":   "",
	"engine/trust":    "engine/mvt engine/pool engine/effect engine/reml trade/practice",
	"engine/pool":     "engine/effect trade/evidence engine/reml trade/practice",
	"engine/effect":   "trade/evidence trade/practice trade/unit",
	"engine/budget":   "trade/price trade/practice trade/sap",
	"trade/input":     "trade/trial trade/bush trade/price trade/evidence trade/practice",
	"trade/bush":      "trade/price trade/column trade/practice trade/unit",
	"trade/price":     "trade/column trade/place trade/practice trade/unit",
	"trade/trial":     "trade/column trade/evidence trade/place trade/weather trade/practice trade/unit",
	"trade/evidence":  "trade/practice trade/column trade/unit",
	"trade/weather":   "trade/unit",
	"trade/sap":       "trade/unit",
	"engine/reml":     "",
	"trade/practice":  "trade/place",
	"trade/place":     "",
	"trade/column":    "",
	"trade/unit":      "",
	"note":            "",

	"crosscheck": "engine/reml engine/budget engine/mvt trade/trial trade/practice trade/unit", // values of other software and the models they are of, for tests

	"trade/doubt":  "",
	"view/deck":    "",
	"files/output": "",
}

func TestHouse(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "spile/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
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
			t.Errorf("%s has no row in the house: give it one, here and in docs/decisions.md", room)
			continue
		}
		seen++
		for _, path := range p.Imports {
			other, ours := strings.CutPrefix(path, "spile/internal/")
			if ours && other != "note" && !slices.Contains(strings.Fields(row), other) {
				t.Errorf("%s imports %s; its row allows: %s", room, other, row)
			}
		}
	}
	if seen < len(rows) {
		t.Errorf("go list shows %d packages of ours, the table has %d", seen, len(rows))
	}
}

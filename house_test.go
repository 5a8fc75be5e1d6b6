// The house: which package of ours may import which. A package is one idea, and imports only from its row here.
package spile_test

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
const domain = "advice plan worth risk trial weather rotation budget pool evidence practice sap unit"

// rows is the table of docs/decisions.md; note is open to all.
var rows = map[string]string{
	"cmd/spile": "web report show say figure book sheet demo " + domain,
	"web":       "report show say figure book sheet " + domain,
	"report":    "show say figure paper " + domain,
	"demo":      "",
	"show":      "say figure " + domain,
	"figure":    "paper",
	"paper":     "",
	"say":       "unit",
	"sheet":     domain,
	"book":      domain,
	"advice":    "worth risk plan trial weather rotation budget pool evidence practice sap unit",
	"worth":     "risk rotation budget pool practice",
	"risk":      "rotation budget pool practice",
	"plan":      "risk rotation budget pool practice unit",
	"rotation":  "pool reml budget",
	"trial":     "evidence reml weather practice sap unit",
	"pool":      "evidence reml practice",
	"budget":    "practice sap unit",
	"evidence":  "practice unit",
	"weather":   "unit",
	"sap":       "unit",
	"reml":      "",
	"practice":  "",
	"unit":      "",
	"note":      "",

	"crosscheck": "reml", // values of other software and the models they are of, for tests
}

func TestHouse(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports,Dir", "./...").Output()
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
		room, ours := strings.CutPrefix(p.ImportPath, "spile/")
		if !ours {
			continue // the root holds tests only
		}
		row, known := rows[room]
		if !known {
			t.Errorf("%s has no row in the house: give it one, here and in docs/decisions.md", room)
			continue
		}
		seen++
		for _, path := range p.Imports {
			other, ours := strings.CutPrefix(path, "spile/")
			if ours && other != "note" && !slices.Contains(strings.Fields(row), other) {
				t.Errorf("%s imports %s; its row allows: %s", room, other, row)
			}
		}
	}
	if seen < len(rows) {
		t.Errorf("go list shows %d packages of ours, the table has %d", seen, len(rows))
	}
}

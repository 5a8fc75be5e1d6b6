package publish

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"spile/internal/engine/advice"
	"spile/internal/view/say"
)

// licences are those of open data that are usual, by their identifiers of SPDX (spdx.org/licenses).
var licences = []string{"CC0-1.0", "CC-BY-3.0", "CC-BY-4.0", "CC-BY-SA-4.0", "CC-BY-NC-4.0", "CC-BY-NC-SA-4.0",
	"CC-BY-ND-4.0", "CC-BY-NC-ND-4.0", "ODbL-1.0", "ODC-By-1.0", "PDDL-1.0", "OGL-Canada-2.0", "OGL-UK-3.0",
	"etalab-2.0"}

// Licence is the identifier of a licence as people write it ("CC BY 4.0"); "" where it is none of the usual ones.
func Licence(text string) string {
	bare := func(s string) string { return strings.ToLower(strings.NewReplacer(" ", "", "-", "").Replace(s)) }
	i := slices.IndexFunc(licences, func(id string) bool { return bare(id) == bare(text) })
	if i < 0 {
		return ""
	}
	return licences[i]
}

// citation is how the data are cited, as the Citation File Format 1.2.0 (doi.org/10.5281/zenodo.5171937) asks: it is in
// English, and takes no licence that has no identifier of SPDX.
func citation(a *advice.Advice, o Options, digest string) []byte {
	v := say.In("en")
	var b strings.Builder
	put := func(key, value string) {
		if value != "" {
			fmt.Fprintf(&b, "%s: %s\n", key, strconv.Quote(value))
		}
	}
	put("cff-version", "1.2.0")
	put("message", v.Text("To cite it: %s", cite(v, a, o, digest)))
	put("type", "dataset")
	put("title", v.Text("Tap holes and drops: what pays"))
	fmt.Fprintf(&b, "authors:\n  - name: %s\n", strconv.Quote(o.By))
	put("version", digest)
	put("date-released", a.Input.Prices.AsOf)
	id := Licence(o.Licence)
	put("license", id)
	if id == "" && o.Licence != "" {
		put("abstract", v.Text("The data may be used as the licence %s says.", o.Licence))
	}
	return []byte(b.String())
}

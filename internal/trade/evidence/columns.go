package evidence

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"spile/internal/trade/column"
	"spile/internal/trade/practice"
	"spile/internal/trade/sap"
	"spile/internal/trade/unit"
)

// Row is a row of an evidence table: an arm, and the study that it is of.
type Row struct {
	Study  *Study
	Arm    *Arm
	Limits *Limits // what a table gives of the interval of the mean, whose standard error is kept; nil: not asked for
}

// Limits are the ends of an interval of a mean, in the unit of the mean, and its level in percent.
type Limits struct{ Low, High, Level *float64 }

// SE is the standard error behind limits: half their width over the quantile of Student's t with one degree of freedom
// less than there are units, of the normal where that is not known (Higgins, Li & Deeks, Cochrane Handbook for
// Systematic Reviews of Interventions, 6.5.2.2); nil where one of them is not given.
func (l Limits) SE(n *float64) *float64 {
	if l.Low == nil || l.High == nil || l.Level == nil {
		return nil
	}
	p := 0.5 + *l.Level/200
	q := distuv.UnitNormal.Quantile(p)
	if n != nil && *n > 1 {
		q = distuv.StudentsT{Sigma: 1, Nu: *n - 1}.Quantile(p)
	}
	return new((*l.High - *l.Low) / 2 / q)
}

// Part is what a column speaks of.
type Part int

const (
	OfStudy  Part = iota // the study, over all its rows
	Measured             // what was measured in an arm
	Run                  // how an arm was run
)

// Column is a column of an evidence table.
type Column struct {
	column.Column[Row]
	Part   Part
	Once   bool // the rows of a study give one value, or none
	Joined bool // what the rows of a study give is put together
	// another column of the same thing in another unit: a row gives one of them, and it is written if it can be
	Twin string
}

// Columns is the columns of an evidence table, in their order. Usual values are common practice, without a source.
var Columns = []Column{
	{Part: OfStudy, Once: true, Column: column.Column[Row]{
		Name: "study", Needed: true, Label: "study",
		Headers: []string{"trial name", "experiment", "study name", "study id", "etude", "nom de l etude",
			"experience", "dataset", "report", "rapport"},
		Holds: "name of the study", Allowed: "any text; the same in all its rows, and in one file only",
		Field: column.Words(func(r Row) *string { return &r.Study.Name }),
	}},
	{Part: OfStudy, Once: true, Column: column.Column[Row]{
		Name: "site", Needed: true, Label: "site",
		Headers: []string{"location", "farm", "place", "sugarbush", "station", "lieu", "erabliere", "endroit",
			"field", "orchard", "bush", "ferme", "emplacement", "secteur", "sector", "woodlot", "boise", "site name",
			"trial site", "study site", "cooperator", "co operator", "producer", "grower", "owner", "producteur",
			"productrice", "proprietaire", "cooperateur", "research site", "nom du site"},
		Holds: "where it was done; studies of one site share its effect",
		Field: column.Words(func(r Row) *string { return &r.Study.Site }),
	}},
	{Part: OfStudy, Once: true, Column: column.Column[Row]{
		Name: "season", Needed: true, Bounds: column.Spring, Label: "season", Hint: "the year of the spring",
		Headers: []string{"year", "spring", "annee", "saison", "printemps", "years", "seasons", "annees", "saisons",
			"an", "sap season", "season year", "crop year", "crop yr", "harvest year", "production year",
			"annee de recolte", "annee de production", "yr", "spring of", "season of", "printemps de"},
		Holds: "the year of the spring",
		Field: column.Field[Row]{
			Kind: column.Whole,
			Get:  func(r Row) any { return r.Study.Season },
			Set:  func(r Row, v any) { r.Study.Season = v.(int) },
		},
	}},
	{Part: OfStudy, Column: column.Column[Row]{
		Name: "practice", Needed: true, Label: "practice",
		Headers: []string{"treatment", "method", "arm", "pratique", "traitement", "methode",
			"trt", "treat", "tmt", "intervention", "what was done", "sanitation", "assainissement", "variant",
			"variante", "variety", "gen"},
		Holds: "what was done in this arm", Allowed: "a key of the [table below](#practices), or one of your own",
		Field: column.Key(func(r Row) *practice.Key { return &r.Arm.Practice }),
	}},
	{Part: OfStudy, Column: column.Column[Row]{
		Name: "reference", Label: "reference", Headers: []string{"control", "temoin", "est temoin", "is control",
			"is reference", "baseline"},
		Holds:   "is this the arm that the study's gains are against?",
		Allowed: "`yes`, `no` or empty; on one arm at most. Where none is marked it is the arm `unsanitized`",
		Field:   column.Yes(func(r Row) *bool { return &r.Arm.Reference }),
	}},
	{Part: OfStudy, Once: true, Column: column.Column[Row]{
		Name: "kind", Words: []string{string(Replicated), string(Unreplicated), string(ProducerReport)}, Label: "kind",
		Hint: "left open: told by the numbers", Headers: []string{"kind of study", "type d etude", "study type",
			"design", "type"},
		Said: map[string][]string{
			string(Replicated): {"replicated trial", "randomized", "randomised", "rct", "blocks", "repete",
				"avec repetitions",
				"randomise", "scientific", "research", "recherche"},
			string(Unreplicated): {"not replicated", "side by side", "non repete", "sans repetition",
				"demonstration", "demo",
				"cote a cote"},
			string(ProducerReport): {"producer", "farmer", "on farm", "testimonial", "producteur", "acericulteur",
				"temoignage",
				"grower", "survey", "sondage"},
		},
		Holds: "how far the study measures its own error",
		Allowed: "`replicated`, `unreplicated`, `producer-report`; empty: replicated where an arm has two units or " +
			"more or an error is given, else not known. A producer's report is kept, and out unless asked for",
		Field: column.Words(func(r Row) *Kind { return &r.Study.Kind }),
	}},
	{Part: OfStudy, Once: true, Column: column.Column[Row]{
		Name: "trial", Label: "trial", Hint: "one name over its seasons", Headers: []string{"essai",
			"nom de l essai"},
		Holds: "one name over the seasons of a trial repeated on the same units",
		Field: column.Words(func(r Row) *string { return &r.Study.Trial }),
	}},
	{Part: OfStudy, Once: true, Column: column.Column[Row]{
		Name: "unit", Words: []string{string(Tree), string(Chamber), string(Mainline)}, Label: "unit",
		Hint:    "what was randomised",
		Headers: []string{"experimental unit", "unite", "unite experimentale", "plot", "parcelle"},
		Said: map[string][]string{
			string(Tree): {"trees", "single tree", "arbre", "arbres", "erable", "erables", "bucket", "chaudiere"},
			string(Chamber): {"chambers", "vacuum chamber", "chambre", "chambres", "group of trees",
				"groupe d arbres", "canister"},
			string(Mainline): {"mainlines", "main line", "main", "line", "maitre ligne", "maitres lignes",
				"collecteur",
				"collecteurs", "ligne", "section"},
		},
		Holds:   "what was randomised",
		Allowed: "`tree`, `chamber` (trees on one chamber), `mainline`",
		Field:   column.Words(func(r Row) *UnitKind { return &r.Study.Unit }),
	}},
	{Part: Measured, Column: column.Column[Row]{
		Name: "mean", Bounds: column.Positive, Unit: "`mean_unit`", Label: "mean sap a tap",
		Headers: []string{"yield", "sap", "sap per tap", "mean yield", "average", "yield per tap", "rendement",
			"moyenne", "rendement a l entaille",
			"rendement par entaille", "per tap", "par entaille", "a l entaille", "sap yield",
			"sap yield per tap", "mean sap", "mean sap per tap", "volume", "sap volume", "eau d erable",
			"eau par entaille", "coulee par entaille", "sap a tap", "seve", "seve par entaille", "volume per tap",
			"volume par entaille", "rendement moyen", "sap tap",
			"sap entaille", "seve entaille", "eau entaille", "rendement entaille", "yield tap", "volume tap",
			"volume entaille", "rdt", "rend", "recolte", "recolte d eau", "harvest", "sap harvest", "production"},
		Ways:  slices.Concat(volumes, wholeUnits, syrups, sugars),
		Holds: "sap per tap over the season", Field: column.Of(func(r Row) **float64 { return &r.Arm.Mean }),
	}},
	{Part: Measured, Once: true, Column: column.Column[Row]{
		Name: "mean_unit", Words: []string{string(unit.USGallon), string(unit.ImperialGallon), string(unit.Litre)},
		Label: "unit of the mean",
		Hint:  "one for all rows", Headers: []string{"yield unit", "units of yield", "unite de rendement",
			"yield units",
			"volume unit", "unite de volume", "unite de la moyenne"},
		Holds: "unit of `mean`, `sd` and `se`; one a study",
		Allowed: "`gal` (US gallon, 3.785411784 L), `gal_imp` (imperial gallon, 4.54609 L), `l`; empty: unknown, " +
			"gains are still right",
		Field: column.Unit(func(r Row) *unit.VolumeUnit { return &r.Arm.MeanUnit }),
	}},
	{Part: Measured, Column: column.Column[Row]{
		Name: "n", Bounds: column.Count, Usual: column.Range{Low: 1, High: 200}, Label: "units",
		Headers: []string{"reps", "replicates", "sample size", "no of units", "repetitions", "nombre d unites",
			"rep", "n reps", "no of reps", "number of reps", "no of", "number of", "nb de", "nombre de", "nb", "no",
			"nombre", "nb rep", "nb de rep", "nb de repetitions",
			"number of units", "n units", "count"},
		Ways: []column.Way{
			{Key: "trees", Label: "each unit a tree", Says: []string{"trees", "tree", "arbres", "d arbres",
				"erables", "d erables"}, Beside: "unit",
				Is: string(Tree)},
			{Key: "chambers", Label: "each unit a chamber", Says: []string{"chambers", "chamber",
				"chambres"}, Beside: "unit", Is: string(Chamber)},
			{Key: "mainlines", Label: "each unit a mainline", Says: []string{"mainlines", "mainline", "main lines",
				"lines",
				"maitres lignes", "collecteurs", "lignes"},
				Beside: "unit", Is: string(Mainline)},
		},
		Holds: "units (trees, chambers or mainlines) in the arm",
		Allowed: "whole, 1 or more; empty: with an `se` not needed, else the usual number " +
			"of its kind of unit, where three arms or more state theirs; 1 in a study that is unreplicated",
		Field: column.Of(func(r Row) **float64 { return &r.Arm.N }),
	}},
	{Part: Measured, Column: column.Column[Row]{
		Name: "sd", Bounds: column.Positive, Unit: "`mean_unit`", Label: "sd between units",
		Headers: []string{"std dev", "stdev", "standard deviation", "ecart type", "s d",
			"std", "sd between units", "et", "e t", "s", "ecart std"}, Ways: slices.Concat(volumes, shares, variances),
		Holds: "standard deviation between units", Field: column.Of(func(r Row) **float64 { return &r.Arm.SD }),
	}},
	{Part: Measured, Column: column.Column[Row]{
		Name: "se", Bounds: column.Positive, Unit: "`mean_unit`", Label: "se of the mean",
		Headers: []string{"std err", "stderr", "standard error", "sem", "erreur type", "s e",
			"s e m", "se of mean", "erreur standard", "std error"}, Ways: slices.Concat(volumes, shares),
		Holds:   "standard error of the mean",
		Allowed: "above 0; one of `sd` and `se` is enough, two must agree within 5 %",
		Field:   column.Of(func(r Row) **float64 { return &r.Arm.SE }),
	}},
	limit("mean_low", "low end of the mean", "low end of the mean's interval; its standard error is kept",
		[]string{"mean low", "lower mean", "borne inferieure de la moyenne"},
		func(l *Limits) **float64 { return &l.Low }),
	limit("mean_high", "high end of the mean", "high end of the mean's interval",
		[]string{"mean high", "upper mean", "borne superieure de la moyenne"},
		func(l *Limits) **float64 { return &l.High }),
	{Part: Measured, Column: column.Column[Row]{
		Name: "level", Bounds: column.Bounds{Low: 50, High: 99.99}, Unit: "%", Label: "level of the interval, %",
		Headers: []string{"confidence level", "confidence", "niveau de confiance"},
		Holds:   "how often such an interval holds the mean, of which `mean_low` and `mean_high` are the ends",
		Field:   limits(func(l *Limits) **float64 { return &l.Level }),
	}},
	{Part: Measured, Column: column.Column[Row]{
		Name: "gain_pct", Bounds: gain, Usual: column.Range{Low: -20, High: 200}, Unit: "%", Label: "gain, %",
		Headers: []string{"gain", "increase", "percent gain", "percent increase", "gain percent", "augmentation",
			"gain en pourcentage", "pct gain", "pct increase", "more sap", "over control", "increase over control",
			"gain over control", "hausse", "difference", "gain sur le temoin", "response", "change", "percent change",
			"change in yield", "variation", "vs control", "vs check", "gain vs control", "increase vs control",
			"difference from control", "diff from control", "diff vs control", "vs temoin", "gain vs temoin", "ecart",
			"gain loss", "gain or loss", "gain perte", "gain ou perte"},
		Ways:  ofGains,
		Holds: "percent more sap than the reference", Field: column.Field[Row]{
			Kind: column.Number,
			Get: func(r Row) any {
				if r.Arm.Gain == nil {
					return nil
				}
				return r.Arm.Gain.Pct
			},
			Set: func(r Row, v any) {
				r.Arm.Gain = &Reported{Pct: v.(float64)}
			},
		},
	}},
	{Part: Measured, Column: column.Column[Row]{
		Name: "gain_said", Label: "gain, in words", Hint: "where it is no number", Headers: []string{"gain en mots"},
		Holds: "what a report says of the gain, where that is no number",
		Allowed: "any text, such as `not significant`, `> 30` or `15 to 60`, which `gain_pct` takes too; " +
			"the row is listed, and not pooled",
		Field: column.Words(func(r Row) *string { return &r.Arm.Said }),
	}},
	{Part: Measured, Column: column.Column[Row]{
		Name: "gain_se_pct", Bounds: column.Positive, Unit: "%", Label: "se of the gain, %",
		Headers: []string{"erreur type du gain", "se of gain", "gain se", "standard error of gain"},
		Ways: []column.Way{
			{Key: ofLog.Key, Label: "of the logarithm of the ratio", Says: spreadsOfLog, Factor: 100,
				Share: "gain_pct"},
			{Key: ofLog.Key + "_var", Label: "as the variance of the logarithm of the ratio", Says: []string{"vi",
				"v lnrr", "var lnrr", "variance of lnrr", "v ln rr", "var ln rr"},
				Bend: math.Sqrt, Factor: 100, Share: "gain_pct"},
			{Key: "fraction", Label: "as a fraction", Factor: 100},
			{Key: "ratio", Label: "as a ratio to the reference", Factor: 100},
		},
		Holds: "standard error of the gain", Field: reported(func(g *Reported) **float64 { return &g.SEPct }),
	}},
	{Part: Measured, Column: column.Column[Row]{
		Name: "gain_low_pct", Bounds: gain, Unit: "%", Label: "gain, low, %",
		Headers: []string{"lower limit", "ci low", "borne inferieure", "lower", "lcl", "ci lower", "lower ci",
			"lower 95", "gain low", "ic inf", "ic bas", "borne inf", "limite inferieure", "limite inf"},
		Ways:    ofGains,
		Holds:   "low end of the gain's 95 % interval",
		Allowed: "above −100, at most 1000; both ends or neither, low below high, the gain between them",
		Field:   reported(func(g *Reported) **float64 { return &g.LowPct }),
	}},
	{Part: Measured, Column: column.Column[Row]{
		Name: "gain_high_pct", Bounds: gain, Unit: "%", Label: "gain, high, %",
		Headers: []string{"upper limit", "ci high", "borne superieure", "upper", "ucl", "ci upper", "upper ci",
			"upper 95", "gain high", "ic sup", "ic haut", "borne sup", "limite superieure", "limite sup"},
		Ways:  ofGains,
		Holds: "high end of the gain's 95 % interval",
		Field: reported(func(g *Reported) **float64 { return &g.HighPct }),
	}},
	{Part: Measured, Column: column.Column[Row]{
		Name: "taps", Bounds: column.Count, Usual: column.Range{Low: 1, High: 2000}, Label: "taps a unit",
		Headers: []string{"taps per unit", "number of taps", "entailles", "nombre d entailles",
			"no of taps", "nb d entailles", "tap count", "entailles par unite"},
		Holds: "taps per unit", Field: column.Of(func(r Row) **float64 { return &r.Arm.Taps }),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "drop_age", Bounds: column.Seasons, Usual: column.Range{Low: 0, High: 20}, Unit: "seasons",
		Label: "age of drops, seasons",
		Headers: []string{"age of drops", "age of drop", "dropline age", "age des chutes", "age de la chute",
			"drops age", "drop line age", "age of drop lines", "age chute", "age chutes", "drops", "chutes"},
		Ways: ages, Said: unused,
		Holds:   "seasons the drops have been in use, 0 in their first; wanted on the reference too",
		Allowed: "whole, 0 to 100; for `new-drop` empty is 0",
		Field:   column.WholeOf(func(r Row) **int { return &r.Arm.DropAge }),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "spout_age", Bounds: column.Seasons, Usual: column.Range{Low: 0, High: 10}, Unit: "seasons",
		Label:   "age of spouts, seasons",
		Headers: []string{"age of spouts", "age of spout", "age des chalumeaux", "age du chalumeau", "age chalumeau"},
		Ways:    ages, Said: unused,
		Holds: "seasons the spouts have been in use",
		Field: column.WholeOf(func(r Row) **int { return &r.Arm.SpoutAge }),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "vacuum_inhg", Bounds: column.InHg, Usual: column.Range{Low: 5, High: 28.5}, Unit: "inHg (3.386389 kPa)",
		Label: "vacuum, inHg",
		Headers: []string{"vacuum", "vacuum in hg", "vide", "vide po hg", "vacuum inhg", "vacuum hg", "vac",
			"vacuum level", "vacuum inches", "vide pohg", "niveau de vide"},
		Ways: []column.Way{{Key: "inhg", Label: "inHg", Says: unit.Said["inhg"]},
			{Key: "kpa", Label: "kPa", Says: unit.Said["kpa"], Factor: unit.Kilopascal.Of(1).In(unit.InchOfMercury)}},
		Holds:   "vacuum at the tap",
		Allowed: "0 to 29.92; not beside `vacuum_kpa`",
		Field: column.Field[Row]{
			Kind: column.Number,
			Get: func(r Row) any { // as a reader would write it, where that is the same number to the last bit
				if r.Arm.Vacuum != nil {
					x := math.Round(float64(*r.Arm.Vacuum)/float64(unit.InchOfMercury.Of(1))*1e4) / 1e4
					if unit.InchOfMercury.Of(x) == *r.Arm.Vacuum {
						return x
					}
				}
				return nil
			},
			Set: func(r Row, v any) { r.Arm.Vacuum = new(unit.InchOfMercury.Of(v.(float64))) },
		},
	}},
	{Part: Run, Twin: "vacuum_inhg", Column: column.Column[Row]{
		Name: "vacuum_kpa", Bounds: column.KPa, Usual: column.Range{Low: 17, High: 96.5}, Unit: "kPa",
		Label: "vacuum, kPa",
		Headers: []string{"vacuum in kpa", "vide en kpa", "vide kpa", "vacuum kpa", "vac kpa", "vacuum", "vide",
			"vac", "vacuum level", "niveau de vide"},
		Ways: pressures, Holds: "vacuum at the tap",
		Field: column.Field[Row]{
			Kind: column.Number,
			Get: func(r Row) any {
				if r.Arm.Vacuum != nil {
					return float64(*r.Arm.Vacuum)
				}
				return nil
			},
			Set: func(r Row, v any) { r.Arm.Vacuum = new(unit.Pressure(v.(float64))) },
		},
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "tubing_in", Bounds: column.Bounds{Low: 0, High: 4, Open: true},
		Usual: column.Range{Low: 0.17, High: 0.5}, Unit: "inches",
		Label: "tubing, inches",
		Headers: []string{"tubing", "tubing size", "lateral size", "tubulure", "diametre de la tubulure",
			"tubing diameter", "lateral", "lateral diameter", "tubing inches", "diametre du lateral"},
		Ways: []column.Way{{Key: "mm", Label: "mm", Says: []string{"mm", "millimetres",
			"millimeters"}, Factor: 1 / 25.4},
			{Key: "in", Label: "inches", Says: []string{"in", "inch", "inches", "po", "pouces"}}},
		Holds: "inside diameter of the lateral", Allowed: "`5/16`, `3/16` or a number above 0, at most 4",
		Field: column.Size(func(r Row) **float64 { return &r.Arm.TubingIn }),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "line_age", Bounds: column.Bounds{Low: 0, High: 100}, Usual: column.Range{Low: 0, High: 30},
		Unit: "seasons", Label: "age of tubing, seasons",
		Headers: []string{"age of line", "age of tubing", "lateral age", "tubing age", "age de la tubulure",
			"age tubulure",
			"age du lateral"},
		Ways: ages, Said: unused,
		Holds: "age of the lateral", Field: column.Of(func(r Row) **float64 { return &r.Arm.LineAge }),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "releaser", Words: []string{"mechanical", "electric"}, Label: "releaser",
		Said: map[string][]string{"mechanical": {"mech", "mecanique", "vacuum operated", "a flotteur"},
			"electric": {"electrical", "electrique", "elec", "sap pump"}},
		Headers: []string{"type of releaser", "extracteur"},
		Holds:   "kind of releaser", Field: column.Words(func(r Row) *string { return &r.Arm.Releaser }),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "pump", Words: []string{"runs-on", "cycled", noPump}, Label: "pump",
		Said: map[string][]string{
			"runs-on": {"on", "always on", "continuous", "24 7", "24 h", "left on", "continu", "en continu",
				"toujours en marche"},
			"cycled": {"on off", "thermostat", "day only", "intermittent", "cyclique", "par cycles",
				"jour seulement"},
			noPump: {"no pump", "gravity", "no", "off", "sans pompe", "gravite", "aucune", "aucun",
				"par gravite"}},
		Headers: []string{"vacuum pump", "pompe", "pompe a vide"},
		Holds:   "how the pump is run", Allowed: "`runs-on`, `cycled`, `none` (gravity)",
		Field: column.Words(func(r Row) *string { return &r.Arm.Pump }),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "tapped", Unit: "date", Label: "tapped",
		Headers: []string{"tap date", "tapping date", "date tapped", "date d entaillage", "entaillage",
			"tapped on", "tapping", "entaille le"},
		Holds: "day of tapping", Allowed: "in the season's year, or the winter before",
		Field: column.DayOf(func(r Row) *time.Time { return &r.Arm.Tapped.Time }),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "last_run", Unit: "date", Label: "last run",
		Headers: []string{"last run date", "end date", "derniere coulee", "fin de la saison",
			"end of season", "season end", "last sap", "date de la derniere coulee"},
		Holds: "day of the last run", Allowed: "after `tapped`",
		Field: column.DayOf(func(r Row) *time.Time { return &r.Arm.LastRun.Time }),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "product", Label: "product", Headers: []string{"chemical", "sanitizer", "produit"},
		Holds: "chemical that was used",
		Field: wash(column.Words(func(c *Chemical) *string { return &c.Product })),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "strength", Label: "strength", Headers: []string{"concentration", "dilution"},
		Holds: "its strength when used",
		Field: wash(column.Words(func(c *Chemical) *string { return &c.Strength })),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "contact_min", Bounds: column.NotBelow, Usual: column.Range{Low: 1, High: 1440}, Unit: "minutes",
		Label:   "contact, minutes",
		Headers: []string{"contact time", "minutes of contact", "temps de contact", "contact", "soak", "soak time"},
		Ways: []column.Way{{Key: "min", Label: "minutes", Says: []string{"min", "mins", "minutes", "minute"}},
			{Key: "s", Label: "seconds", Says: []string{"s", "sec", "seconds", "secondes"}, Factor: 1. / 60},
			{Key: "h", Label: "hours", Says: []string{"h", "hr", "hrs", "hours", "hour", "heures",
				"heure"}, Factor: 60},
			{Key: "days", Label: "days", Says: []string{"days", "day", "d", "jours", "jour", "j"}, Factor: 1440}},
		Holds: "minutes that it stood; without it two rinses are not the same thing",
		Field: wash(column.Of(func(c *Chemical) **float64 { return &c.ContactMin })),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "applied", Label: "applied", Headers: []string{"application", "how applied", "applique"},
		Holds: "how and when it was applied",
		Field: wash(column.Words(func(c *Chemical) *string { return &c.Applied })),
	}},
	{Part: Run, Column: column.Column[Row]{
		Name: "rinsed", Label: "rinsed", Headers: []string{"rinse", "rincage",
			"rince"}, Holds: "how it was rinsed out",
		Field: wash(column.Words(func(c *Chemical) *string { return &c.Rinsed })),
	}},
	{Part: OfStudy, Once: true, Column: column.Column[Row]{
		Name: "species", Label: "species", Headers: []string{"tree species", "essence", "espece"},
		Holds: "species tapped",
		Field: column.Words(func(r Row) *string { return &r.Study.Species }),
	}},
	{Part: OfStudy, Joined: true, Column: column.Column[Row]{
		Name: "weather", Label: "weather", Hint: "in words",
		Headers: []string{"season notes", "meteo", "conditions meteo", "season weather",
			"conditions"}, Holds: "the season in words",
		Allowed: "any text; [words](#caveats) that call it out of the usual set `freak-season`",
		Field:   joined(func(r Row) *string { return &r.Study.Weather }),
	}},
	{Part: OfStudy, Joined: true, Column: column.Column[Row]{
		Name: "funding", Label: "funding", Hint: "who paid",
		Headers: []string{"funded by", "sponsor", "financement", "finance par", "commanditaire"},
		Holds:   "who paid", Allowed: "any text; [words](#caveats) that name a maker set `interest`",
		Field: joined(func(r Row) *string { return &r.Study.Funding }),
	}},
	{Part: OfStudy, Joined: true, Column: column.Column[Row]{
		Name: "caveats", Label: "caveats",
		Headers: []string{"flags", "reserves", "mises en garde"},
		Holds:   "reasons to read the study with care",
		Allowed: "keys of the [table below](#caveats), or words of your own, separated by semicolons",
		Field: column.Field[Row]{
			Kind: column.Text,
			Get: func(r Row) any {
				if len(r.Study.Caveats) == 0 {
					return nil
				}
				words := make([]string, len(r.Study.Caveats))
				for i, c := range r.Study.Caveats {
					words[i] = string(c)
				}
				return strings.Join(words, "; ")
			},
			Set: func(r Row, v any) {
				for _, c := range ParseCaveats(v.(string)) {
					if !slices.Contains(r.Study.Caveats, c) {
						r.Study.Caveats = append(r.Study.Caveats, c)
					}
				}
			},
		},
	}},
	{Part: OfStudy, Joined: true, Column: column.Column[Row]{
		Name: "source", Label: "source", Hint: "where the numbers come from",
		Headers: []string{"reference text", "citation", "publication", "provenance", "where from",
			"where it is from", "ref"},
		Holds: "where the numbers come from",
		Field: joined(func(r Row) *string { return &r.Study.Source }),
	}},
}

// ages are how people count seasons, and unused what they write of plastic in its first.
var (
	ages = []column.Way{{Key: "seasons", Label: "seasons", Says: []string{"seasons", "season", "years", "year", "yrs",
		"yr", "y", "saisons", "saison", "ans", "an", "annees", "annee", "yr old", "yrs old", "year old", "years old",
		"seasons old", "season old"}}}
	unused = map[string][]string{"0": {"new", "brand new", "unused", "neuf", "neuve", "neufs", "neuves", "nouveau",
		"nouvelle"}}
)

// volumes are the units that a header or a cell may give a yield in.
var volumes = slices.Concat(ofOne, []column.Way{
	ofHundred("gal", "US gallons of 100 taps"), ofHundred("gal_imp", "imperial gallons of 100 taps"),
	ofHundred("l", "litres of 100 taps"),
})

// ofHundred is the unit of a volume that 100 taps gave.
func ofHundred(key, label string) column.Way {
	var says []string
	for _, said := range unit.Said[key] {
		says = append(says, said+" 100", said+" per 100", said+" par 100")
	}
	return column.Way{Key: key + "_100", Label: label, Says: says, Factor: 0.01, Beside: "mean_unit", Is: key}
}

var ofOne = []column.Way{
	{Key: "gal", Label: "US gallons", Says: append([]string{"gpt"}, unit.Said["gal"]...), Beside: "mean_unit",
		Is: string(unit.USGallon)},
	{Key: "gal_imp", Label: "imperial gallons", Says: unit.Said["gal_imp"], Beside: "mean_unit",
		Is: string(unit.ImperialGallon)},
	{Key: "l", Label: "litres", Says: unit.Said["l"], Beside: "mean_unit", Is: string(unit.Litre)},
	{Key: "ml", Label: "millilitres", Says: []string{"ml", "millilitres",
		"milliliters"}, Factor: 0.001, Beside: "mean_unit",
		Is: string(unit.Litre)},
	{Key: "qt", Label: "US quarts", Says: []string{"qt", "qts", "quart", "quarts"}, Factor: 0.25, Beside: "mean_unit",
		Is: string(unit.USGallon)},
	{Key: "kg", Label: "kilograms, at 2 °Bx", Says: []string{"kg", "kgs", "kilo", "kilos", "kilograms",
		"kilogrammes"}, Factor: 1 / sap.Density(2), Beside: "mean_unit", Is: string(unit.Litre)},
	{Key: "lb", Label: "pounds, at 2 °Bx", Says: []string{"lb", "lbs", "pound", "pounds", "livres", "livre"},
		Factor: float64(unit.Pound.Of(1)) / sap.Density(2), Beside: "mean_unit", Is: string(unit.Litre)},
}

// wholeUnits are yields of a unit as a whole, which are those of a tap once they are divided by its taps. No header
// says them alone.
var wholeUnits = []column.Way{
	{Key: "gal_unit", Label: "US gallons of a whole unit, by its taps", Per: "taps", Beside: "mean_unit",
		Is: string(unit.USGallon)},
	{Key: "gal_imp_unit", Label: "imperial gallons of a whole unit, by its taps", Per: "taps", Beside: "mean_unit",
		Is: string(unit.ImperialGallon)},
	{Key: "l_unit", Label: "litres of a whole unit, by its taps", Per: "taps", Beside: "mean_unit",
		Is: string(unit.Litre)},
}

// Sugar is what a yield of syrup needs: the sugar of the sap it was made of, in °Bx.
const Sugar = "sugar"

// SapSugar is what the sugar of sap may be, °Bx.
var SapSugar = column.Bounds{Low: 0.3, High: 15}

// SugarIn is the sugar in a litre of sap or syrup, in kilograms.
func SugarIn(brix float64) float64 { return float64(sap.Sugar(1, brix)) }

// SyrupBrix is the sugar of syrup where a table does not say of which place it is.
const SyrupBrix = 66.0

// syrups are yields of syrup, as those of the sap that holds their sugar: they are sugar, in kilograms or in kilograms
// a litre of sap, divided by that of a litre of the sap. No header says them alone.
var syrups = []column.Way{
	{Key: "syrup_gal", Label: "US gallons of syrup, by the sugar of the sap", Factor: SugarIn(SyrupBrix),
		Per: Sugar, Beside: "mean_unit", Is: string(unit.USGallon)},
	{Key: "syrup_qt", Label: "US quarts of syrup, by the sugar of the sap", Factor: 0.25 * SugarIn(SyrupBrix),
		Per: Sugar, Beside: "mean_unit", Is: string(unit.USGallon)},
	{Key: "syrup_gal_imp", Label: "imperial gallons of syrup, by the sugar of the sap",
		Factor: SugarIn(SyrupBrix), Per: Sugar, Beside: "mean_unit", Is: string(unit.ImperialGallon)},
	{Key: "syrup_l", Label: "litres of syrup, by the sugar of the sap", Factor: SugarIn(SyrupBrix),
		Per: Sugar, Beside: "mean_unit", Is: string(unit.Litre)},
	{Key: "syrup_ml", Label: "millilitres of syrup, by the sugar of the sap",
		Factor: 0.001 * SugarIn(SyrupBrix), Per: Sugar, Beside: "mean_unit", Is: string(unit.Litre)},
	{Key: "syrup_kg", Label: "kilograms of syrup, by the sugar of the sap", Factor: SyrupBrix / 100, Per: Sugar,
		Beside: "mean_unit", Is: string(unit.Litre)},
	{Key: "syrup_lb", Label: "pounds of syrup, by the sugar of the sap",
		Factor: float64(unit.Pound.Of(1)) * SyrupBrix / 100, Per: Sugar, Beside: "mean_unit", Is: string(unit.Litre)},
}

// sugars are yields of sugar, as those of the sap that holds it. No header says them alone.
var sugars = []column.Way{
	{Key: "sugar_kg", Label: "kilograms of sugar, by the sugar of the sap", Per: Sugar, Beside: "mean_unit",
		Is: string(unit.Litre)},
	{Key: "sugar_lb", Label: "pounds of sugar, by the sugar of the sap", Factor: float64(unit.Pound.Of(1)),
		Per: Sugar, Beside: "mean_unit", Is: string(unit.Litre)},
}

// shares are spreads in percent of the mean, and variances those before their root. No header says percents alone.
var (
	shares    = []column.Way{{Key: "pct", Label: "in percent of the mean", Share: "mean"}}
	variances = []column.Way{{Key: "variance", Label: "as a variance", Bend: math.Sqrt, Says: []string{"variance",
		"sample variance", "s2", "s²", "sd2", "sd²"}}}
)

// ofLog is a gain as papers pool it: the natural logarithm of the ratio of the yields (Hedges, Gurevitch & Curtis 1999,
// Ecology 80:1150), whose standard error is that of the gain over what the practice yields.
var (
	ofLog = column.Way{Key: "ln", Label: "as the natural logarithm of the ratio", Says: []string{"ln rr", "lnrr", "lrr",
		"yi", "ln ratio", "log ratio", "ln r", "log response ratio", "ln response ratio", "log ratio of means",
		"logarithme du rapport", "ln du rapport", "ln rapport"}, Bend: math.Exp, Factor: 100, Less: 100}
	// ofGains are the ways of a gain and of the ends of its interval; its error is a difference, of which nothing is
	// taken
	ofGains = []column.Way{
		{Key: "fraction", Label: "as a fraction", Says: []string{"fraction", "as fraction", "decimal",
			"part"}, Factor: 100},
		{Key: "ratio", Label: "as a ratio to the reference", Says: []string{"ratio", "times",
			"rapport", "x", "fois", "ratio to control", "ratio to the control", "times control", "x control",
			"relative to control", "response ratio", "yield ratio", "relative yield", "rapport au temoin",
			"ratio au temoin", "rendement relatif"}, Factor: 100, Less: 100},
		{Key: "of", Label: "in percent of the reference", Says: []string{"percent of control",
			"percent of the control", "percent of check", "percent of untreated", "percent of reference",
			"percent control", "percent du temoin", "percent temoin", "percent de la reference",
			"en percent du temoin", "as percent of control", "relative yield control 100",
			"rendement relatif temoin 100"}, Less: 100},
		ofLog,
	}
	spreadsOfLog = func() (says []string) {
		for _, of := range ofLog.Says {
			for _, se := range []string{"se", "std error", "standard error", "se of", "se of the", "sei",
				"erreur type de"} {
				says = append(says, se+" "+of)
			}
		}
		return append(says, "sei")
	}()
)

// pressures are those of the vacuum beside kPa. The bar, the conventional millimetre of mercury and the pound-force per
// square inch: NIST Special Publication 811, Appendix B.8.
var pressures = []column.Way{
	{Key: "kpa", Label: "kPa", Says: unit.Said["kpa"]},
	{Key: "inhg", Label: "inHg", Says: unit.Said["inhg"],
		Factor: float64(unit.InchOfMercury.Of(1))},
	{Key: "mmhg", Label: "mmHg", Says: []string{"mmhg", "mm hg", "torr"}, Factor: 0.1333224},
	{Key: "cmhg", Label: "cmHg", Says: []string{"cmhg", "cm hg"}, Factor: 1.333224},
	{Key: "hpa", Label: "hPa, mbar", Says: []string{"hpa", "mbar", "millibar", "millibars"}, Factor: 0.1},
	{Key: "bar", Label: "bar", Says: []string{"bar", "bars"}, Factor: 100},
	{Key: "psi", Label: "psi", Says: []string{"psi"}, Factor: 6.894757},
}

var gain = column.Bounds{Low: -100, High: 1000, Open: true}

// noPump is a tubing system without a pump.
const noPump = "none"

// ParseCaveats takes apart caveats that are separated by semicolons; what is of one's own naming is written as a key.
func ParseCaveats(text string) []Caveat {
	var list []Caveat
	for c := range strings.SplitSeq(text, ";") {
		if c = strings.ToLower(strings.Join(strings.Fields(c), "-")); c != "" {
			list = append(list, Caveat(c))
		}
	}
	return list
}

// joined is a field of remarks that the rows of a study add to.
func joined(at func(Row) *string) column.Field[Row] {
	f := column.Words(at)
	f.Set = func(r Row, v any) {
		text := at(r)
		switch more := v.(string); {
		case *text == "":
			*text = more
		case !strings.Contains("; "+*text+"; ", "; "+more+"; "):
			*text += "; " + more
		}
	}
	return f
}

// reported is a number beside a gain that was reported as a percentage; without the gain it is not kept.
func reported(at func(*Reported) **float64) column.Field[Row] {
	f := column.Of(func(r Row) **float64 { return at(cmp.Or(r.Arm.Gain, new(Reported))) })
	f.Set = func(r Row, v any) {
		if r.Arm.Gain != nil {
			*at(r.Arm.Gain) = new(v.(float64))
		}
	}
	return f
}

// limit is a column of one end of an interval, and levels are those that a header may say of it.
func limit(name, label, holds string, headers []string, at func(*Limits) **float64) Column {
	return Column{Part: Measured, Column: column.Column[Row]{Name: name, Bounds: column.NotBelow, Unit: "`mean_unit`",
		Label: label, Headers: headers, Holds: holds, Ways: levels, Field: limits(at),
		Allowed: "both ends and the `level`, the mean between them; not beside `sd` and `se`"}}
}

var levels = func() (list []column.Way) {
	for _, level := range []string{"95", "90", "99"} {
		list = append(list, column.Way{Key: "ci" + level, Label: level + "\u00a0%", Says: []string{level},
			Beside: "level", Is: level})
	}
	return list
}()

// limits is a field of what a table gives of an interval; what is kept is the standard error behind it.
func limits(at func(*Limits) **float64) column.Field[Row] {
	return column.Field[Row]{Kind: column.Number, Get: func(Row) any { return nil }, Set: func(r Row, v any) {
		if r.Limits != nil {
			*at(r.Limits) = new(v.(float64))
		}
	}}
}

// wash is a field of how a wash was done, which is there where something is said of it: words, or a number.
func wash(f column.Field[*Chemical]) column.Field[Row] {
	return column.Field[Row]{
		Kind: f.Kind,
		Get:  func(r Row) any { return f.Get(cmp.Or(r.Arm.Chemical, new(Chemical))) },
		Set: func(r Row, v any) {
			r.Arm.Chemical = cmp.Or(r.Arm.Chemical, new(Chemical))
			f.Set(r.Arm.Chemical, v)
		},
	}
}

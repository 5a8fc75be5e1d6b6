package practice

import "testing"

// What people call practices, in English and French, and what no practice is guessed for.
func TestGuess(t *testing.T) {
	for want, words := range map[Key][]string{
		Unsanitized: {"Control", "Ctrl.", "CK", "UTC", "Untrt", "Témoin", "Réf.", "none", "Aucune", "no cleaning",
			"sans nettoyage", "As is", "tel quel", "air", "air/water", "rinçage à l’eau", "old", "Used", "réutilisé",
			"usagés", "old spout old drop", "vieux chalumeau, vieille chute", "témoin sans traitement"},
		NewSpout: {"Chalumeau neuf", "New spouts (annual)", "spout new / drop old", "New spout, old drop",
			"chalumeau neuf, vieille chute", "spouts replaced", "chalumeaux remplacés"},
		CheckValve: {"CV", "Check-valve", "checkvalve", "CVs", "clapet", "antiretour", "valve anti-retour",
			"chalumeau à valve", "anti-refoulement", "new CV", "CV (new)"},
		NewDrop: {"new drops", "drops replaced", "New drop + spout", "new spout/new drop",
			"chute neuve + chalumeau neuf"},
		ChlorineRinse: {"Bleach", "bleach 1:20", "chlorine", "NaOCl", "eau de javel", "Rinçage eau de javel 400 ppm",
			"chloré"},
		PeroxideRinse: {"peroxide", "H2O2", "H₂O₂", "PAA", "acide peracétique", "peroxyde d'hydrogène 3 %"},
		AlcoholFlush:  {"IPA", "IPA 70%", "isopropyl", "alcool isopropylique 70 %", "alcool"},
		SilverSpout:   {"Ag", "Ag spout", "silver ion", "argent"},
		// used valves, hot water and combinations are practices of their own
		"": {"old CV", "CV reused", "used check valve", "clapet usagé", "hot water", "eau chaude",
			"CV spout + new drop",
			"old spout/new drop", "bleach + new spout", "Spout: new, Rinse: bleach", "A", "T1", "1", "new",
			"à usage unique", "injection d’air", "used, boiled", "Spout: old silver", "Drops: pas neuve",
			"Drops: jamais remplacée", "Drops: replaced 2012"},
	} {
		for _, word := range words {
			if got, _ := Shipped().Guess(word); got != want {
				t.Errorf("%s: guessed %q, want %q", word, got, want)
			}
		}
	}
}

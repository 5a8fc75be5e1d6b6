package evidence

import "testing"

// What people write of a season. The left ones say that it was no usual one.
func TestFreakWords(t *testing.T) {
	for _, text := range []string{
		"freak season: eleven days above 15 °C in early March, buds open by the 24th",
		"record warm March", "Record-breaking heat in February", "the warmest March on record", "a record March",
		"records were broken", "broke the record for heat", "new all-time high; record snow", "Extreme cold",
		"EXTREMELY mild", "abnormally early", "unusually short", "unseasonably warm", "an unprecedented thaw",
		"freakish heat", "extremes of heat", "far out of the ordinary", "not only unusual, extreme",
		"no doubt an extreme season", "nothing but extremes", "never before so extreme",
		"nothing unusual until mid-March, then record warmth", "normal start, but an extreme end",
		"nothing unusual except record warmth in March", "no sap for ten days because of the freak cold",
		"no sap ran for ten days during the freak thaw", "trees did not run in the freak cold",
		"not normal: freak heat", "Normal? No. Freak heat.", "freak heat, no sap", "no frost. Abnormal.",
		"chaleur record en mars", "record de chaleur", "records battus en mars", "froid extrême", "froid extreme",
		"EXTRÊME", "températures anormales", "anormalement chaud", "saison anormale", "hiver exceptionnellement doux",
		"printemps exceptionnel", "dégel inhabituel", "redoux sans précédent", "une saison hors norme",
		"non seulement court, exceptionnel", "sans doute exceptionnelle", "no snow, unusual for January",
		"there was nothing normal about it: freak heat", "I do not recall a more extreme March",
		"not extreme, but unusual", "température record le 12 mars", "un redoux jamais vu",
		"peu de neige, dégel anormal", "sans neige, dégel anormal", "rien d’inhabituel en mars, puis chaleur record",
		"pas de neige à cause du redoux exceptionnel", "normal, mais anormalement sec",
	} {
		if !FreakWords.In(text) {
			t.Errorf("nothing is seen in %q", text)
		}
	}
	for _, text := range []string{
		"", "normal, nothing unusual", "Normal; nothing out of the ordinary.", "not unusual", "not at all unusual",
		"wasn't unusual", "wasn’t extreme", "no extremes", "no freak or record warm spell",
		"nothing freak, extreme or unusual", "no frost, extreme or otherwise", "neither freak nor extreme",
		"without extremes", "free of extremes", "hardly unusual", "nothing in this season was unusual",
		"none of the weeks was extreme", "extremes: none", "unusual weather: no", "Unusual? No",
		"no more extreme than other years", "less extreme than the year before", "normal rather than freak",
		"usual season", "unusualness aside", "not in any way unusual",
		"a season without heat waves, extremes or late frost", "extreme: n/a", "Extreme? Not at all.",
		"no abnormal, extreme, freak or record days", "by no means unusual",
		"an average year; the record of 2012 was not reached", "typical (no abnormal warm spells)", "exempt d’extrêmes",
		"pas d’extrême, rien d’anormal", "aucune anomalie", "année sans histoire",
		"temperatures recorded at the station", "temperature record from the nearest station",
		"record missing for April", "no records were kept", "for the record, a usual season", "extremadura",
		"recorder broken",
		"rien d’inhabituel", "rien d'inhabituel", "saison normale, sans rien d’exceptionnel", "pas exceptionnelle",
		"n’était pas inhabituel", "aucun record de froid", "ni froid extrême ni chaleur record", "sans gel extrême",
		"jamais extrême", "peu inhabituelle", "extrêmes : aucun", "pas de chaleur record",
		"saison nullement particulière", "moins extrême qu’en 2012", "relevés de la station", "non anormale",
		"ce ne fut pas une saison extrême",
	} {
		if FreakWords.In(text) {
			t.Errorf("%q is taken for a season out of the usual", text)
		}
	}
}

// Who paid. The first say that a maker of what was tested did.
func TestMakerWords(t *testing.T) {
	for _, text := range []string{
		"a maker of spouts", "the maker of the spouts", "Makers' grant", "spout manufacturer",
		"funded by manufacturers", "a vendor", "Suppliers gave the tubing", "the company that makes the valve",
		"a tubing company", "an equipment dealer", "half by the station, half by the maker",
		"not by the state but by a maker", "Sugar Makers Association and a spout manufacturer",
		"le fabricant du chalumeau", "un fournisseur", "fabricants", "l’entreprise qui fabrique le chalumeau",
		"équipementier", "EQUIPEMENTIER", "public funds; valves bought at list price from the maker",
		"in kind: a supplier",
		"non par l’État, mais par un fabricant",
	} {
		if !MakerWords.In(text) {
			t.Errorf("no maker is seen in %q", text)
		}
	}
	for _, text := range []string{
		"", "State Sugarmakers Association", "State Sugar Makers' Association", "sugar-makers",
		"maple syrup makers of the county", "policy makers", "state funds, no maker involved",
		"not paid for by a maker", "no money from manufacturers", "independent of any supplier", "without suppliers",
		"nothing from makers, vendors or suppliers", "makers: none", "matchmaking fund", "a remaker",
		"no support was received from any manufacturer or vendor", "not funded by makers, vendors or suppliers",
		"no conflict of interest with manufacturers", "producteurs acéricoles", "association des fabricants de sirop",
		"fabricants de sucre d’érable", "aucun fabricant", "sans l’argent d’un fournisseur",
		"indépendant des fabricants", "fabricant : non", "ni fabricant ni vendeur",
	} {
		if MakerWords.In(text) {
			t.Errorf("%q is taken for a maker", text)
		}
	}
}

func FuzzWords(f *testing.F) {
	f.Add("nothing unusual, extreme or freak: no")
	f.Add("n’était pas : record")
	f.Fuzz(func(t *testing.T, text string) {
		FreakWords.In(text)
		MakerWords.In(text)
	})
}

package practice

import "spile/internal/note"

// Cautions is what must be said wherever a practice is recommended, handled or planned. They are the usual cautions
// (common practice, no source); labels, safety data sheets and local law come first.
func Cautions(p Practice) []note.Note {
	var list []note.Note
	say := func(text string) { list = append(list, note.New(text)) }
	if p.Chemical() {
		say("the label is law: use a product only as its label says")
		say("wear gloves and eye protection, and work where there is air")
	}
	switch p.Wash {
	case WashAlcohol:
		say("alcohol vapour burns: no flame, spark or smoking, and no alcohol where a vacuum pump runs or can draw its vapour")
		say("never mix chlorine products with acids or alcohol: the gas is poisonous")
	case WashChlorine:
		say("never mix chlorine products with acids or alcohol: the gas is poisonous")
		say("chlorine ruins reverse-osmosis membranes and corrodes releasers: let none of it reach them")
		say("the salt that chlorine leaves draws squirrels to tubing for seasons, to that of neighbours too")
	case WashPeroxide:
		say("peroxide burns skin and eyes, and feeds fire: keep it from metal filings, oil and cloth")
		say("do not cap or close a tube that holds peroxide: it gives off gas")
	case WashAirWater:
		say("compressed air bursts tubing and throws fittings: wear eye protection and let the pressure off before opening")
	}
	if p.Chemical() {
		say("rinse as the label says, and drain and discard the first run")
	}
	if p.Spout == SpoutSilver {
		say("silver leaves a spout as it is used: use it no longer than its label states, and ask how it is to be disposed of")
	}
	if p.Spout == SpoutCheckValveNew || p.Spout == SpoutCheckValveReused {
		say("a check valve holds only while its ball or flap moves freely: sap frozen or grown into it makes it a plain spout")
	}
	if p.Chemical() || p.Spout == SpoutSilver {
		say("confirm with your food-safety, pesticide and certification authorities")
	}
	return list
}

// Combines is true where a spout done each season can be put on drops that another practice replaces every few seasons.
// The combination is only as permitted as the less permitted of the two.
func Combines(drops, spout Practice) bool {
	return drops.Drops == DropsReplaced && spout.Drops == DropsKept && spout.Wash == WashNone &&
		(spout.Spout == SpoutCheckValveNew || spout.Spout == SpoutSilver)
}

package practice

import "spile/internal/note"

// Cautions is what must be said wherever a practice is recommended, handled or planned. They are the usual cautions
// (common practice, no source); labels, safety data sheets and local law come first.
func Cautions(p Practice) note.List {
	var list note.List
	say := func(text string) { list.Add(text) }
	wash, spout := p.Wash.Info(), p.Spout.Info()
	if wash.Chemical {
		say("the label is law: use a product only as its label says")
		say("wear gloves and eye protection, and work where there is air")
	}
	for _, text := range wash.Cautions {
		say(text)
	}
	if wash.Chemical {
		say("rinse as the label says, and drain and discard the first run")
	}
	for _, text := range spout.Cautions {
		say(text)
	}
	if wash.Chemical || spout.Confirm {
		say("confirm with your food-safety, pesticide and certification authorities")
	}
	return list
}

// Combines is true where a spout done each season can be put on drops that another practice replaces every few seasons.
// The combination is only as permitted as the less permitted of the two.
func Combines(drops, spout Practice) bool {
	return drops.Drops == DropsReplaced && spout.Drops == DropsKept && spout.Wash == WashNone &&
		spout.Spout.Info().New && spout.Spout != SpoutNew
}

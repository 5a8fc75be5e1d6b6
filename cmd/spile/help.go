package main

import (
	"fmt"
	"slices"
	"strings"

	"spile/internal/engine/pool"
	"spile/internal/engine/sure"
	"spile/internal/files/people"
	"spile/internal/trade/evidence"
	"spile/internal/trade/trial"
	"spile/internal/view/figure"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// helps is the help of commands, flags and arguments that takes more than a few words: by its name, behind that of its
// command where the same name means another thing elsewhere. Short help stands in the tag of its field. A list that the
// code declares is named by ${…}: see vocabularies.
var helps = map[string]string{
	"plan":    "One sugarbush: what each section does each season, what to buy, how sure.",
	"handout": "One producer's sheet of two sides: what we advise, what to buy, when, and how sure.",

	"--lang": "Language of what is printed (default: that of the system, else en; of JSON en).",
	"--units": "Units of what is printed " +
		"(default: those of the place that the prices are of, else as the language's country).",
	"--addr": "Where the workbench listens, on this machine only (default 127.0.0.1:7345).",

	"invite --right": "What they may do: ${rights} (default steward). Each holds those before it.",
	"invite --at":    "Where they reach the workbench (default http://127.0.0.1:7345).",
	"serve --name":   "A name by which browsers reach the workbench, such as maple.example.org. Again for each.",
	"serve --proxy": "A proxy stands before it, which does TLS and says in X-Forwarded-For where a request " +
		"came from.",

	"<file>": "A workbook (.spile, or its address), or evidence tables (.csv, .xlsx), price files, practices and " +
		"rules (.toml), data packages (their folder).",
	"--inference": "How the intervals of gains are made: ${inferences_named}; default mixture. " +
		"Money, chances and plans rest on mixture whatever is chosen.",
	"trial analyse --inference": "How intervals are made: ${trial_inferences_named}; default kr.",
	"--variance": "Error of a study: its own spread moderated by that of like studies (default), " +
		"the spread pooled over them, or as reported.",
	"--moderators": "What may change gains: ${moderators}.",
	"--without":    "Leave out the studies that carry a caveat: ${caveats}, or one of your own.",
	"--against":    "Today's practice, or a rotation such as new-drop/3 (default: as the prices say, else new-spout).",

	"--thorough": "Also print: ${more}.",

	"--size":        "Where it will be shown: ${sizes} (default page).",
	"figure --over": "Of a map: its two assumptions, by their keys (default: those that the choice hangs on most).",
	"sure --map": "Which practice pays best over two assumptions, by their keys " +
		"(default: those that the choice hangs on most).",
	"sure --spread":   "How an assumption lies between its low and its high: ${shapes} (default likely).",
	"sure --together": "Let two assumptions rise and fall together, from −1 to 1. Again for each pair.",
	"worth --cv":      "Coefficient of variation between units of a block, in percent (default 15).",

	"add <file>": "Evidence tables (.csv, .xlsx), price files, practices and rules (.toml), " +
		"data packages (their folder).",
	"add --replace": "Put what the files say in the place of what the workbook says under the same name; " +
		"that stays in the history.",
	"export --output":  "Folder of a data package, or a file by its ending: ${exports}.",
	"export --license": "Licence under which a data package may be used, such as CC-BY-4.0 (default: not said).",

	"changes --since": "A day, or the number of a change (default: the first of November before the latest change).",
	"report --since":  "Of a workbook: also what came since a day or a change, and what each moved.",

	"plan --sugarbush": "The sugarbush: a file (.toml, .csv, .xlsx), or the name of one in the workbook " +
		"(default: the one among the files).",
	"handout <sugarbush>": "The sugarbush, as the last file, or by its name in the workbook.",
	"handout --output": "File to write (default: as the sugarbush's file, ending in .pdf); " +
		"its ending says how.",

	"trial design --from":       "Units to choose from: ${unit_columns}.",
	"trial design --replicates": "Blocks, pairs or units of each practice, where no units are listed (default 6).",
	"trial design --pool-age":   "Age of the common pool that all drops are taken from each season.",
	"trial design --book":       "Keep the design in this workbook, whose own practices are known.",
	"--design":                  "How units are laid out: ${designs} (default blocks).",
	"--more-reference": "More units of the reference: the square root of the number of other practices as " +
		"many.",

	"trial power --cv": "What units of one block differ by, as a coefficient of variation in percent.",
	"trial power --season-cv": "What one unit differs by from season to season, in percent " +
		"(for several seasons).",
	"trial power --replicates": "Replicates of each practice (default: from 2 to those needed and beyond).",
	"trial power --runs":       "Simulated trials, where power is not exact (default 2000).",

	"trial sheet <from>": "A workbook and the name of its trial, or a layout (.csv, .xlsx) " +
		"as trial design writes it.",
	"trial sheet --output": "Where to write: .pdf to print, .xlsx to fill in and take in again.",
	"trial sheet --hide": "Codes in the place of practices, so that who reads does not know them " +
		"(a design with --blind).",

	"trial add <file>": "Readings, events, measured dumps, tanks, counts of taps, temperatures, a layout, " +
		"season tables (.csv, .xlsx), the trial's own file (.toml).",
	"trial add --replace": "Put what the files say in the place of what the workbook says, as a correction; " +
		"that stays in the history.",
	"trial analyse <from>": "A season table (.csv, one row a unit and season: ${sum_columns}), or a layout with " +
		"readings and the like, or a workbook and the name of its trial.",
}

// helped is the help of what a command has under a name; otherwise is what its tag says.
func helped(command, name, otherwise string) string {
	for _, key := range []string{strings.TrimSpace(command + " " + name), name} {
		if text, ok := helps[key]; ok {
			return text
		}
	}
	return otherwise
}

// vocabularies are the lists that tags and helps name by ${…}: the words that are allowed, also parted by bars (as in
// ${sizes_or}), and, where people read them, what they mean in the reader's words.
func vocabularies(v *say.Voice) *strings.Replacer {
	var sizes, ways, named, own []string
	for _, s := range figure.Places {
		sizes = append(sizes, s.Name)
	}
	for _, x := range pool.Inferences {
		ways = append(ways, string(x.Key))
		named = append(named, fmt.Sprintf("%s (%s)", x.Key, v.Text(x.Name)))
		if slices.Contains(trial.Inferences, trial.Inference(x.Key)) {
			own = append(own, named[len(named)-1])
		}
	}
	names, lines := figures(v)
	pairs := []string{
		"${figures_help}", lines, "${exports}", exports(v), "${sum_columns}", columns(trial.Sums),
		"${unit_columns}", columns(trial.Units),
	}
	for name, words := range map[string][]string{
		"figures": names, "sizes": sizes, "inferences": ways, "inferences_named": named,
		"trial_inferences": plain(trial.Inferences), "trial_inferences_named": own,
		"variances": plain(evidence.Rules()), "rights": people.Rights[1:],
		"designs": plain(trial.Designs), "shapes": plain(sure.Kinds()), "units": plain(say.Systems),
		"moderators": evidence.ModeratorNames(), "caveats": evidence.CaveatKeys(),
	} {
		pairs = append(pairs, "${"+name+"}", strings.Join(words, ", "), "${"+name+"_or}", strings.Join(words, "|"))
	}
	return strings.NewReplacer(pairs...)
}

// figures are the names of the figures of an answer, and a line on each.
func figures(v *say.Voice) (names []string, lines string) {
	var said []string
	for _, x := range show.Figures {
		if x.Needs.OfAnswer() {
			names = append(names, x.Key)
			said = append(said, fmt.Sprintf("%-12s %s", x.Key, v.Text(x.Help)))
		}
	}
	return names, strings.Join(said, "\n    ")
}

// exports are the endings of files that can be written alone, and what each is.
func exports(v *say.Voice) string {
	var list []string
	for _, x := range exported {
		list = append(list, fmt.Sprintf("%s (%s)", x.ending, v.Text(x.holds)))
	}
	return strings.Join(list, ", ")
}

// more is what a command prints only with --thorough.
func more(command string, v *say.Voice) string {
	var list []string
	for _, x := range show.Tables {
		if x.Stands(show.More, command) {
			list = append(list, v.Text(x.Help))
		}
	}
	return v.List(list)
}

// columns are the names of a table's columns.
func columns[T any](t trial.Table[T]) string {
	var names []string
	for _, c := range t.Columns {
		names = append(names, c.Name)
	}
	return strings.Join(names, ", ")
}

// plain are words as texts.
func plain[T ~string](words []T) []string {
	list := make([]string, len(words))
	for i, w := range words {
		list[i] = string(w)
	}
	return list
}

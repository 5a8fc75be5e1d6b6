// Package doubt asks about what is possible but unusual: a yield ten times that of any tap, a fraction where percents
// are meant. What is impossible is a fault and refused; what is unusual is a question, and its answer is kept.
package doubt

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"

	"spile/internal/note"
)

// FirstYear is the first that anything is usually of (common practice, no source).
const FirstYear = 1970

// Question asks whether something unusual is meant. Who says yes answers it by its ID, once.
type Question struct {
	ID string // the same for the same thing wherever it is asked: of a file, in a form, in a workbook
	note.Note
}

// About asks of one thing, which is named by words that tell it from all others: a table, a study, an arm, a column and
// the value itself. The answer then holds for that value alone, wherever its row stands.
func About(n note.Note, thing ...string) Question {
	sum := sha256.Sum256([]byte(strings.Join(thing, "\x1f")))
	return Question{hex.EncodeToString(sum[:4]), n}
}

// Answer says that what was asked is meant: who and when, the history of the workbook knows that keeps it.
type Answer struct {
	ID    string
	About string // what was asked, in the words of who answered
}

// Questions is every question of one input, an error until all are answered.
type Questions []Question

// Error is the questions in English, one a line.
func (q Questions) Error() string {
	lines := make([]string, len(q))
	for i, x := range q {
		lines[i] = x.English() + " (" + x.ID + ")"
	}
	return strings.Join(lines, "\n")
}

// Open are those that none of the answers speaks of.
func (q Questions) Open(answers []string) Questions {
	return slices.DeleteFunc(slices.Clone(q), func(x Question) bool { return x.Among(answers) })
}

// Among is true of a question that answers speak of, by its ID or by that of its set.
func (q Question) Among(answers []string) bool {
	return slices.Contains(answers, q.ID) || slices.Contains(answers, q.Set())
}

// Set is the ID of all questions that ask the same of one column, which may be answered together; each answer is then
// kept by itself, so that what comes later is asked anew.
func (q Question) Set() string {
	sum := sha256.Sum256([]byte(q.Key + "\x1f" + q.Where.Column))
	return "all-" + hex.EncodeToString(sum[:4])
}

// Sets are the questions by their sets, in the order in which each begins.
func (q Questions) Sets() (sets []Questions) {
	at := map[string]int{}
	for _, x := range q {
		i, have := at[x.Set()]
		if !have {
			i = len(sets)
			at[x.Set()], sets = i, append(sets, nil)
		}
		sets[i] = append(sets[i], x)
	}
	return sets
}

// Err is nil where no question is open.
func (q Questions) Err() error {
	if len(q) == 0 {
		return nil
	}
	return q
}

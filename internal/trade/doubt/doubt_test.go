package doubt

import (
	"errors"
	"testing"

	"spile/internal/note"
)

func TestQuestions(t *testing.T) {
	a := About(note.New("is %v meant?", 500.0), "evidence", "Fern Gate 2021", "mean", "500")
	b := About(note.New("is %v meant?", 501.0), "evidence", "Fern Gate 2021", "mean", "501")
	moved := About(note.New("is it meant?").At(note.Where{File: "other.csv", Row: 7}), "evidence", "Fern Gate 2021",
		"mean", "500")
	if a.ID == b.ID || a.ID != moved.ID {
		t.Errorf("a value has the ID %s, another %s, the same elsewhere %s", a.ID, b.ID, moved.ID)
	}
	if About(note.Note{}, "ab", "c").ID == About(note.Note{}, "a", "bc").ID {
		t.Error("where a word ends makes no difference")
	}
	all := Questions{a, b}
	if open := all.Open([]string{a.ID}); len(open) != 1 || open[0].ID != b.ID {
		t.Errorf("open: %v", open)
	}
	if err := all.Open([]string{b.ID, a.ID}).Err(); err != nil {
		t.Errorf("all are answered: %v", err)
	}
	var q Questions
	if err := all.Err(); !errors.As(err, &q) || len(q) != 2 {
		t.Errorf("an error of %d questions", len(q))
	}
}

// What asks the same of one column is answered together: of the 3 questions 2 are alike.
func TestSets(t *testing.T) {
	about := func(key string, x float64, column string) Question {
		return About(note.New(key, x).At(note.Where{Column: column}), key, column, note.New("%v", x).English())
	}
	all := Questions{about("is %v meant?", 500, "mean"), about("is %v meant?", 70, "n"),
		about("is %v meant?", 501, "mean")}
	sets := all.Sets()
	if len(sets) != 2 || len(sets[0]) != 2 || sets[0].Error() == sets[1].Error() {
		t.Fatalf("%v", sets)
	}
	if open := all.Open([]string{sets[0][0].Set()}); len(open) != 1 || open[0].Where.Column != "n" {
		t.Errorf("open: %v", open)
	}
}

package book

import (
	"errors"
	"testing"
)

// What was seen of one workbook is not seen of another whose changes have the same numbers, nor what is no sight.
func TestWhatWasSeenElsewhere(t *testing.T) {
	made := func(mean float64) *Book {
		b := fresh(t)
		e := by("Ada", 1)
		e.Replace = true
		save(t, b, by("Ada", 0), Keep(study("Hill", 17)))
		save(t, b, e, Keep(study("Hill", mean)))
		return b
	}
	here, there := contents(t, made(18)).Sight(), contents(t, made(19)).Sight()
	if got := ParseSight(there.String()); got != there || got.Change != 2 || len(got.Digest) != sightDigits {
		t.Errorf("%s is read as %v", there, got)
	}
	for text, kept := range map[string]bool{
		here.String(): true, there.String(): false, "2": true, "2-": true, "3-" + here.Digest: false, "2-x": false,
		"1": false, "-1": false, "": false, "x-y": false, "99999999999999999999": false,
	} {
		e := Edit{At: day, Who: "Bo", What: "test", Replace: true, Seen: ParseSight(text)}
		_, err := made(18).Save(e, Keep(study("Hill", 20)))
		if kept != (err == nil) || !kept && !errors.As(err, new(*Conflict)) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

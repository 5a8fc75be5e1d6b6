// Package station is whose a study or a trial is where several stations work in one body of evidence, and from when
// others see it.
package station

import (
	"slices"
	"strings"
	"time"

	"spile/internal/note"
)

// Stage is how far a thing has come from its station to everybody.
type Stage string

// The stages.
const (
	Own      Stage = "own"       // its station's alone
	Offered  Stage = "offered"   // the same, and waits for a steward to read it
	SentBack Stage = "sent back" // the same, since a steward said why it is not taken
	Released Stage = "released"  // everybody's, from its day on
)

// What may be of a station. A thing that is of none is everybody's.
const (
	Study = "study"
	Trial = "trial"
)

// Hold says whose one thing is, and who else may see it.
type Hold struct {
	Of, Name string // a study or a trial
	Station  string
	Stage    Stage
	From     string // the day from which what is released is seen, 2006-01-02; "": at once
	Reason   string // why it was withdrawn or sent back
}

// Seen is true where those of a station ("": of none) may see the thing on a day, 2006-01-02.
func (h Hold) Seen(by, day string) bool {
	return h.Station == by || h.Stage == Released && h.From <= day
}

// Act is one step from a stage to another.
type Act struct {
	Key     string
	Name    string   // of the button
	Of      []string // what it is done with
	From    []Stage  // nil: what is of no station yet
	To      Stage
	Steward bool // it is a steward's; others are done by the thing's own station
	Day     bool // it may say from when
	Reason  bool // it says why
}

// Acts are all that there are.
var Acts = []Act{
	{Key: "release", Name: "Release", Of: []string{Trial}, From: []Stage{Own}, To: Released, Day: true},
	{Key: "offer", Name: "Offer", Of: []string{Study}, From: []Stage{Own, SentBack}, To: Offered},
	{Key: "withdraw", Name: "Withdraw", Of: []string{Study, Trial}, From: []Stage{Offered, Released}, To: Own,
		Reason: true},
	{Key: "admit", Name: "Admit", Of: []string{Study}, From: []Stage{Offered}, To: Released, Steward: true},
	{Key: "send-back", Name: "Send back", Of: []string{Study}, From: []Stage{Offered}, To: SentBack, Steward: true,
		Reason: true},
	{Key: "give", Name: "Give", Of: []string{Study, Trial}, To: Released, Steward: true},
}

// Fits is true of a thing with which an act may be done: as it is held, or of no station yet (held is false).
func (a Act) Fits(h Hold, held bool) bool {
	return slices.Contains(a.Of, h.Of) && held == (a.From != nil) && (!held || slices.Contains(a.From, h.Stage))
}

// Do is the thing as it stands after the act, which says from when, why, and which station it is given to, as far as it
// is asked. The error is note.Faults.
func (a Act) Do(h Hold, from, reason, to string) (Hold, error) {
	var faults note.Faults
	h.Stage, h.From, h.Reason = a.To, "", ""
	if a.Day && from != "" {
		if _, err := time.Parse(time.DateOnly, from); err != nil {
			faults.Add("the day %s; allowed: a day such as 2025-11-01, or nothing", note.Quote(from))
		}
		h.From = from
	}
	if h.Reason = strings.Join(strings.Fields(reason), " "); !a.Reason {
		h.Reason = ""
	} else if h.Reason == "" {
		faults.Add("say why: the reason stands beside it and in the history")
	}
	if a.From == nil {
		if h.Station = Name(to); h.Station == "" {
			faults.Add("which station it is given to is not said")
		}
	}
	return h, faults.Err()
}

// Name is a station's name as it is kept: blanks at its ends and beside one another say nothing.
func Name(typed string) string { return strings.Join(strings.Fields(typed), " ") }

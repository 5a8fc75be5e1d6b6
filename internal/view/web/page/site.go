package page

import (
	"slices"
	"sync"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/note"
	"spile/internal/trade/evidence"
	"spile/internal/trade/trial"
	"spile/internal/view/show"
)

// Site is one state of what the workbench stands on, in one language. It does not change once its rooms are made.
type Site struct {
	*Kit
	Input  advice.Input
	Memo   *advice.Memo
	Base   *advice.Advice // the answer of Input as it stands; nil: there is none
	View   *show.View     // of Base
	Idle   note.Faults    // why there is no answer
	Book   *book.Book     // nil: the pages are over files, and read only
	Have   book.Contents  // of Book
	Who    string         // who changes it
	Now    func() time.Time
	Places []Place         // of the head, in their order, those of a group together
	Waits  []func() []Link // what waits for somebody, each room's own
	Phone  bool            // it is read on a phone, over the network

	tag  func() string         // of all that its answers rest on
	sure func() *advice.Advice // Base with how sure it is
}

// Place is a page that the head of every page leads to: the work that it is part of, and in a few words what is there.
type Place struct{ Path, Name, Group, Says string }

// Answer works the input out as it stands, soon where there was another answer before.
func (s *Site) Answer(before *advice.Advice) error {
	s.tag = sync.OnceValue(s.digest)
	base, err := s.Memo.Soon(s.Input, before)
	if err != nil {
		s.Base = nil
		return err
	}
	s.Base, s.sure = base, sync.OnceValue(func() *advice.Advice { return s.Memo.Sure(base) })
	s.View = show.Of(s.Base, s.Voice)
	return nil
}

// Sure is an answer with how sure it is; that of Base is worked out once for all who look at it.
func (s *Site) Sure(a *advice.Advice) *advice.Advice {
	if a == s.Base {
		return s.sure()
	}
	return s.Memo.Sure(a)
}

// Priced is true where money can be spoken of.
func (s *Site) Priced() bool {
	return s.Input.Prices != nil && s.Base != nil && len(s.Base.Ranking) > 0
}

// Study gives a study of the workbook by its name.
func (s *Site) Study(name string) (evidence.Study, bool) {
	i := slices.IndexFunc(s.Have.Studies, func(x evidence.Study) bool { return x.Name == name })
	if i < 0 {
		return evidence.Study{}, false
	}
	return s.Have.Studies[i], true
}

// Trial gives a trial by its name.
func (s *Site) Trial(name string) (trial.Trial, bool) {
	i := slices.IndexFunc(s.Input.Trials, func(t trial.Trial) bool { return t.Name == name })
	if i < 0 {
		return trial.Trial{}, false
	}
	return s.Input.Trials[i], true
}

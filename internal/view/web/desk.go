package web

import (
	"net/http"
	"slices"
	"sync"

	"spile/internal/engine/advice"
	"spile/internal/view/say"
	"spile/internal/view/web/page"
)

// desk is the workbench over a workbook. Each state of the workbook has a site of its own, which does not change: a
// change, of this process or of another, makes the next one.
type desk struct {
	Config
	memo *advice.Memo
	kit  *page.Kit
	mu   sync.Mutex
	now  *state
}

func newDesk(c Config, memo *advice.Memo) (*desk, error) {
	kit, err := c.kit()
	if err != nil {
		return nil, err
	}
	d := &desk{Config: c, memo: memo, kit: kit}
	_, err = d.current()
	return d, err
}

// current is the pages over the workbook as it stands now.
func (d *desk) current() (*state, error) {
	have, err := d.Book.Contents()
	if err != nil {
		return nil, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.now != nil && d.now.Have.Change == have.Change && slices.Equal(d.now.Input.Sources, have.Sources) {
		return d.now, nil
	}
	if p := have.Prices; p != nil && p.Place != "" && !d.Units && say.UnitsOf(p.Place) != d.kit.Voice.Units() {
		c := d.Config // prices of another place have come
		c.Voice = c.Voice.With(say.UnitsOf(p.Place))
		kit, err := c.kit()
		if err != nil {
			return nil, err
		}
		d.kit = kit
	}
	s := d.site(d.kit, d.memo)
	s.Have, s.Input = have, advice.Usual(have.Input)
	// A workbook that gives no answer yet, or no more, is still to be edited: the page Workbook says what is wrong.
	if err := s.work(); err != nil {
		s.Idle = page.Faults(err)
	}
	d.now = d.open(s)
	return d.now, nil
}

// ServeHTTP answers with the workbook as it stands at the time, or says why it cannot be read.
func (d *desk) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	page.Guard(d.Voice, d.ours, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		now, err := d.current()
		if err != nil {
			d.bare().Broken(w, r, err)
			return
		}
		now.ServeHTTP(w, r)
	})).ServeHTTP(w, r)
}

// bare is a floor without a workbook on it.
func (d *desk) bare() *page.Site {
	d.mu.Lock()
	defer d.mu.Unlock()
	return &page.Site{Kit: d.kit}
}

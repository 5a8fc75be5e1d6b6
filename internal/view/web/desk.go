package web

import (
	"math"
	"net/http"
	"strconv"
	"sync"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/files/people"
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
	of   map[string]*desk // of the workbook as those of one station see it
	now  *state
	upto int64         // the last change with which the workbook was as now has it
	next chan struct{} // closed once the next state is made; nil: none is being made
	err  error         // why the last could not be
}

func newDesk(c Config, memo *advice.Memo) (*desk, error) {
	kit, err := c.kit()
	if err != nil {
		return nil, err
	}
	if c.Door != nil {
		c.Book = c.Book.For("", c.Now)
	}
	d := &desk{Config: c, memo: memo, kit: kit, of: map[string]*desk{}}
	_, err = d.current(always)
	return d, err
}

// patience is how long a reader waits for the answer to what others have changed, before the last one will do; always,
// as the change that is to be seen, is for one who waits for it.
var patience = 300 * time.Millisecond

const always = math.MaxInt64

// current is the pages over the workbook as it stands now; where these take long to be worked out, as it stood before,
// as long as the change that a reader made last is in it.
func (d *desk) current(seen int64) (*state, error) {
	var enough <-chan time.Time
	again := true
	for {
		have, err := d.Book.Seen()
		if err != nil {
			return nil, err
		}
		d.mu.Lock()
		now := d.now
		if now != nil && now.Have.Alike(have) { // what others change that is not seen here makes no page anew
			d.upto = max(d.upto, have.Change)
			d.mu.Unlock()
			return now, nil
		}
		if now != nil && d.upto > have.Change && again { // another has looked since
			d.mu.Unlock()
			again = false
			continue
		}
		if d.next == nil {
			d.next = make(chan struct{})
			go d.make(have)
		}
		next, upto := d.next, d.upto
		d.mu.Unlock()
		if enough == nil && now != nil && upto >= seen {
			enough = time.After(patience)
		}
		select {
		case <-enough:
			return now, nil
		case <-next:
			d.mu.Lock()
			err := d.err
			d.mu.Unlock()
			if err != nil {
				return nil, err
			}
		}
	}
}

// busy has room for as many states as are worked out at once: pages get a core meanwhile.
var busy = make(chan struct{}, 2)

// make makes the pages over a state of the workbook.
func (d *desk) make(have book.Contents) {
	d.mu.Lock()
	var before *advice.Advice
	if d.now != nil {
		before = d.now.Base
	}
	d.mu.Unlock()
	busy <- struct{}{}
	s, err := d.over(have, before)
	<-busy
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.err = err; err == nil {
		d.now, d.upto = s, have.Change
		if s.Base != nil && s.Base.Held {
			time.AfterFunc(rest, func() { d.follow(s) })
		}
	}
	close(d.next)
	d.next = nil
}

// rest is how long nothing is changed before an answer that was given soon is worked out whole.
var rest = time.Second

// following has room for one whole answer: those who change something do not wait for it, and of the others in turn
// only those are worked out that still stand then.
var following = make(chan struct{}, 1)

// follow puts the whole answer in the place of one that was given soon, unless another change has come.
func (d *desk) follow(soon *state) {
	following <- struct{}{}
	defer func() { <-following }()
	d.mu.Lock()
	stands := d.now == soon && d.next == nil
	d.mu.Unlock()
	if !stands {
		return
	}
	s, err := d.over(soon.Have, nil)
	d.mu.Lock()
	defer d.mu.Unlock()
	if err == nil && d.now == soon {
		d.now = s
	}
}

// over is the pages over a state of the workbook, soon where there was another answer before.
func (d *desk) over(have book.Contents, before *advice.Advice) (*state, error) {
	d.mu.Lock()
	kit := d.kit
	d.mu.Unlock()
	if p := have.Prices; p != nil && p.Place != "" && !d.Units && say.UnitsOf(p.Place) != kit.Voice.Units() {
		c := d.Config // prices of another place have come
		c.Voice = c.Voice.With(say.UnitsOf(p.Place))
		var err error
		if kit, err = c.kit(); err != nil {
			return nil, err
		}
		d.mu.Lock()
		d.kit = kit
		d.mu.Unlock()
	}
	s := d.site(kit, d.memo)
	s.Have, s.Input = have, advice.Usual(have.Input)
	// A workbook that gives no answer yet, or no more, is still to be edited: the page Workbook says what is wrong.
	if err := s.work(before); err != nil {
		s.Idle = page.Faults(err)
	}
	return d.open(s), nil
}

// at is the desk of who asks. A producer's handout rests on what everybody may see.
func (d *desk) at(r *http.Request) *desk {
	p, ok := page.Who(r)
	if !ok || p.Station == "" || page.HandedOut(r.URL.Path) {
		return d
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	own := d.of[p.Station]
	if own == nil {
		c := d.Config
		c.Book = c.Book.For(p.Station, c.Now)
		own = &desk{Config: c, memo: d.memo, kit: d.kit}
		d.of[p.Station] = own
	}
	return own
}

// own is the pages as they stand, in the name of who asks for them.
func (d *desk) own(now *state, r *http.Request) *state {
	p, ok := page.Who(r)
	if !ok {
		return now
	}
	if p.May == people.Reader {
		p = people.Person{May: people.Reader, Station: p.Station} // who changes nothing, and needs no name
	}
	now.mu.Lock()
	defer now.mu.Unlock()
	own := now.own[p]
	if own == nil {
		own = d.open(now.site.of(p))
		now.own[p] = own
	}
	return own
}

// ServeHTTP answers with the workbook as it stands at the time, or says why it cannot be read. One who changes it sees
// no older state from then on.
func (d *desk) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	inside := http.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		seen := int64(0)
		if c, err := r.Cookie(page.SeenCookie); err == nil {
			seen, _ = strconv.ParseInt(c.Value, 10, 64)
		}
		at := d.at(r)
		if r.Method == http.MethodPost {
			seen, w = always, &changing{w, at.Book}
		}
		now, err := at.current(seen)
		if err != nil {
			at.bare().Broken(w, r, err)
			return
		}
		at.own(now, r).ServeHTTP(w, r)
	}))
	if d.Door != nil {
		inside = d.Door.Through(d.bare(), inside)
	}
	page.Guard(d.Voice, d.ours, inside).ServeHTTP(w, r)
}

// unanswered is the workbook as it stands without what is made of it, which nobody at the trees waits for.
func (d *desk) unanswered() (*page.Site, error) {
	s := d.bare()
	have, err := d.Book.Seen()
	if err != nil {
		return s, err
	}
	s.Book, s.Now, s.Have, s.Input = d.Book, d.Now, have, advice.Usual(have.Input)
	return s, nil
}

// bare is a floor without a workbook on it.
func (d *desk) bare() *page.Site {
	d.mu.Lock()
	defer d.mu.Unlock()
	return &page.Site{Kit: d.kit}
}

// changing is the answer to one who may have changed the workbook.
type changing struct {
	http.ResponseWriter
	book *book.Book
}

// Unwrap is for http.ResponseController.
func (c *changing) Unwrap() http.ResponseWriter { return c.ResponseWriter }

func (c *changing) WriteHeader(code int) {
	http.SetCookie(c, &http.Cookie{Name: page.SeenCookie, Value: strconv.FormatInt(c.book.Kept(), 10), Path: "/",
		HttpOnly: true, SameSite: http.SameSiteLaxMode})
	c.ResponseWriter.WriteHeader(code)
}

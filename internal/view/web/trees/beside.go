package trees

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/gofrs/flock"

	"spile/internal/note"
)

// beside is what a workbench keeps in a file beside its workbook, and not in it, since a workbook is mailed: the phones
// that were let in, so that a restart knows them, and what they sent that could not be stored, until someone decides
// it.
type beside struct {
	Phones  []phone   `json:"phones"`
	Refused []refusal `json:"refused"`
}

// phone is one that was let in.
type phone struct {
	Who     string    `json:"who"`
	Since   time.Time `json:"since"`
	Read    time.Time `json:"read,omitzero"` // when it last stored a reading
	Last    string    `json:"last,omitempty"`
	Waiting int       `json:"waiting,omitempty"` // typed on it and not stored, when it was last heard of
	Keys    []string  `json:"keys"`              // digests of what lets it in: one at each address that it came by
}

// refusal is a reading that a phone sent and that could not be stored, as it was typed.
type refusal struct {
	ID      string            `json:"id"` // given by the phone to what was typed
	Who     string            `json:"who"`
	Sent    time.Time         `json:"sent"`
	Trial   string            `json:"trial"`
	Season  string            `json:"season"`
	Date    string            `json:"date"`
	Time    string            `json:"time,omitempty"`
	Way     string            `json:"way,omitempty"`
	Unit    string            `json:"unit"`
	Typed   map[string]string `json:"typed"`
	Decided *decision         `json:"decided,omitempty"`
}

// decision is what became of a refused reading.
type decision struct {
	Who  string    `json:"who"`
	At   time.Time `json:"at"`
	Unit string    `json:"unit,omitempty"` // that it was entered for; "": it was thrown away
	Why  string    `json:"why,omitempty"`
}

// mostRefused are kept: of those decided the latest, so that a phone that comes back late still hears what became of
// what it sent.
const mostRefused = 2000

// token is what a phone shows, as a cookie, and its handle, which its pages know: by that the page of an old address
// lets the same phone in at a new one. What is kept is a digest of the handle, so that neither can be read from it.
func handleOf(token string) string { return digestOf("handle " + token) }

func digestOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// latest is the file as it stands, which another workbench over the same workbook may have written. p.mu is held.
func (p *Phones) latest() *beside {
	if p.path == "" {
		return &p.kept
	}
	info, err := os.Stat(p.path)
	if err != nil || os.SameFile(info, p.file) && info.ModTime().Equal(p.file.ModTime()) {
		return &p.kept
	}
	p.file = info
	var now beside
	text, err := os.ReadFile(p.path)
	if err == nil {
		err = json.Unmarshal(text, &now)
	}
	if err != nil { // set aside, never written over
		os.Rename(p.path, p.path+"-damaged")
		p.trouble = note.Faults{note.New("%s cannot be read, and is now called %s: let the phones in anew",
			filepath.Base(p.path), filepath.Base(p.path)+"-damaged")}
		return &p.kept
	}
	now.Phones = slices.DeleteFunc(now.Phones, func(x phone) bool { return len(x.Keys) == 0 })
	p.kept = now
	return &p.kept
}

// change changes the file as it stands, while no other workbench does: it is written anew, whole or not at all. p.mu is
// held.
func (p *Phones) change(do func(*beside)) {
	if p.path == "" {
		do(&p.kept)
		return
	}
	alone := flock.New(p.path + "-lock")
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second) // one that hangs holds up no phone
	defer cancel()
	if got, _ := alone.TryLockContext(ctx, time.Millisecond); got {
		defer alone.Unlock()
	}
	do(p.latest())
	p.trouble = nil
	if err := p.write(); err != nil {
		p.trouble = note.Faults{note.New("%s cannot be written, since its folder or the disk takes nothing: after a "+
			"restart no phone is known, nor what was refused",
			filepath.Base(p.path))}
	}
}

func (p *Phones) write() error {
	text, err := json.MarshalIndent(p.kept, "", " ")
	if err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(p.path), filepath.Base(p.path)+"-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // where it has not got its name
	_, err = f.Write(text)
	info, told := f.Stat()
	if err = errors.Join(err, told, f.Sync(), f.Close()); err == nil {
		err = os.Rename(f.Name(), p.path)
	}
	if err == nil {
		p.file = info
	}
	return err
}

// refuse lists what a phone sent and could not be stored; it takes the place of what the same phone sent before for
// that unit and time.
func (p *Phones) refuse(list ...refusal) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.change(func(b *beside) { b.refuse(list) })
}

func (b *beside) refuse(list []refusal) {
	for _, r := range list {
		if r.ID == "" || slices.ContainsFunc(b.Refused, func(x refusal) bool { return x.ID == r.ID }) {
			continue
		}
		b.Refused = append(slices.DeleteFunc(b.Refused, r.replaces), r)
	}
	if over := len(b.Refused) - mostRefused; over > 0 {
		b.Refused = slices.DeleteFunc(b.Refused, func(x refusal) bool {
			over--
			return x.Decided != nil && over >= 0
		})
		b.Refused = b.Refused[:min(len(b.Refused), mostRefused)] // what is too much stays on its phone
	}
}

// replaces is true of what the same phone sent before for the same unit and time, and nobody has decided.
func (r refusal) replaces(x refusal) bool {
	return x.Decided == nil && x.Who == r.Who && x.Trial == r.Trial && x.Season == r.Season && x.Date == r.Date &&
		x.Time == r.Time && x.Unit == r.Unit
}

// stored takes from the list what a phone has stored since, and keeps what it last read.
func (p *Phones) stored(who phone, last string, waiting int, list ...refusal) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.change(func(b *beside) {
		for _, r := range list {
			b.Refused = slices.DeleteFunc(b.Refused, r.replaces)
		}
		for i := range b.Phones {
			if x := &b.Phones[i]; slices.Equal(x.Keys[:1], who.Keys[:1]) {
				x.Waiting = waiting
				if last != "" {
					x.Read, x.Last = p.Now(), last
				}
			}
		}
	})
}

// refused is a reading that was not stored, by its ID.
func (p *Phones) refused(id string) (refusal, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	b := p.latest()
	if i := slices.IndexFunc(b.Refused, func(x refusal) bool { return x.ID == id }); i >= 0 && id != "" {
		return b.Refused[i], true
	}
	return refusal{}, false
}

// decide settles what becomes of a refused reading.
func (p *Phones) decide(id string, d decision) {
	p.mu.Lock()
	defer p.mu.Unlock()
	d.At = p.Now()
	p.change(func(b *beside) {
		for i := range b.Refused {
			if x := &b.Refused[i]; x.ID == id && x.Decided == nil {
				x.Decided = &d
			}
		}
	})
}

// all is what was refused, the first first.
func (p *Phones) all() []refusal {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.latest().Refused)
}

package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// patience is how long a command works before it shows that it does.
const patience = time.Second

// busy shows on a terminal that a command still works, from its patience on until it first says something itself.
type busy struct {
	bar   *progressbar.ProgressBar // nil: no terminal
	end   chan struct{}
	quiet sync.Once
	ended chan struct{}
}

// working begins to show that a command works; what it does is said by bar.Describe.
func working(stderr io.Writer, what string) *busy {
	b := &busy{end: make(chan struct{}), ended: make(chan struct{})}
	f, ok := stderr.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		close(b.ended)
		return b
	}
	b.bar = progressbar.NewOptions(-1, progressbar.OptionSetWriter(f), progressbar.OptionSetDescription(what),
		progressbar.OptionSpinnerType(14), progressbar.OptionClearOnFinish(), progressbar.OptionSetElapsedTime(true))
	go b.turn()
	return b
}

func (b *busy) turn() {
	defer close(b.ended)
	select {
	case <-b.end:
		return
	case <-time.After(patience):
	}
	defer b.bar.Finish()
	tick := time.NewTicker(100 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case <-b.end:
			return
		case <-tick.C:
			b.bar.Add(1)
		}
	}
}

// on says what is being done now.
func (b *busy) on(what string) {
	if b.bar != nil {
		b.bar.Describe(what)
	}
}

// over ends it, for good.
func (b *busy) over() {
	b.quiet.Do(func() { close(b.end) })
	<-b.ended
}

// after is a writer that first ends what shows that a command works.
func (b *busy) after(w io.Writer) io.Writer { return speaker{b, w} }

type speaker struct {
	busy *busy
	io.Writer
}

func (s speaker) Write(p []byte) (int, error) {
	s.busy.over()
	return s.Writer.Write(p)
}

// bar counts what is done, on a terminal.
func (o *out) bar(n int, what string) *progressbar.ProgressBar {
	o.busy.over()
	to := io.Discard
	if o.busy.bar != nil {
		to = os.Stderr
	}
	return progressbar.NewOptions(n, progressbar.OptionSetWriter(to), progressbar.OptionSetDescription(what),
		progressbar.OptionShowCount(), progressbar.OptionClearOnFinish(), progressbar.OptionSetPredictTime(true))
}

// A logger's file may be of any length: from how many MB on it is said what reading takes, and how many are read in a
// second (10⁸ rows of 27 letters took 101 s of a busy machine's time, and 220 MB).
const (
	largeMB  = 200
	readInMB = 25
)

// large says what files will take to be read, where that is long.
func (o *out) large(files []string) {
	mb := int64(0)
	for _, name := range files {
		if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() {
			mb += info.Size() / 1e6
		}
	}
	if mb >= largeMB {
		fmt.Fprintln(o.stderr, o.voice.Text("These files hold %d MB: reading them takes about %d s, and up to 300 MB "+
			"of memory.", int(mb), int(mb/readInMB)))
	}
}

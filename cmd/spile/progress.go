package main

import (
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// working shows on a terminal that work goes on, once it has gone on for a second. The function it gives ends that.
func (o *out) working(what string) (stop func()) {
	f, ok := o.stderr.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return func() {}
	}
	end, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		select {
		case <-end:
			return
		case <-time.After(time.Second):
		}
		bar := progressbar.NewOptions(-1, progressbar.OptionSetWriter(f), progressbar.OptionSetDescription(what),
			progressbar.OptionSpinnerType(14), progressbar.OptionClearOnFinish(), progressbar.OptionSetElapsedTime(true))
		defer bar.Finish()
		for tick := time.NewTicker(100 * time.Millisecond); ; {
			select {
			case <-end:
				return
			case <-tick.C:
				bar.Add(1)
			}
		}
	}()
	return func() { close(end); <-ended }
}

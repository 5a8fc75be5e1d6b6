package web

import (
	"context"
	"net"
	"slices"
	"strconv"
	"sync"
	"time"

	"spile/internal/view/web/trees"
)

// Share serves phones at a port of each address that this machine has in local networks, which are asked for every so
// often: one that comes is listened on, one that goes is let go. moved is called with what is listened on, at first and
// at each change. It ends with the context, or at once where an address cannot be listened on at first.
func Share(ctx context.Context, p *trees.Phones, port int, local func() []string, every time.Duration,
	moved func(addresses []string)) error {
	ctx, cancel := context.WithCancel(ctx)
	var running sync.WaitGroup
	defer running.Wait()
	defer cancel()
	var mu sync.Mutex
	open := map[string]func(){}
	look := func() (changed bool, err error) {
		mu.Lock()
		defer mu.Unlock()
		var want []string
		for _, ip := range local() {
			want = append(want, net.JoinHostPort(ip, strconv.Itoa(port)))
		}
		for addr, end := range open {
			if !slices.Contains(want, addr) {
				end()
				delete(open, addr)
				changed = true
			}
		}
		for _, addr := range want {
			if open[addr] != nil {
				continue
			}
			l, failed := new(net.ListenConfig).Listen(ctx, "tcp", addr)
			if failed != nil { // an address that is only just coming is tried again
				err = failed
				continue
			}
			one, cancel := context.WithCancel(ctx)
			open[addr], changed = func() { cancel(); l.Close() }, true
			running.Go(func() {
				defer cancel()
				if Serve(one, l, p); one.Err() == nil { // it broke, and is opened again
					l.Close()
					mu.Lock()
					delete(open, addr)
					mu.Unlock()
				}
			})
		}
		var now []string
		for _, addr := range want {
			if open[addr] != nil {
				now = append(now, addr)
			}
		}
		p.Moved(now)
		if changed {
			moved(now)
		}
		return changed, err
	}
	changed, err := look()
	if !changed {
		if err != nil {
			return err
		}
		moved(nil)
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
			look() // what fails is tried again
		}
	}
}

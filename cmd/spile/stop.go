package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"

	"spile/internal/files/output"
)

// grace is how long a stopped call may take to end by itself: to answer the request that it is at, or to keep what it
// is keeping. Then it is ended where it stands. No computation needs to ask whether it should stop.
const grace = 200 * time.Millisecond

// stopping gives a context that Ctrl-C or SIGTERM ends, and what turns the exit code of a call into that of a call that
// may have been stopped. A call that goes on beyond its grace is ended: what it was writing is taken away, a workbook's
// change that was not complete is not in it, and files that are complete stay.
func stopping(parent context.Context) (ctx context.Context, ended func(code int) int) {
	ctx, cancel := context.WithCancel(parent)
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	by := make(chan int, 1)
	go func() {
		s := <-signals
		by <- stopped + int(s.(syscall.Signal))
		cancel()
		select {
		case <-signals: // asked twice
		case <-time.After(grace):
		}
		output.Abandon()
		os.Exit(<-by)
	}()
	return ctx, func(code int) int {
		select {
		case code = <-by:
		default:
		}
		return code
	}
}

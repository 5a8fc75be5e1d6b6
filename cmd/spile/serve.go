package main

import (
	"errors"
	"fmt"
	"net"

	"spile/advice"
	"spile/note"
	"spile/web"
)

type serveCommand struct {
	files
	money
	model
	Addr string `default:"127.0.0.1:7345" placeholder:"HOST:PORT" help:"Where to listen, on this machine only (default 127.0.0.1:7345)."`
}

// Help teaches the command.
func (serveCommand) Help() string {
	return `Serves the workbench to a browser on this machine. Nothing is asked of the network, and no file is changed:
what you try lives in the address of the page. Ctrl-C ends it.

    spile serve evidence.csv prices.toml`
}

// Run does it.
func (c serveCommand) Run(o *out) error {
	in, err := c.input(c.model, c.money)
	if err != nil {
		return err
	}
	o.warn(in.Notes)
	return o.serve(in, c.Addr)
}

// serve serves the workbench until the context ends.
func (o *out) serve(in advice.Input, addr string) error {
	o.settle(in)
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return misuse{note.New("--addr %s; allowed: HOST:PORT", addr)}
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return misuse{note.New("--addr %s is open to the network; allowed: an address of this machine only, such as 127.0.0.1:7345", addr)}
	}
	handler, err := web.New(web.Config{Input: in, Voice: o.voice, Version: versionText()})
	if err != nil {
		return err
	}
	listener, err := new(net.ListenConfig).Listen(o, "tcp", addr)
	if err != nil {
		return note.Faults{note.New("cannot listen on %s: %s", addr, reason(err))}
	}
	fmt.Fprintln(o.stdout, o.voice.Text("The workbench is at %s (Ctrl-C ends it)", "http://"+listener.Addr().String()+"/"))
	return web.Serve(o, listener, handler)
}

// reason is the innermost error: "address already in use".
func reason(err error) string {
	for {
		inner := errors.Unwrap(err)
		if inner == nil {
			return err.Error()
		}
		err = inner
	}
}

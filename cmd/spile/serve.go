package main

import (
	"errors"
	"fmt"
	"net"
	"reflect"
	"time"

	"spile/advice"
	"spile/book"
	"spile/note"
	"spile/web"
)

type serveCommand struct {
	files
	money
	model
	Who  string `placeholder:"NAME" help:"Who changes the workbook, for its history (default: the login name)."`
	Addr string `default:"127.0.0.1:7345" placeholder:"HOST:PORT" help:"Where to listen, on this machine only (default 127.0.0.1:7345)."`
}

// Help teaches the command.
func (serveCommand) Help() string {
	return `Serves the workbench to a browser on this machine. Nothing is asked of the network, and no file is changed:
what you try lives in the address of the page. Over a workbook there are pages besides that add and change
studies and prices, take in tables, and undo; with flags that change the answer it is read only. Ctrl-C ends it.

    spile serve evidence.csv prices.toml
    spile serve station.spile --who Ada`
}

// Run does it.
func (c serveCommand) Run(o *out) error {
	asStands := model{Inference: "kr", Variance: "pooled", SiteEffect: true}
	if len(c.Files) == 1 && isWorkbook(c.Files[0]) && c.money == (money{}) && reflect.DeepEqual(c.model, asStands) {
		return c.edit(o)
	}
	in, err := c.input(c.model, c.money)
	if err != nil {
		return err
	}
	o.warn(in.Notes)
	return o.serve(in, c.Addr)
}

// edit serves a workbook, whose pages change it.
func (c serveCommand) edit(o *out) error {
	if c.Who == "" {
		c.Who = login()
	}
	if c.Who == "" {
		return misuse{note.New("the login name is not known: give --who NAME")}
	}
	if _, err := now(); err != nil {
		return err
	}
	b, err := book.Open(c.Files[0])
	if err != nil {
		return err
	}
	defer b.Close()
	if err := b.Writable(); err != nil {
		o.warn([]note.Note(err.(note.Faults))) // it is read all the same
	}
	have, err := b.Input()
	if err != nil {
		return err
	}
	o.settle(have)
	clock := func() time.Time {
		t, _ := now()
		return t
	}
	return o.listen(web.Config{Book: b, Who: c.Who, Now: clock, Voice: o.voice, Version: versionText()}, c.Addr)
}

// serve serves the workbench over files until the context ends.
func (o *out) serve(in advice.Input, addr string) error {
	o.settle(in)
	return o.listen(web.Config{Input: in, Voice: o.voice, Version: versionText()}, addr)
}

func (o *out) listen(c web.Config, addr string) error {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return misuse{note.New("--addr %s; allowed: HOST:PORT", addr)}
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return misuse{note.New("--addr %s is open to the network; allowed: an address of this machine only, such as 127.0.0.1:7345", addr)}
	}
	handler, err := web.New(c)
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

package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net"
	"reflect"
	"strconv"
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/note"
	"spile/internal/view/web"
	"spile/internal/view/web/trees"
)

type serveCommand struct {
	files
	money
	model
	Who   string `placeholder:"NAME" help:"Who changes the workbook, for its history (default: the login name)."`
	Addr  string `default:"127.0.0.1:7345" placeholder:"HOST:PORT"`
	Share bool   `help:"Let phones of the local network enter readings of trials, by a code that is good once."`
}

// Help teaches the command.
func (serveCommand) Help() string {
	return `Serves the workbench to a browser on this machine. Nothing is asked of the network, and no file is changed:
what you try lives in the address of the page. Over a workbook there are pages besides that add and change
studies and prices, take in tables, and undo; with flags that change the answer it is read only. Ctrl-C ends it.

With --share phones in the same network can enter the readings of trials, and nothing else. A code shown here lets in
one phone; then the next code is shown. What passes is not encrypted, so use a network of your own, not an open one.

    spile serve evidence.csv prices.toml
    spile serve station.spile --who Ada
    spile serve station.spile --who Ada --share`
}

// Run does it.
func (c serveCommand) Run(o *out) error {
	if err := ownAddress(c.Addr); err != nil {
		return err
	}
	if len(c.Files) == 1 && isWorkbook(c.Files[0]) && c.money == (money{}) && reflect.DeepEqual(c.model, usualModel) {
		return c.edit(o)
	}
	if c.Share {
		return misuse{note.New("--share is for a workbook as it stands: spile serve BOOK.spile --share")}
	}
	in, err := c.input(o, c.model, c.money)
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
		o.warn(note.List(err.(note.Faults))) // it is read all the same
	}
	have, err := b.Contents()
	if err != nil {
		return err
	}
	o.settle(have.Prices)
	clock := func() time.Time {
		t, _ := now()
		return t
	}
	return o.listen(web.Config{Book: b, Who: c.Who, Now: clock, Voice: o.voice, Units: o.units,
		Version: versionText()}, c.Addr, c.Share)
}

// serve serves the workbench over files until the context ends.
func (o *out) serve(in advice.Input, addr string) error {
	o.settle(in.Prices)
	return o.listen(web.Config{Input: in, Voice: o.voice, Version: versionText()}, addr, false)
}

// ownAddress refuses what is no address of this machine alone, before anything is read.
func ownAddress(addr string) error {
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		return misuse{note.New("--addr %s; allowed: HOST:PORT", addr)}
	}
	if _, err := strconv.ParseUint(port, 10, 16); err != nil {
		return misuse{note.New("--addr %s: there is no port %s; allowed: 0 to 65535, where 0 is any that is free",
			addr, port)}
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return misuse{note.New("--addr %s is open to the network; allowed: an address of this machine only, such as "+
			"127.0.0.1:7345", addr)}
	}
	return nil
}

func (o *out) listen(c web.Config, addr string, share bool) error {
	listener, err := new(net.ListenConfig).Listen(o, "tcp", addr)
	if err != nil {
		return note.Faults{note.New("cannot listen on %s: %s", addr, reason(err))}
	}
	defer listener.Close()
	at := listener.Addr().(*net.TCPAddr)
	if share {
		c.Phones = trees.NewPhones(nil, func(code, let string) {
			if let != "" {
				fmt.Fprintln(o.stdout, o.voice.Text("The phone of %s was let in.", let))
			}
			fmt.Fprintln(o.stdout, o.voice.Text("Code for the next phone: %s", code))
		})
	}
	handler, err := web.New(c)
	if err != nil {
		return err
	}
	fmt.Fprintln(o.stdout, o.voice.Text("The workbench is at %s (Ctrl-C ends it)", "http://"+at.String()+"/"))
	if !share {
		return web.Serve(o, listener, handler)
	}
	fmt.Fprintln(o.stdout, o.voice.Text("What passes is not encrypted: use a network of your own, not an open one. "+
		"Ctrl-C ends the sharing."))
	ctx, cancel := context.WithCancel(o)
	defer cancel()
	ended := make(chan error, 2)
	go func() { ended <- web.Serve(ctx, listener, handler) }()
	go func() {
		err := web.Share(ctx, c.Phones, at.Port, trees.LocalAddresses, 3*time.Second, o.moved)
		if err != nil {
			err = note.Faults{note.New("cannot listen on the local network: %s", reason(err))}
		}
		ended <- err
	}()
	err = <-ended
	cancel() // one that fails ends the other
	return cmp.Or(err, <-ended)
}

// moved says where phones come in now.
func (o *out) moved(addresses []string) {
	if len(addresses) == 0 {
		fmt.Fprintln(o.stdout,
			o.voice.Text("This machine is in no local network now. Join one, or open a hotspot: its "+
				"address then stands here, and the phones that were let in stay in."))
		return
	}
	fmt.Fprintln(o.stdout, o.voice.Text("Phones in the same network enter readings at http://%s/",
		strings.Join(addresses, "/, http://")))
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

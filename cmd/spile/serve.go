package main

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"os"
	"reflect"
	"strconv"
	"strings"
	"time"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/files/people"
	"spile/internal/note"
	"spile/internal/view/web"
	"spile/internal/view/web/door"
	"spile/internal/view/web/trees"
)

type serveCommand struct {
	files
	money
	model
	Who   string   `placeholder:"NAME" help:"Who changes the workbook, for its history (default: the login name)."`
	Addr  string   `default:"127.0.0.1:7345" placeholder:"HOST:PORT"`
	Name  []string `placeholder:"HOST"`
	Cert  string   `placeholder:"FILE" help:"Certificate for TLS (PEM, with those that lead to it)."`
	Key   string   `placeholder:"FILE" help:"Key of that certificate (PEM)."`
	Proxy bool

	Institution string `placeholder:"URL" help:"A provider of OpenID Connect, through which who is invited may sign in as well."`
	Client      string `placeholder:"ID" help:"The workbench's name at that provider."`
	Secret      string `placeholder:"FILE" help:"The file with its secret there (or SPILE_SECRET)."`

	Metrics string `placeholder:"HOST:PORT" help:"Counters for Prometheus, at this address of this machine alone."`
	Share   bool   `help:"Let phones of the local network enter readings of trials, by a code that is good once."`
}

// Help teaches the command.
func (serveCommand) Help() string {
	return `Serves the workbench to a browser on this machine. Nothing is asked of the network, and no file is changed:
what you try lives in the address of the page. Over a workbook there are pages besides that add and change
studies and prices, take in tables, and undo; with flags that change the answer it is read only. Ctrl-C ends it.

With --share phones in the same network can enter the readings of trials, and nothing else. A code shown here lets in
one phone; then the next code is shown. What passes is not encrypted, so use a network of your own, not an open one.

A workbook on a server that has accounts (spile invite) asks who uses it to sign in. It may be reached over the
network then, by TLS of its own or of a proxy before it, and writes a line of JSON for each answer to standard error.

    spile serve evidence.csv prices.toml
    spile serve station.spile --who Ada
    spile serve station.spile --who Ada --share
    spile serve postgres://spile@localhost/maple --name maple.example.org --proxy`
}

// Run does it.
func (c serveCommand) Run(o *out) error {
	if err := c.reached(); err != nil {
		return err
	}
	if len(c.Files) == 1 && isWorkbook(c.Files[0]) && c.money == (money{}) && reflect.DeepEqual(c.model, usualModel) {
		return c.edit(o)
	}
	if c.open() {
		return misuse{note.New("only a workbook with accounts, as it stands, is served over the network: spile serve " +
			"postgres://USER@HOST/DATABASE --name HOST --proxy")}
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
	if c.Who == "" && !c.open() { // where everybody signs in, a login is nobody's: a container has none
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
	config := web.Config{Book: b, Who: c.Who, Now: clock, Voice: o.voice, Units: o.units, Version: versionText(),
		Hosts: c.Name}
	if config.Door, err = c.door(b, clock); err != nil {
		return err
	}
	secure, err := c.tls()
	if err != nil {
		return err
	}
	if c.open() {
		log := slog.New(slog.NewJSONHandler(o.stderr, nil))
		slog.SetDefault(log) // what the libraries say stands there, too
		config.Watch = web.NewWatch(log)
	}
	if c.Metrics != "" {
		counters, err := new(net.ListenConfig).Listen(o, "tcp", c.Metrics)
		if err != nil {
			return note.Faults{note.New("cannot listen on %s: %s", c.Metrics, reason(err))}
		}
		m := http.NewServeMux()
		m.Handle("GET /metrics", config.Watch)
		go web.Serve(o, counters, m)
		slog.Info("counting", "at", "http://"+counters.Addr().String()+"/metrics")
	}
	return o.listen(config, c.Addr, c.Share, secure)
}

// door is where who uses a workbook signs in; nil: it is in a file, which has no accounts.
func (c serveCommand) door(b *book.Book, clock func() time.Time) (*door.Door, error) {
	p, accounts := people.Of(b), false
	if p != nil {
		var err error
		if accounts, err = p.Any(); err != nil {
			return nil, err
		}
	}
	switch {
	case !accounts && c.open():
		return nil, misuse{note.New("this workbook has no accounts, so it is for this machine only; allowed: to make " +
			"the first: spile invite postgres://USER@HOST/DATABASE NAME")}
	case p != nil && c.Share:
		return nil, misuse{note.New("--share is for a workbook in a file: of one on a server phones sign in as " +
			"everybody does")}
	case p == nil:
		return nil, nil
	}
	d := door.New(p, c.open(), c.Proxy, clock)
	if c.Institution != "" {
		secret := os.Getenv("SPILE_SECRET")
		if c.Secret != "" {
			data, err := os.ReadFile(c.Secret)
			if err != nil {
				return nil, note.Faults{note.New("cannot be read: %s", reason(err)).At(note.Where{File: c.Secret})}
			}
			secret = string(data)
		}
		d.Institution = &door.Institution{Issuer: c.Institution, Client: c.Client, Secret: strings.TrimSpace(secret)}
	}
	return d, nil
}

// open is true of a workbench that is reached over the network.
func (c serveCommand) open() bool {
	return c.Proxy || c.Cert != "" || len(c.Name) > 0 || !loopback(c.Addr)
}

// reached refuses what would be open to the network without TLS, and what cannot be reached.
func (c serveCommand) reached() error {
	if err := address(c.Addr); err != nil {
		return err
	}
	if c.Metrics != "" {
		if err := ownAddress("--metrics", c.Metrics); err != nil {
			return err
		}
	}
	var faults note.Faults
	if u, err := url.Parse(c.Institution); c.Institution != "" && (err != nil || u.Host == "" || u.Scheme != "https" &&
		!loopback(u.Host) && !loopback(net.JoinHostPort(u.Host, "0")) || c.Client == "") {
		faults.Add("--institution is https://…, with --client: the name of the workbench there")
	}
	if (c.Cert == "") != (c.Key == "") {
		faults.Add("--cert and --key go together")
	}
	if c.Cert != "" && c.Proxy {
		faults.Add("--cert and --proxy: TLS is done here or by the proxy; allowed: one of them")
	}
	if c.open() && c.Cert == "" && !c.Proxy {
		faults.Add("--addr %s is open to the network; allowed: an address of this machine only, such as "+
			"127.0.0.1:7345, or TLS by --cert and --key, or by a --proxy", c.Addr)
	} else if c.open() && len(c.Name) == 0 {
		faults.Add("nothing says by which name it is reached over the network: give --name HOST")
	}
	if c.Metrics != "" && !c.open() {
		faults.Add("--metrics is for a workbench that is reached over the network; allowed with --name HOST")
	}
	if faults != nil {
		return misuses{faults}
	}
	return nil
}

// tls is how TLS is done here; nil: it is not.
func (c serveCommand) tls() (*tls.Config, error) {
	if c.Cert == "" {
		return nil, nil
	}
	pair, err := tls.LoadX509KeyPair(c.Cert, c.Key)
	if err != nil {
		return nil, note.Faults{note.New("the certificate and its key cannot be read: %s", reason(err))}
	}
	return &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}, nil
}

// serve serves the workbench over files until the context ends.
func (o *out) serve(in advice.Input, addr string) error {
	o.settle(in.Prices)
	return o.listen(web.Config{Input: in, Voice: o.voice, Version: versionText()}, addr, false, nil)
}

// ownAddress refuses what is no address of this machine alone, before anything is read.
func ownAddress(flag, addr string) error {
	if err := address(addr); err != nil || loopback(addr) {
		return err
	}
	return misuse{note.New("%s %s is open to the network; allowed: an address of this machine only, such as "+
		"127.0.0.1:7345", flag, addr)}
}

// address refuses what is no address to listen on.
func address(addr string) error {
	_, port, err := net.SplitHostPort(addr)
	if err != nil {
		return misuse{note.New("--addr %s; allowed: HOST:PORT", addr)}
	}
	if _, err := strconv.ParseUint(port, 10, 16); err != nil {
		return misuse{note.New("--addr %s: there is no port %s; allowed: 0 to 65535, where 0 is any that is free",
			addr, port)}
	}
	return nil
}

// loopback is true of an address of this machine alone.
func loopback(addr string) bool {
	host, _, _ := net.SplitHostPort(addr)
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func (o *out) listen(c web.Config, addr string, share bool, secure *tls.Config) error {
	listener, err := new(net.ListenConfig).Listen(o, "tcp", addr)
	if err != nil {
		return note.Faults{note.New("cannot listen on %s: %s", addr, reason(err))}
	}
	defer listener.Close()
	at, scheme := listener.Addr().(*net.TCPAddr), "http://"
	if secure != nil {
		listener, scheme = tls.NewListener(listener, secure), "https://"
	}
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
	fmt.Fprintln(o.stdout, o.voice.Text("The workbench is at %s (Ctrl-C ends it)", scheme+at.String()+"/"))
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

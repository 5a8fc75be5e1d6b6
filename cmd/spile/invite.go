package main

import (
	"fmt"
	"strings"

	"spile/internal/files/book"
	"spile/internal/files/people"
	"spile/internal/note"
)

type inviteCommand struct {
	Workbook string `arg:"" name:"book" help:"The address of the workbook (postgres://…)."`
	Name     string `arg:"" help:"Who is invited, as the history will call them."`
	Right    string `default:"steward" placeholder:"WORD"`
	Station  string `placeholder:"NAME" help:"The station that they are of."`
	Mail     string `placeholder:"ADDRESS" help:"By which their institution names them (spile serve --institution)."`
	At       string `default:"http://127.0.0.1:7345" placeholder:"URL"`
}

// Help teaches the command.
func (inviteCommand) Help() string {
	return `Makes an account in a workbook on a server, and prints the address at which its owner sets a password: good once, for
a week. From the first account on, spile serve asks who uses this workbook to sign in; stewards then invite
the others on the page People. Who is invited again sets a new password.

    spile invite postgres://ada@localhost/maple "Ada Wood"
    spile invite postgres://ada@localhost/maple "Bo Reed" --right recorder --at https://maple.example.org`
}

// Run does it.
func (c inviteCommand) Run(o *out) error {
	may, ok := people.RightOf(c.Right)
	if !ok || may == people.Nothing {
		return misuse{note.New("--right %s; allowed: %s", c.Right, strings.Join(people.Rights[1:], ", "))}
	}
	if err := onServer(c.Workbook); err != nil {
		return err
	}
	at, err := now()
	if err != nil {
		return err
	}
	b, err := book.Open(c.Workbook)
	if err != nil {
		return notKept{err}
	}
	defer b.Close()
	token, err := people.Of(b).Invite(c.Name, c.Station, c.Mail, may, at)
	if err != nil {
		return notKept{err}
	}
	fmt.Fprintln(o.stdout, o.voice.Text("Send this address to %s. It is good once, for a week; whoever has it sets "+
		"the password.", c.Name))
	fmt.Fprintln(o.stdout, strings.TrimSuffix(c.At, "/")+"/join/"+token)
	return nil
}

// onServer refuses a workbook that knows no accounts.
func onServer(path string) error {
	if book.Served(path) {
		return nil
	}
	return misuse{note.New("%s is a workbook in a file, which has no accounts; allowed: an address such as "+
		"postgres://USER@HOST/DATABASE", path)}
}

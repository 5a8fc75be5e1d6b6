// Command spile turns a table of studies and a price file into a recommendation: how much more sap each way of keeping
// tap holes and tubing clean gives, what it nets a tap, and which pays best.
package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/alecthomas/kong"

	"spile/internal/engine/advice"
	"spile/internal/files/book"
	"spile/internal/files/output"
	"spile/internal/note"
	"spile/internal/trade/doubt"
	"spile/internal/view/say"
	"spile/internal/view/show"
)

// Exit codes.
const (
	done       = 0
	faultyData = 1
	faultyCall = 2
	stopped    = 128 // and the number of the signal: 130 for Ctrl-C, 143 for SIGTERM
)

// version is set by the linker: -ldflags "-X main.version=1.2.3".
var version string

func main() {
	ctx, ended := stopping(context.Background())
	os.Exit(ended(run(ctx, os.Args[1:], new(advice.Memo), os.Stdout, os.Stderr)))
}

// commands is the command line.
type commands struct {
	Demo       demoCommand       `cmd:"" help:"The whole chain on an invented scenario: start here."`
	New        newCommand        `cmd:"" help:"An empty workbook."`
	Add        addCommand        `cmd:"" help:"Take evidence, prices, practices and rules from files into a workbook."`
	Check      checkCommand      `cmd:"" help:"Prove that a workbook is whole."`
	Changes    changesCommand    `cmd:"" help:"What came into a workbook, and what each moved."`
	Copy       copyCommand       `cmd:"" help:"Copy a workbook with all its history into a database, or back."`
	Sync       syncCommand       `cmd:"" help:"Bring a workbook and a server up to date with one another."`
	Gains      gainsCommand      `cmd:"" help:"How much more sap each practice gives, pooled over all studies."`
	Trust      trustCommand      `cmd:"" help:"Whether the pool can be trusted: what every check does to the answer."`
	Rotation   rotationCommand   `cmd:"" help:"How drops age, and how often replacing them pays best."`
	Profit     profitCommand     `cmd:"" help:"What each practice nets a tap, and which pays best."`
	Sure       sureCommand       `cmd:"" help:"How sure that is, what it hangs on, and what it would be worth to know."`
	Worth      worthCommand      `cmd:"" help:"Which trial is worth running next."`
	Plan       planCommand       `cmd:""`
	Handout    handoutCommand    `cmd:""`
	Trial      trialCommand      `cmd:"" help:"A trial of your own: design, power, analysis."`
	Publish    publishCommand    `cmd:"" help:"Write one page for all producers, with room for their own numbers."`
	Report     reportCommand     `cmd:"" help:"Write everything as one HTML or PDF file, or as slides."`
	Figure     figureCommand     `cmd:"" help:"Write one figure as SVG, PNG or PDF."`
	Export     exportCommand     `cmd:"" help:"Write everything as an open data package, or as a spreadsheet."`
	Serve      serveCommand      `cmd:"" help:"Open the workbench in the browser: try any assumption."`
	Invite     inviteCommand     `cmd:"" help:"Make an account in a workbook on a server."`
	Completion completionCommand `cmd:"" help:"Print a script for bash, zsh or fish that completes commands and flags."`

	Risk formerCommand `cmd:"" hidden:"" passthrough:""`

	Version versionFlag `help:"Print the version and stop."`
	Lang    string      `placeholder:"TAG"`
	Accept  []string    `placeholder:"ID" help:"Say that something unusual is meant: the ID stands with the question."`
	Force   bool        `help:"Write over files that spile did not write, or that were changed since it wrote them."`
	Units   string      `enum:"${units}," default:"" placeholder:"${units_or}"`
}

// Help of the whole program.
func (commands) Help() string {
	return `To see it work:

    spile demo

With data of your own:

    spile gains evidence.csv
    spile profit evidence.csv prices.toml
    spile serve evidence.csv prices.toml

To keep them, with all that is ever changed, in one file:

    spile new station.spile
    spile add station.spile evidence.csv prices.toml
    spile profit station.spile

docs/data.md describes every column and key of the files. "spile COMMAND --help" teaches a command.

The exit code is 0 when done, 1 when the data is at fault, 2 when the call is.`
}

// out is where a command speaks, and how.
type out struct {
	context.Context
	stdout, stderr io.Writer
	voice          *say.Voice
	units          bool // asked for by the call
	files          output.Writer
	busy           *busy
	accepted       []string // what the call says is meant
	memo           *advice.Memo
	langs          []string // those that the call names; nil: none
}

// misuse is a fault of the call.
type misuse struct{ note.Note }

func (m misuse) Error() string { return m.English() }

// misuses is every fault of a call at once.
type misuses struct{ note.Faults }

func (m misuses) Unwrap() error { return m.Faults }

// ofCall is the error of a computation that was asked for by the call alone, so that its faults are the call's.
func ofCall(err error) error {
	var f note.Faults
	if errors.As(err, &f) && !slices.ContainsFunc(f, func(n note.Note) bool { return n.Where.File != "" }) {
		return misuses{f}
	}
	return err
}

// exit carries an exit code out of kong, which wants to leave the program.
type exit int

// run is the program: its arguments in, its exit code out.
func run(ctx context.Context, args []string, memo *advice.Memo, stdout, stderr io.Writer) (code int) {
	defer func() {
		switch r := recover().(type) {
		case nil:
		case exit:
			code = int(r)
		default:
			panic(r)
		}
	}()
	args = slices.Clone(args)
	for i, a := range args { // so that nothing which repeats the call can tell a password
		flag, value, ok := strings.Cut(a, "=")
		if strings.HasPrefix(a, "-") && ok {
			args[i] = flag + "=" + book.Hide(value)
		} else {
			args[i] = book.Hide(a)
		}
	}
	langs := strings.Split(flagOf(args, "--lang", systemLanguage(args)), ",")
	lang := langs[0] // what is published may be in several
	voice := say.In(lang)
	said, told := plainly{stdout}, plainly{stderr} // also of the call itself: a shell puts names of files into it
	var c commands
	parser, err := kong.New(&c,
		kong.Name("spile"),
		kong.Writers(said, told),
		kong.Exit(func(code int) { panic(exit(code)) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, NoExpandSubcommands: true, WrapUpperBound: 100}),
		kong.Help(help(voice)),
		spoken(voice),
	)
	if err != nil {
		panic(err) // the command line itself is malformed
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	called, refused := parse(parser, args)
	if refused != nil {
		for _, n := range refused {
			fmt.Fprintf(told, "spile: %s\n", voice.Note(n))
		}
		fmt.Fprintln(told, voice.Text("See %s.", "spile "+commandOf(parser.Model, args)+"--help"))
		return faultyCall
	}
	for _, l := range langs {
		if !say.Known(l) && l != say.Pseudo {
			err = misuse{note.New("there is no language %s; allowed: %s", l, strings.Join(say.Languages(), ", "))}
		}
	}
	if !strings.HasPrefix(called.Command(), "publish") && len(langs) > 1 {
		err = misuse{note.New("--lang %s: allowed: one language, but for publish", strings.Join(langs, ","))}
	}
	if c.Units != "" {
		voice = voice.With(say.Units(c.Units))
	}
	busy := working(stderr, called.Command())
	defer busy.over()
	o := &out{
		ctx, busy.after(said), busy.after(told), voice, c.Units != "",
		output.Writer{Inputs: reads(called.Path), Force: c.Force}, busy, c.Accept, memo, nil,
	}
	if c.Lang != "" {
		o.langs = langs
	}
	if err == nil {
		err = twice(called.Path)
	}
	if err == nil {
		err = o.tryAll(writes(called.Path))
	}
	if err == nil {
		err = called.Run(o)
	}
	return o.end(err)
}

// end says what went wrong, if anything, and gives the exit code.
func (o *out) end(err error) int {
	if err == nil {
		return done
	}
	var call misuse
	if errors.As(err, &call) {
		fmt.Fprintf(o.stderr, "spile: %s\n", o.voice.Note(call.Note))
		return faultyCall
	}
	var calls misuses
	if errors.As(err, &calls) {
		for _, f := range calls.Faults {
			fmt.Fprintf(o.stderr, "spile: %s\n", o.voice.Note(f))
		}
		return faultyCall
	}
	var asked doubt.Questions
	if errors.As(err, &asked) {
		return o.ask(asked)
	}
	var faults note.Faults
	if !errors.As(err, &faults) {
		fmt.Fprintf(o.stderr, "spile: %s\n", err)
		return faultyData
	}
	for _, f := range faults {
		fmt.Fprintln(o.stderr, o.voice.Note(f))
	}
	last, code := "%d faults; nothing was computed", faultyData
	var unwritten output.Unwritten
	switch {
	case errors.As(err, new(notKept)):
		last = "%d faults; nothing was kept"
	case errors.As(err, &unwritten):
		last = "%d faults; not all was written"
		if unwritten.Input {
			code = faultyCall
		}
	case errors.As(err, new(notAll)):
		last = "%d faults; the other files were done"
	case errors.As(err, new(notSynced)):
		last = "%d faults; the rest was done"
	case errors.As(err, new(notSound)):
		last = "%d faults; this workbook is not sound"
	}
	fmt.Fprintf(o.stderr, "spile: %s\n", o.voice.Text(last, faults.Count()))
	return code
}

// ask lists what is unusual and was not said to be meant.
func (o *out) ask(open doubt.Questions) int {
	for _, set := range open.Sets() {
		for _, q := range set[:min(len(set), show.Alike)] {
			fmt.Fprintf(o.stderr, "%s\n  %s\n", o.voice.Note(q.Note), o.voice.Text("if it is so: %s", "--accept "+q.ID))
		}
		if more := len(set) - show.Alike; more > 0 {
			fmt.Fprintln(o.stderr, o.voice.Text("and %d more like it", more))
		}
		if len(set) > 1 {
			fmt.Fprintf(o.stderr, "  %s\n",
				o.voice.Text("if all %d of these are so: %s", len(set), "--accept "+set[0].Set()))
		}
	}
	fmt.Fprintf(o.stderr, "spile: %s\n", o.voice.Text("%d questions; nothing was computed", len(open)))
	return faultyData
}

// systemLanguage is the language that the system is set to, by the first of the variables of POSIX that is set; English
// where there is no catalogue of it, and for JSON, whose words scripts may look for.
func systemLanguage(args []string) string {
	set := cmp.Or(os.Getenv("LC_ALL"), os.Getenv("LC_MESSAGES"), os.Getenv("LANG")) // fr_CA.UTF-8
	tag, _, _ := strings.Cut(set, ".")
	tag, _, _ = strings.Cut(tag, "@")
	if tag = strings.ReplaceAll(tag, "_", "-"); !say.Known(tag) || slices.Contains(args, "--json") {
		return "en"
	}
	return tag
}

// flagOf reads a flag before the command line is parsed, since the help is already in its language.
func flagOf(args []string, name, otherwise string) string {
	for i, a := range args {
		if value, ok := strings.CutPrefix(a, name+"="); ok {
			return value
		}
		if a == name && i+1 < len(args) {
			return args[i+1]
		}
	}
	return otherwise
}

// commandOf is the command among the arguments with a space behind it, or nothing.
func commandOf(app *kong.Application, args []string) string {
	at, name := app.Node, ""
	for _, a := range args {
		if i := slices.IndexFunc(at.Children, func(c *kong.Node) bool { return c.Name == a }); i >= 0 {
			at, name = at.Children[i], name+a+" "
		}
	}
	return name
}

type versionFlag bool

// BeforeReset prints the version before anything else is asked of the command line.
func (versionFlag) BeforeReset(app *kong.Kong) error {
	fmt.Fprintf(app.Stdout, "spile %s\n", versionText())
	app.Exit(done)
	return nil
}

// versionText is the version set by the linker, else what the build knows of itself.
func versionText() string {
	if version != "" {
		return version
	}
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" || info.Main.Version == "(devel)" {
		return "devel"
	}
	return info.Main.Version
}

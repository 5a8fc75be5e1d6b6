package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"spile/internal/note"
	"spile/internal/trade/doubt"
	"spile/internal/view/say"
)

// The parser of the command line speaks English; what it says is put into the reader's words here: names and
// placeholders where it is built, headings where help is printed, and refusals where a call is at fault.

// name is a word in capitals of a placeholder, which stands for what the user gives.
var name = regexp.MustCompile(`\b[A-Z]{2,}\b`)

// spoken is the option that has the parser speak the voice's language.
func spoken(v *say.Voice) kong.Option {
	lists := vocabularies(v)
	return kong.PostBuild(func(k *kong.Kong) error {
		translate(k.Model.Node, v, lists)
		return nil
	})
}

// translate words the help of a command and all below it, and puts lists in where ${…} names them. (The parser could,
// but looks for names in every list again for every flag, which took longer than all that a short call does.)
func translate(n *kong.Node, v *say.Voice, lists *strings.Replacer) {
	command := ""
	if n.Parent != nil {
		command = n.Path()
	}
	word := func(s string) string {
		s = lists.Replace(v.Term(note.Term(s)))
		if strings.Contains(s, "${more}") {
			s = strings.ReplaceAll(s, "${more}", more(command, v))
		}
		return s
	}
	n.Help, n.Detail = word(helped(command, "", n.Help)), word(n.Detail)
	if n.Parent == nil {
		n.Help = v.Text("From a table of studies and a price file to a recommendation for tap holes and tubing.")
	}
	for _, f := range n.Flags {
		if f.Name == "help" {
			f.Help = v.Text("Say what can be done here, and stop.")
		} else {
			f.Help = word(helped(command, "--"+f.Name, f.Help))
		}
		f.PlaceHolder = lists.Replace(name.ReplaceAllStringFunc(f.PlaceHolder, word))
		f.Enum = lists.Replace(f.Enum)
	}
	for _, p := range n.Positional {
		p.Enum = lists.Replace(p.Enum)
		p.Name, p.Help = word(p.Name), word(helped(command, "<"+p.Name+">", p.Help))
	}
	for _, child := range n.Children {
		translate(child, v, lists)
	}
}

// help prints help with its headings in the reader's words.
func help(v *say.Voice) kong.HelpPrinter {
	return func(options kong.HelpOptions, ctx *kong.Context) error {
		out := ctx.Stdout
		var b bytes.Buffer
		ctx.Stdout = &b
		err := kong.DefaultHelpPrinter(options, ctx)
		ctx.Stdout = out
		if err != nil {
			return err
		}
		lines := strings.SplitAfter(b.String(), "\n")
		for i, l := range lines {
			switch text := strings.TrimSuffix(l, "\n"); {
			case i == 0:
				usage := strings.TrimPrefix(text, "Usage: ")
				usage = strings.NewReplacer("<command>", "<"+v.Text("command")+">", "[flags]", "["+v.Text("flags")+"]").
					Replace(usage)
				lines[i] = v.Text("Usage: %s", usage) + "\n"
			case text == "Arguments:":
				lines[i] = v.Text("Arguments:") + "\n"
			case text == "Flags:":
				lines[i] = v.Text("Flags:") + "\n"
			case text == "Commands:":
				lines[i] = v.Text("Commands:") + "\n"
			case strings.HasPrefix(text, `Run "`):
				lines[i] = v.Text("%s teaches a command.", "spile … --help") + "\n"
			}
		}
		_, err = io.WriteString(out, strings.Join(lines, ""))
		return err
	}
}

// percent is a flag of percents; nil where it was not given.
type percent struct {
	name  string
	given *float64
}

// answered are the answers that the call gives to what is asked and was not answered before. The error is what is open
// then: doubt.Questions.
func (o *out) answered(asked doubt.Questions, before []doubt.Answer) (answers []doubt.Answer, err error) {
	var known []string
	for _, a := range before {
		known = append(known, a.ID)
	}
	asked = asked.Open(known)
	for _, q := range asked {
		if q.Among(o.accepted) {
			answers = append(answers, doubt.Answer{ID: q.ID, About: o.voice.Note(q.Note)})
		}
	}
	return answers, asked.Open(o.accepted).Err()
}

// today is the day that files are read on: of SOURCE_DATE_EPOCH, never of the clock; the zero time is not known.
func today() time.Time {
	day := time.Time{}
	if os.Getenv("SOURCE_DATE_EPOCH") != "" {
		day, _ = now()
	}
	return day
}

// percents asks whether what reads as a fraction is meant as percents: 0.15 % is what nobody means who gives 15 %.
func (o *out) percents(given ...percent) error {
	var asked doubt.Questions
	for _, p := range given {
		if p.given == nil || *p.given <= 0 || *p.given >= 1 {
			continue
		}
		x := *p.given
		asked = append(asked, doubt.About(note.New("%s %v means %v %%; a part of %v is written %s %v",
			p.name, x, x, x, p.name, 100*x), p.name, fmt.Sprint(x)))
	}
	return asked.Open(o.accepted).Err()
}

// count is a number of things on the command line, one or more.
type count int

// UnmarshalText reads it.
func (c *count) UnmarshalText(text []byte) error {
	n, err := strconv.Atoi(string(text))
	if err != nil || n < 1 {
		return fmt.Errorf("%q is no count", text)
	}
	*c = count(n)
	return nil
}

// refusals are what the parser says of a call, and what is said in its place: its groups are the arguments.
var refusals = []struct {
	parser *regexp.Regexp
	say    string
}{
	{regexp.MustCompile(`^unexpected argument (.+), did you mean (?:one of )?(.+)\?$`),
		"%s is not known here; did you mean %s?"},
	{regexp.MustCompile(`^unknown flag (.+), did you mean (?:one of )?(.+)\?$`),
		"there is no flag %s; did you mean %s?"},
	{regexp.MustCompile(`^unexpected argument (.+)$`), "%s is not known here"},
	{regexp.MustCompile(`^unknown flag (.+)$`), "there is no flag %s"},
	{regexp.MustCompile(`^unexpected flag argument (.+)$`), "a flag takes no value here: %s"},
	{regexp.MustCompile(`^expected (.+)$`), "%s is missing"},
	{regexp.MustCompile(`^missing positional arguments (.+)$`), "%s is missing"},
	{regexp.MustCompile(`^missing flags: (.+)$`), "%s is missing"},
	{regexp.MustCompile(`^(\S+) must be one of (.+) but got "(.*)"$`), "%s %[3]s; allowed: %[2]s"},
	{regexp.MustCompile(`^(\S+) and (\S+) can't be used together$`), "%s and %s stand together; allowed: one of them"},
	{regexp.MustCompile(`^(\S+): expected .+ but got "EOL" .*$`), "%s needs a value"},
	{regexp.MustCompile(`^(\S+): expected .+ but got .+; perhaps try (.+)\?$`), "%s needs a value; did you mean %s?"},
	{regexp.MustCompile(`^(\S+): expected (?:an int|a valid \d+ bit u?int) but got "(.*?)"`),
		"%s %s; allowed: a whole number"},
	{regexp.MustCompile(`^(\S+): expected a float but got "(.*?)"`), "%s %s; allowed: a number"},
	{regexp.MustCompile(`^(\S+): "(.*)" is not a number of seasons; allowed: a whole number from 1 to 50$`),
		"%s: %q is not a number of seasons; allowed: a whole number from 1 to 50"},
	{regexp.MustCompile(`^(\S+): "(.*)" is no count$`), "%s %s; allowed: a whole number, 1 or more"},
	{regexp.MustCompile(`^(\S+): (?:bool value must be|expected bool).* but got "(.*?)"`),
		"%s %s; allowed: true, false"},
	{regexp.MustCompile(`^(\S+): (?:expected "<key>=<value>" but got|invalid map).* "(.*?)"`),
		"%s %s; allowed: a key and a value, as in wage=even"},
}

// parse reads a call. The parser stops at the first value that it cannot read: the flag that it names is taken out, and
// the rest read, so that all are named at once.
func parse(parser *kong.Kong, args []string) (called *kong.Context, refused note.Faults) {
	for {
		called, err := parser.Parse(args)
		switch {
		case err == nil:
			return called, refused
		case refused == nil || !strings.HasPrefix(err.Error(), "missing flags: "): // that of one that was taken out
			refused = append(refused, refusal(err))
		}
		flag, _, _ := strings.Cut(err.Error(), " ")
		flag = strings.TrimSuffix(flag, ":")
		i := slices.IndexFunc(args, func(a string) bool { return a == flag || strings.HasPrefix(a, flag+"=") })
		if !strings.HasPrefix(flag, "--") || i < 0 {
			return nil, refused
		}
		values := 1
		if args[i] == flag && i+1 < len(args) {
			values = 2
		}
		args = slices.Concat(args[:i], args[i+values:])
	}
}

// refusal is what the parser says of a call, as a note.
func refusal(err error) note.Note {
	var at *kong.ParseError
	if errors.As(err, &at) && strings.HasPrefix(err.Error(), "expected one of") { // which lists five and no more
		var below []string
		for _, c := range at.Context.Selected().Children {
			below = append(below, c.Name)
		}
		return note.New("a command is missing; allowed: %s", strings.Join(below, ", "))
	}
	said := err.Error()
	// The parser takes cert for a misspelt port.
	if word, guesses, ok := strings.Cut(said, ", did you mean "); ok {
		bare := strings.NewReplacer("one of ", "", `"`, "", "--", "", "?", "", ",", "")
		words := strings.Fields(bare.Replace(word))
		if note.Near(words[len(words)-1], strings.Fields(bare.Replace(guesses))) == "" {
			said = word
		}
	}
	for _, r := range refusals {
		if m := r.parser.FindStringSubmatch(said); m != nil {
			args := make([]any, len(m)-1)
			for i, a := range m[1:] {
				args[i] = strings.Trim(strings.NewReplacer(`"`, "", ", ", ", ", ",", ", ").Replace(a), ", ")
			}
			return note.New(r.say, args...)
		}
	}
	return note.New("%s", said)
}

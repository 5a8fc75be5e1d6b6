package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/alecthomas/kong"
)

type completionCommand struct {
	Shell string `arg:"" enum:"bash,zsh,fish" help:"bash, zsh or fish."`
}

// Help teaches the command.
func (completionCommand) Help() string {
	return `Prints a script that lets a shell complete commands, flags and their words.

    spile completion bash > ~/.local/share/bash-completion/completions/spile
    spile completion zsh > "${fpath[1]}/_spile"
    spile completion fish > ~/.config/fish/completions/spile.fish`
}

// Run does it.
func (c completionCommand) Run(o *out, app *kong.Kong) error {
	nodes := completable(app.Model.Node, "")
	switch c.Shell {
	case "bash":
		bash(o.stdout, nodes)
	case "zsh":
		zsh(o.stdout, nodes)
	default:
		fish(o.stdout, nodes)
	}
	return nil
}

// completed is a command as a shell sees it: the words that lead to it, what may follow.
type completed struct {
	path  string // "trial design"; "" is the program
	last  string
	help  string
	below []completed // its direct subcommands
	words []string    // that may stand right behind it, where only some may
	flags []completedFlag
}

type completedFlag struct {
	name, help string
	value      bool
	words      []string
}

// completable lists a command and all below it.
func completable(n *kong.Node, path string) []completed {
	c := completed{path: path, last: n.Name, help: n.Help}
	if len(n.Positional) > 0 {
		c.words = enumerated(n.Positional[0].Enum)
	}
	for node := n; node != nil; node = node.Parent {
		for _, f := range node.Flags {
			if !f.Hidden {
				flag := completedFlag{name: "--" + f.Name, help: f.Help, value: !f.IsBool()}
				flag.words = enumerated(f.Enum)
				c.flags = append(c.flags, flag)
			}
		}
	}
	var below []completed
	for _, child := range n.Children {
		if child.Type == kong.CommandNode && !child.Hidden {
			list := completable(child, strings.TrimSpace(path+" "+child.Name))
			c.below = append(c.below, list[0])
			below = append(below, list...)
		}
	}
	return append([]completed{c}, below...)
}

// enumerated is the words that a flag or an argument takes, where only some are taken.
func enumerated(enum string) []string {
	return strings.FieldsFunc(enum, func(r rune) bool { return r == ',' || r == ' ' })
}

// path writes the cases that follow the words of a call down to its command.
func path(w io.Writer, nodes []completed, form string) {
	for _, c := range nodes[1:] {
		above := strings.TrimSuffix(strings.TrimSuffix(c.path, c.last), " ")
		fmt.Fprintf(w, form, above+" "+c.last, c.path)
	}
}

func bash(w io.Writer, nodes []completed) {
	fmt.Fprint(w, "# spile: completion for bash\n_spile() {\n\tlocal now=${COMP_WORDS[COMP_CWORD]} "+
		"before=${COMP_WORDS[COMP_CWORD-1]} at= word\n"+
		"\tfor word in \"${COMP_WORDS[@]:1:COMP_CWORD-1}\"; do\n\t\tcase \"$at $word\" in\n")
	path(w, nodes, "\t\t%q) at=%q ;;\n")
	fmt.Fprint(w, "\t\tesac\n\tdone\n\tcase \"$at:$before\" in\n")
	for _, c := range nodes {
		for _, f := range c.flags {
			if len(f.words) > 0 {
				fmt.Fprintf(w, "\t%q) COMPREPLY=($(compgen -W %q -- \"$now\")); return ;;\n", c.path+":"+f.name,
					strings.Join(f.words, " "))
			} else if f.value {
				fmt.Fprintf(w, "\t%q) COMPREPLY=(); return ;;\n", c.path+":"+f.name)
			}
		}
	}
	for _, c := range nodes {
		if len(c.words) > 0 {
			fmt.Fprintf(w, "\t%q) [[ $now == -* ]] || { COMPREPLY=($(compgen -W %q -- \"$now\")); return; } ;;\n",
				c.path+":"+c.last, strings.Join(c.words, " "))
		}
	}
	fmt.Fprint(w, "\tesac\n\tlocal words= flags=\n\tcase \"$at\" in\n")
	for _, c := range nodes {
		var below, flags []string
		for _, b := range c.below {
			below = append(below, b.last)
		}
		for _, f := range c.flags {
			flags = append(flags, f.name)
		}
		fmt.Fprintf(w, "\t%q) words=%q flags=%q ;;\n", c.path, strings.Join(below, " "), strings.Join(flags, " "))
	}
	fmt.Fprint(w, "\tesac\n\tcase \"$now\" in\n\t-*) COMPREPLY=($(compgen -W \"$flags\" -- \"$now\")) ;;\n"+
		"\t*) COMPREPLY=($(compgen -W \"$words\" -- \"$now\")) ;;\n\tesac\n}\ncomplete -o default -F _spile spile\n")
}

// quoted is a text in single quotes, for zsh; a colon parts what is completed from what is said of it.
func quoted(parts ...string) string {
	for i, p := range parts {
		parts[i] = strings.ReplaceAll(p, ":", `\:`)
	}
	return "'" + strings.ReplaceAll(strings.Join(parts, ":"), "'", `'\''`) + "'"
}

func zsh(w io.Writer, nodes []completed) {
	fmt.Fprint(w, "#compdef spile\n_spile() {\n\tlocal at= i\n\tlocal -a below flags\n\tfor (( i = 2; i < CURRENT; "+
		"i++ )); do\n\t\tcase \"$at ${words[i]}\" in\n")
	path(w, nodes, "\t\t%q) at=%q ;;\n")
	fmt.Fprint(w, "\t\tesac\n\tdone\n\tcase \"$at:${words[CURRENT-1]}\" in\n")
	for _, c := range nodes {
		for _, f := range c.flags {
			if len(f.words) > 0 {
				fmt.Fprintf(w, "\t%q) compadd %s; return ;;\n", c.path+":"+f.name, strings.Join(f.words, " "))
			} else if f.value {
				fmt.Fprintf(w, "\t%q) _files; return ;;\n", c.path+":"+f.name)
			}
		}
	}
	for _, c := range nodes {
		if len(c.words) > 0 {
			fmt.Fprintf(w, "\t%q) [[ ${words[CURRENT]} == -* ]] || { compadd %s; return } ;;\n", c.path+":"+c.last,
				strings.Join(c.words, " "))
		}
	}
	fmt.Fprint(w, "\tesac\n\tcase \"$at\" in\n")
	for _, c := range nodes {
		var below, flags []string
		for _, b := range c.below {
			below = append(below, quoted(b.last, b.help))
		}
		for _, f := range c.flags {
			flags = append(flags, quoted(f.name, f.help))
		}
		fmt.Fprintf(w, "\t%q) below=(%s) flags=(%s) ;;\n", c.path, strings.Join(below, " "), strings.Join(flags, " "))
	}
	fmt.Fprint(w, "\tesac\n\tif [[ ${words[CURRENT]} == -* ]]; then\n\t\t_describe -o flag flags\n\telif (( "+
		"${#below} )); then\n\t\t_describe command below\n\telse\n\t\t_files\n\tfi\n}\n"+
		"# loaded on demand, this file is the function for the first call of it\n"+
		"if [[ ${funcstack[1]} == _spile ]]; then\n\t_spile \"$@\"\nelse\n\tcompdef _spile spile\nfi\n")
}

func fish(w io.Writer, nodes []completed) {
	text := func(s string) string {
		return "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(s) + "'"
	}
	fmt.Fprint(w, "# spile: completion for fish\nfunction __spile_at\n\tset -l at ''\n\tfor word in (commandline "+
		"-opc)[2..-1]\n\t\tswitch \"$at $word\"\n")
	path(w, nodes, "\t\t\tcase %q\n\t\t\t\tset at %q\n")
	fmt.Fprint(w, "\t\tend\n\tend\n\ttest \"$at\" = \"$argv[1]\"\nend\n")
	for _, c := range nodes {
		here := text(fmt.Sprintf("__spile_at %q", c.path))
		for _, b := range c.below {
			fmt.Fprintf(w, "complete -c spile -f -n %s -a %s -d %s\n", here, b.last, text(b.help))
		}
		if len(c.words) > 0 {
			behind := text(fmt.Sprintf("__spile_at %q; and test (commandline -opc)[-1] = %s", c.path, c.last))
			fmt.Fprintf(w, "complete -c spile -f -n %s -a %s\n", behind, text(strings.Join(c.words, " ")))
		}
		for _, f := range c.flags {
			more := ""
			if f.value {
				more = " -r"
			}
			if len(f.words) > 0 {
				more = " -x -a " + text(strings.Join(f.words, " "))
			}
			fmt.Fprintf(w, "complete -c spile -n %s -l %s%s -d %s\n", here, strings.TrimPrefix(f.name, "--"), more,
				text(f.help))
		}
	}
}

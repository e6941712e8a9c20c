// Package completion completes command lines in bash, zsh and fish: each shell has a small script that asks the program itself what
// may come next, so that the scripts never grow old.
package completion

import (
	"embed"
	"slices"
	"strings"

	"github.com/alecthomas/kong"
)

//go:embed shells
var shells embed.FS

// Script is what a shell reads to complete this program's commands; ok is false for a shell that is not known.
func Script(shell string) (script string, ok bool) {
	if !slices.Contains(Shells(), shell) {
		return "", false
	}
	s, err := shells.ReadFile("shells/" + shell + ".sh")
	return string(s), err == nil
}

// Shells are the shells that have a script.
func Shells() []string { return []string{"bash", "zsh", "fish"} }

// Candidate is one way to go on, with what it does where that is known.
type Candidate struct{ Word, About string }

// Files stands for the files that a shell finds itself.
var Files = Candidate{Word: ":"}

// Next lists what the last of words may become, after those before it. values are those of arguments by name, for the arguments
// and flags that are tagged `complete:"NAME"`; the name "file" stands for files.
func Next(app *kong.Application, words []string, values map[string][]Candidate) []Candidate {
	c := completer{values: values, node: app.Node}
	words, parted := joined(words)
	if len(words) == 0 {
		words = []string{""}
	}
	for _, w := range words[:len(words)-1] {
		c.take(w)
	}
	last := words[len(words)-1]
	return starting(last, c.next(last), parted)
}

// joined puts together what bash parts at "=": "--format", "=", "te". parted says that the last word was, so that the shell asks for
// the value alone.
func joined(words []string) (out []string, parted bool) {
	for i := 0; i < len(words); i++ {
		w := words[i]
		if n := len(out); w == "=" && n > 0 && strings.HasPrefix(out[n-1], "--") {
			out[n-1] += "="
			if i+1 < len(words) {
				i++
				out[n-1] += words[i]
			}
			parted = i >= len(words)-1
			continue
		}
		out = append(out, w)
	}
	return out, parted
}

// completer follows a command line from word to word.
type completer struct {
	values  map[string][]Candidate
	node    *kong.Node
	pending *kong.Flag // whose value is the next word
	args    int        // positional arguments so far
	only    bool       // after "--": no flags any more
}

func (c *completer) take(w string) {
	switch {
	case c.pending != nil:
		c.pending = nil
	case w == "--":
		c.only = true
	case !c.only && strings.HasPrefix(w, "-"):
		name, _, valued := strings.Cut(w, "=")
		if f := c.flag(name); f != nil && !valued && !f.IsBool() {
			c.pending = f
		}
	default:
		for _, child := range c.node.Children {
			if child.Type == kong.CommandNode && child.Name == w {
				c.node, c.args = child, 0
				return
			}
		}
		c.args++
	}
}

func (c *completer) next(last string) []Candidate {
	switch {
	case c.pending != nil:
		return c.of(c.pending.Value)
	case !c.only && strings.HasPrefix(last, "--") && strings.Contains(last, "="):
		name, _, _ := strings.Cut(last, "=")
		f := c.flag(name)
		if f == nil {
			return nil
		}
		return c.of(f.Value)
	case !c.only && strings.HasPrefix(last, "-"):
		return c.flags()
	}
	var out []Candidate
	for _, child := range c.node.Children {
		if child.Type == kong.CommandNode && !child.Hidden {
			out = append(out, Candidate{child.Name, child.Help})
		}
	}
	if c.args < len(c.node.Positional) {
		out = append(out, c.of(c.node.Positional[c.args])...)
	}
	return out
}

// of lists the values of an argument or flag.
func (c *completer) of(v *kong.Value) []Candidate {
	var out []Candidate
	for _, e := range v.EnumSlice() {
		if e != "" {
			out = append(out, Candidate{Word: e})
		}
	}
	for _, name := range strings.Split(v.Tag.Get("complete"), ",") {
		if name == "file" {
			out = append(out, Files)
		}
		out = append(out, c.values[name]...)
	}
	return out
}

func (c *completer) flags() []Candidate {
	var out []Candidate
	for _, group := range c.node.AllFlags(true) {
		for _, f := range group {
			out = append(out, Candidate{"--" + f.Name, f.Help})
		}
	}
	return out
}

func (c *completer) flag(name string) *kong.Flag {
	for _, group := range c.node.AllFlags(false) {
		for _, f := range group {
			if "--"+f.Name == name || (f.Short != 0 && "-"+string(f.Short) == name) {
				return f
			}
		}
	}
	return nil
}

// starting keeps what begins as the last word does. Of "--flag=value" that is the value, with the flag before it where the shell did
// not part them.
func starting(last string, all []Candidate, parted bool) []Candidate {
	flag, value, valued := strings.Cut(last, "=")
	if valued = valued && strings.HasPrefix(last, "--"); valued {
		last = value
	}
	var out []Candidate
	for _, x := range all {
		switch {
		case x == Files:
			out = append(out, x)
		case strings.HasPrefix(x.Word, last):
			if valued && !parted {
				x.Word = flag + "=" + x.Word
			}
			out = append(out, x)
		}
	}
	return out
}

// Lines writes candidates as the scripts read them: a word, a tab and the first sentence of what it does; ":" for files.
func Lines(all []Candidate) string {
	var b strings.Builder
	for _, x := range all {
		about, _, _ := strings.Cut(x.About, ". ")
		about = strings.ReplaceAll(strings.TrimSuffix(about, "."), "\n", " ")
		if about == "" || x == Files {
			b.WriteString(x.Word + "\n")
			continue
		}
		b.WriteString(x.Word + "\t" + about + "\n")
	}
	return b.String()
}

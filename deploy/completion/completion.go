// Package completion completes command lines in bash, zsh and fish. Each shell's script asks the program for the candidates, so an
// installed script does not go stale.
package completion

import (
	"embed"
	"slices"
	"strings"

	"github.com/alecthomas/kong"
)

//go:embed shells
var shells embed.FS

// Script returns a shell's completion script; ok is false for an unknown shell.
func Script(shell string) (script string, ok bool) {
	if !slices.Contains(Shells(), shell) {
		return "", false
	}
	s, err := shells.ReadFile("shells/" + shell + ".sh")
	return string(s), err == nil
}

// Shells lists the supported shells.
func Shells() []string { return []string{"bash", "zsh", "fish"} }

// Candidate is one completion, with a description if there is one.
type Candidate struct{ Word, About string }

// Files has the shell complete file names.
var Files = Candidate{Word: ":"}

// Next lists the completions of the last of words. An argument or flag tagged `complete:"NAME"` takes its candidates from
// values[NAME]; the name "file" stands for file names.
func Next(app *kong.Application, words []string, values map[string][]Candidate) []Candidate {
	c := completer{values: values, node: app.Node}
	words, split := rejoin(words)
	if len(words) == 0 {
		words = []string{""}
	}
	for _, w := range words[:len(words)-1] {
		c.advance(w)
	}
	last := words[len(words)-1]
	return withPrefix(last, c.next(last), split)
}

// rejoin undoes bash's splitting at "=": "--format", "=", "te". split reports that the last word was split, so that the shell
// completes the value alone.
func rejoin(words []string) (out []string, split bool) {
	for i := 0; i < len(words); i++ {
		w := words[i]
		if n := len(out); w == "=" && n > 0 && strings.HasPrefix(out[n-1], "--") {
			out[n-1] += "="
			if i+1 < len(words) {
				i++
				out[n-1] += words[i]
			}
			split = i >= len(words)-1
			continue
		}
		out = append(out, w)
	}
	return out, split
}

// completer tracks its position in a command line.
type completer struct {
	values  map[string][]Candidate
	node    *kong.Node
	pending *kong.Flag // the next word is its value
	args    int        // positional arguments so far
	noFlags bool       // after "--"
}

func (c *completer) advance(w string) {
	switch {
	case c.pending != nil:
		c.pending = nil
	case w == "--":
		c.noFlags = true
	case !c.noFlags && strings.HasPrefix(w, "-"):
		name, _, hasValue := strings.Cut(w, "=")
		if f := c.flag(name); f != nil && !hasValue && !f.IsBool() {
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
		return c.valuesOf(c.pending.Value)
	case !c.noFlags && strings.HasPrefix(last, "--") && strings.Contains(last, "="):
		name, _, _ := strings.Cut(last, "=")
		f := c.flag(name)
		if f == nil {
			return nil
		}
		return c.valuesOf(f.Value)
	case !c.noFlags && strings.HasPrefix(last, "-"):
		return c.flags()
	}
	var out []Candidate
	for _, child := range c.node.Children {
		if child.Type == kong.CommandNode && !child.Hidden {
			out = append(out, Candidate{child.Name, child.Help})
		}
	}
	if c.args < len(c.node.Positional) {
		out = append(out, c.valuesOf(c.node.Positional[c.args])...)
	}
	return out
}

// valuesOf lists the candidates for the value of an argument or flag.
func (c *completer) valuesOf(v *kong.Value) []Candidate {
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

// withPrefix keeps the candidates that start with the last word. For "--flag=value" it compares the value and puts the flag back in
// front unless the shell split them.
func withPrefix(last string, all []Candidate, split bool) []Candidate {
	flag, value, hasValue := strings.Cut(last, "=")
	if hasValue = hasValue && strings.HasPrefix(last, "--"); hasValue {
		last = value
	}
	var out []Candidate
	for _, x := range all {
		switch {
		case x == Files:
			out = append(out, x)
		case strings.HasPrefix(x.Word, last):
			if hasValue && !split {
				x.Word = flag + "=" + x.Word
			}
			out = append(out, x)
		}
	}
	return out
}

// Lines formats candidates for the scripts, one a line: the word, then a tab and the first sentence of the description; ":" for
// file names.
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

package commands

import (
	"io"

	"github.com/alecthomas/kong"

	"hotday/deploy/completion"
	"hotday/models"

	"hotday/planner/calc"
)

// Completion prints a shell's completion script.
type Completion struct {
	Shell string `arg:"" enum:"bash,zsh,fish" help:"Shell: ${enum}."`
}

func (Completion) Help() string {
	return `Examples:

    eval "$(hotday completion bash)"        # to keep it, add this line to ~/.bashrc
    eval "$(hotday completion zsh)"         # to keep it, add this line to ~/.zshrc
    hotday completion fish | source         # to keep it, add this line to ~/.config/fish/config.fish`
}

func (c *Completion) Run(s Streams) error {
	script, ok := completion.Script(c.Shell)
	if !ok {
		return models.Errorf(models.CodeNotFound, "there is no completion script for %q", c.Shell)
	}
	_, err := io.WriteString(s.Out, script)
	return err
}

// Complete lists the completions of the last word. The completion scripts call it.
type Complete struct {
	Words []string `arg:"" optional:"" passthrough:""`
}

func (c *Complete) Run(k *kong.Kong, s Streams) error {
	values := map[string][]completion.Candidate{"season": {{Word: "demo", About: "the invented shop's season"}}}
	for _, kind := range calc.Kinds() {
		values["kinds"] = append(values["kinds"], completion.Candidate{Word: kind, About: calc.About(kind)})
	}
	words := c.Words
	if len(words) > 0 && words[0] == "--" {
		words = words[1:]
	}
	_, err := io.WriteString(s.Out, completion.Lines(completion.Next(k.Model, words, values)))
	return err
}

package completion_test

import (
	"testing"

	"github.com/alecthomas/kong"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/deploy/completion"
)

type cli struct {
	Verbose bool `short:"v" help:"Say more."`
	Brew    struct {
		What   string `arg:"" complete:"coffees" help:"What to brew."`
		Where  string `arg:"" optional:"" complete:"file"`
		Format string `enum:"text,json" default:"text" short:"f" help:"How to say it. More words."`
		Out    string `short:"o" complete:"file"`
	} `cmd:"" help:"Brew something. At once."`
	Tank struct {
		Fill  struct{} `cmd:"" help:"Fill it."`
		Empty struct{} `cmd:"" help:"Empty it."`
	} `cmd:"" help:"Look after the tank."`
	Secret struct{} `cmd:"" hidden:""`
}

func TestNext(t *testing.T) {
	t.Parallel()
	app, err := kong.New(&cli{})
	require.NoError(t, err)
	values := map[string][]completion.Candidate{"coffees": {{Word: "house"}, {Word: "harbour"}, {Word: "valley"}}}
	for _, c := range []struct {
		words []string
		want  []string
	}{
		{nil, []string{"brew", "tank"}},
		{[]string{""}, []string{"brew", "tank"}},
		{[]string{"b"}, []string{"brew"}},
		{[]string{"sec"}, nil},
		{[]string{"brew", ""}, []string{"house", "harbour", "valley"}},
		{[]string{"brew", "ha"}, []string{"harbour"}},
		{[]string{"brew", "house", ""}, []string{":"}},
		{[]string{"brew", "house", "here", ""}, nil},
		{[]string{"brew", "--format", ""}, []string{"text", "json"}},
		{[]string{"brew", "-f", "j"}, []string{"json"}},
		{[]string{"brew", "--format", "json", ""}, []string{"house", "harbour", "valley"}},
		{[]string{"brew", "--format=json", "v"}, []string{"valley"}},
		{[]string{"brew", "--format=t"}, []string{"--format=text"}},
		{[]string{"brew", "--format", "=", "t"}, []string{"text"}},
		{[]string{"brew", "--format", "="}, []string{"text", "json"}},
		{[]string{"brew", "--format", "=", "json", "v"}, []string{"valley"}},
		{[]string{"brew", "-o", ""}, []string{":"}},
		{[]string{"brew", "-v", ""}, []string{"house", "harbour", "valley"}},
		{[]string{"brew", "--fo"}, []string{"--format"}},
		{[]string{"brew", "--none=x"}, nil},
		{[]string{"brew", "--", "--fo"}, nil},
		{[]string{"tank", ""}, []string{"fill", "empty"}},
		{[]string{"tank", "fill", ""}, nil},
		{[]string{"nonsense", "b"}, []string{"brew"}},
	} {
		var got []string
		for _, x := range completion.Next(app.Model, c.words, values) {
			got = append(got, x.Word)
		}
		assert.Equal(t, c.want, got, "%q", c.words)
	}
}

func TestLinesFormat(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "brew\tBrew something\nhouse\n:\n", completion.Lines([]completion.Candidate{{"brew", "Brew something. At once."}, {Word: "house"}, completion.Files}))
}

func TestEveryShellHasAScript(t *testing.T) {
	t.Parallel()
	for _, shell := range completion.Shells() {
		s, ok := completion.Script(shell)
		assert.True(t, ok)
		assert.Contains(t, s, "hotday")
	}
	_, ok := completion.Script("../bash")
	assert.False(t, ok)
}

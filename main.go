// Command hotday plans a café's cold coffee for the next hot days. This file names the commands and says how they end; what each
// does, and how it wires the parts, is in deploy/commands. The parts are api (HTTP), jobs (what happens without being asked),
// planner (the answer) and models (the nouns and their keeping).
package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // the sites' zones, also where the machine has none

	"github.com/alecthomas/kong"

	"hotday/deploy/commands"
	"hotday/jobs"
	"hotday/models"
)

// Exit codes.
const (
	exitFailure  = 1
	exitBadInput = 2
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], commands.Streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr}))
}

// run does the command that args name and returns its exit code.
func run(ctx context.Context, args []string, s commands.Streams) int {
	var cli all
	exited := -1
	parser, err := kong.New(&cli,
		kong.Name("hotday"),
		kong.Description("Plans a café's cold coffee for the next hot days: what to brew and when, how much ice to make, what will run short.\n\n"+
			"To see it at work: hotday demo. Each command has examples: hotday plan --help."),
		kong.Vars{"version": commands.BuiltFrom(), "publish_at": jobs.DefaultPublishAt, "refit_at": jobs.DefaultRefitAt, "watch_at": jobs.DefaultWatchAt},
		kong.DefaultEnvars("HOTDAY"),
		kong.Writers(s.Out, s.Err),
		kong.Exit(func(code int) { exited = code }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(s),
	)
	if err != nil {
		fmt.Fprintln(s.Err, "hotday:", err)
		return exitFailure
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	k, err := parser.Parse(args)
	if exited >= 0 {
		return exited // help was asked for
	}
	if err != nil {
		fmt.Fprintf(s.Err, "hotday: %v\nSee %s --help.\n", err, commandOf(err))
		return exitBadInput
	}
	return exitCode(k.Run(), s.Err)
}

// commandOf is the command that a person was writing when the line stopped making sense.
func commandOf(err error) string {
	var parse *kong.ParseError
	if errors.As(err, &parse) && parse.Context != nil {
		if node := parse.Context.Selected(); node != nil {
			return node.FullPath()
		}
	}
	return "hotday"
}

// exitCode says what went wrong: as a problem document where a person's input did.
func exitCode(err error, w io.Writer) int {
	var bad *models.Error
	switch {
	case err == nil:
		return 0
	case errors.As(err, &bad):
		enc := json.NewEncoder(w)
		enc.SetIndent("", "  ")
		enc.SetEscapeHTML(false)
		if e := enc.Encode(models.ProblemOf(err)); e != nil {
			return exitFailure
		}
		return exitBadInput
	}
	fmt.Fprintln(w, "hotday:", err)
	return exitFailure
}

type all struct {
	Demo       commands.Demo       `cmd:"" help:"Show an invented shop with a season of sales and a hot weekend ahead, until Ctrl-C. Leaves nothing behind."`
	Serve      commands.Serve      `cmd:"" help:"Run the service."`
	Plan       commands.Plan       `cmd:"" help:"Plan a request document without a server: as text, JSON, paper or a calendar."`
	Calc       commands.Calc       `cmd:"" help:"Do one calculation, JSON in, JSON out."`
	Replay     commands.Replay     `cmd:"" help:"Relive a season day by day: what the plan would have cost, against the usual par sheet and perfect foresight."`
	Token      commands.Token      `cmd:"" help:"Make, list and revoke access keys."`
	Completion commands.Completion `cmd:"" help:"Print the script by which a shell completes these commands."`
	Complete   commands.Complete   `cmd:"" hidden:"" help:"List what the last word may become, for those scripts."`
	Version    commands.Version    `cmd:"" help:"Print the version."`
}

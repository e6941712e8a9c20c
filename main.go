// Command hotday plans cold coffee for a café's hot days. This file declares the commands and their exit codes; deploy/commands
// implements and wires them. The layers below are api (HTTP), jobs (background work), planner (the plan) and models (domain types
// and storage).
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
	_ "time/tzdata" // for machines without a time zone database

	"github.com/alecthomas/kong"
	_ "golang.org/x/crypto/x509roots/fallback" // for machines without certificates of authorities, such as an empty container

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

// firstWords is what the program says without arguments.
const firstWords = `hotday plans cold coffee for a café's hot days: what to brew and when, how much ice to make, what may run out.

    hotday demo --open           look around: an invented shop on a hot Saturday
    hotday plan request.json     plan from a file, without a server
    hotday serve --db shop.db    run it for your own shop

hotday --help lists all commands.
`

// run executes the command in args and returns its exit code.
func run(ctx context.Context, args []string, s commands.Streams) int {
	exited := -1
	parser, err := kong.New(&cli{},
		kong.Name("hotday"),
		kong.Description("Plans cold coffee for a café's hot days: what to brew and when, how much ice to make, what may run out.\n\n"+
			"Try hotday demo. Every command's help has examples: hotday plan --help."),
		kong.Vars{"version": commands.BuiltFrom(), "publish_at": jobs.DefaultPublishAt, "refit_at": jobs.DefaultRefitAt, "watch_at": jobs.DefaultWatchAt, "review_at": jobs.DefaultReviewAt, "backup_at": jobs.DefaultBackupAt},
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
		fmt.Fprint(s.Out, firstWords)
		return 0
	}
	k, err := parser.Parse(args)
	if exited >= 0 {
		return exited // after --help
	}
	if err != nil {
		fmt.Fprintf(s.Err, "hotday: %v\nSee %s --help.\n", err, commandOf(err))
		return exitBadInput
	}
	return exitCode(k.Run(), s.Err)
}

// commandOf returns the command that was being parsed when err occurred.
func commandOf(err error) string {
	var parse *kong.ParseError
	if errors.As(err, &parse) && parse.Context != nil {
		if node := parse.Context.Selected(); node != nil {
			return node.FullPath()
		}
	}
	return "hotday"
}

// exitCode prints err, as a problem document if the input was at fault, and returns the exit code.
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

type cli struct {
	Demo       commands.Demo       `cmd:"" help:"Run an invented shop before a hot weekend, until Ctrl-C. Leaves nothing behind."`
	Serve      commands.Serve      `cmd:"" help:"Run the service."`
	Plan       commands.Plan       `cmd:"" help:"Plan a request document without a server, as text, JSON, PDF, workbook or calendar."`
	Calc       commands.Calc       `cmd:"" help:"Run one calculation: JSON in, JSON out."`
	Replay     commands.Replay     `cmd:"" help:"Replay a past season: the cost of daily plans against the usual par sheet and perfect foresight."`
	Backup     commands.Backup     `cmd:"" help:"Back a database up to a file while the service runs."`
	Restore    commands.Restore    `cmd:"" help:"Make a new database from a backup."`
	Check      commands.Check      `cmd:"" help:"Check a database: integrity, version, file modes, free disk."`
	Copy       commands.Copy       `cmd:"" help:"Copy an SQLite database into PostgreSQL."`
	Secrets    commands.Secrets    `cmd:"" help:"Change the key that secrets are encrypted with."`
	Person     commands.Person     `cmd:"" help:"Let a person who is locked out choose a new password."`
	Token      commands.Token      `cmd:"" help:"Create, list and revoke access keys."`
	Completion commands.Completion `cmd:"" help:"Print a shell completion script."`
	Complete   commands.Complete   `cmd:"" hidden:"" help:"List the completions of the last word."`
	Version    commands.Version    `cmd:"" help:"Print the version."`
}

// Command mutate says how much of a package its tests hold: it changes one operator, constant, condition or statement at a time,
// runs the package's tests on each change, and prints those that no test notices. Nothing in the working tree is changed
// (go test -overlay).
//
//	go run ./deploy/mutate ./models -sample 200 -seed 1
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"time"
)

// options are what the command line says.
type options struct {
	packages []string
	tests    []string // packages whose tests are run; none: the mutated package's own
	run      string   // as go test -run
	sample   int
	seed     uint64
	short    bool
	timeout  time.Duration // of the tests on one mutant; 0: by how long they take unchanged
	memory   int           // GiB of address space that the tests may have; 0: any
}

func main() {
	o, err := parse(os.Args[1:], os.Stderr)
	if err != nil {
		os.Exit(2)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := mutate(ctx, o, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "mutate:", err)
		stop()
		os.Exit(1)
	}
}

// parse reads flags before and after the packages.
func parse(args []string, w io.Writer) (o options, err error) {
	f := flag.NewFlagSet("mutate", flag.ContinueOnError)
	f.SetOutput(w)
	f.Usage = func() {
		fmt.Fprintln(w, "usage: go run ./deploy/mutate PACKAGE… [flags]")
		f.PrintDefaults()
	}
	tests := f.String("tests", "", "packages whose tests are run, separated by spaces, instead of the mutated package's own")
	f.StringVar(&o.run, "run", "", "run only the tests that match, as go test -run")
	f.IntVar(&o.sample, "sample", 0, "try so many mutants, drawn at random; 0: all")
	f.Uint64Var(&o.seed, "seed", 1, "seed of the drawing")
	f.BoolVar(&o.short, "short", true, "run the tests with -short")
	f.DurationVar(&o.timeout, "timeout", 0, "how long the tests may take on one mutant; 0: ten seconds and four times what they take unchanged")
	f.IntVar(&o.memory, "memory", 8, "GiB of address space for the tests; 0: no limit, for tests that start a browser")
	for len(args) > 0 {
		if err := f.Parse(args); err != nil {
			return o, err
		}
		args = f.Args()
		for len(args) > 0 && !strings.HasPrefix(args[0], "-") {
			o.packages = append(o.packages, args[0])
			args = args[1:]
		}
	}
	if len(o.packages) == 0 {
		f.Usage()
		return o, flag.ErrHelp
	}
	o.tests = strings.Fields(*tests)
	return o, nil
}

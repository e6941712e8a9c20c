// Command worst starts the service on loopback, lets other keys do their worst for a while, and prints how long a manager's quick sum, a
// till's counts and a sign-in take meanwhile, and how much memory the service took. It ends by itself and leaves nothing behind.
//
//	go build -o hotday . && go run ./deploy/worst -binary ./hotday -for 30s sums passwords bodies
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"time"
)

// options are what the command line says.
type options struct {
	binary string
	period time.Duration
	keys   int
	modes  []string
}

// modes are what the other keys do.
var modes = map[string]func(context.Context, *shop, *tally){
	"quiet":     func(ctx context.Context, _ *shop, _ *tally) { <-ctx.Done() },
	"sums":      sums,
	"passwords": passwords,
	"bodies":    bodies,
}

func main() {
	o, err := parse(os.Args[1:], os.Stderr)
	if err != nil {
		os.Exit(2)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	for _, mode := range o.modes {
		if err := run(ctx, o, mode, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, "worst:", err)
			stop()
			os.Exit(1)
		}
	}
	stop()
}

func parse(args []string, w io.Writer) (o options, err error) {
	f := flag.NewFlagSet("worst", flag.ContinueOnError)
	f.SetOutput(w)
	f.Usage = func() {
		fmt.Fprintln(w, "usage: go run ./deploy/worst [flags] quiet|sums|passwords|bodies…")
		f.PrintDefaults()
	}
	f.StringVar(&o.binary, "binary", "./hotday", "the built program")
	f.DurationVar(&o.period, "for", 30*time.Second, "how long each mode lasts, at most 5 minutes")
	f.IntVar(&o.keys, "keys", 3, "how many other keys there are, each with 12 requests at a time, at most 20")
	if err := f.Parse(args); err != nil {
		return o, err
	}
	o.modes = f.Args()
	for _, mode := range o.modes {
		if modes[mode] == nil {
			err = fmt.Errorf("worst: there is no mode %q", mode)
		}
	}
	if len(o.modes) == 0 || o.period > 5*time.Minute || o.keys < 1 || o.keys > 20 {
		err = errors.New("worst: name a mode; -for is at most 5m, -keys 1 to 20")
	}
	if err != nil {
		fmt.Fprintln(w, err)
		f.Usage()
	}
	return o, err
}

// run measures one mode on a new service.
func run(ctx context.Context, o options, mode string, w io.Writer) error {
	s, err := open(ctx, o)
	if err != nil {
		return err
	}
	honest, others := &tally{}, &tally{}
	ctx, stop := context.WithTimeout(ctx, o.period)
	defer stop()
	done := make(chan struct{})
	go func() { defer close(done); modes[mode](ctx, s, others) }()
	s.everydayWork(ctx, honest)
	<-done
	fmt.Fprintf(w, "%s, %d other keys, %s\n%s  the others: %s\n  peak memory of the service: %s\n", mode, o.keys, o.period, honest.table(), others.statuses(), s.PeakMemory())
	return s.Stop()
}

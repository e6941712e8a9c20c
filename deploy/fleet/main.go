// Command fleet measures how many shops one machine can plan for. It makes a database of invented shops with a year of sales each, over the
// time zones of the world, then lets every shop learn, plan and publish in its local night and evening, as the service does it, with a clock
// that jumps to the next shop as soon as there is a worker for it. Meanwhile it asks the service over loopback, and it prints how long the
// night took, how long requests took, and what a shop costs. It ends by itself.
//
//	go run ./deploy/fleet -shops 50 -dir /tmp/fleet            make 50 shops, and let their night pass
//	go run ./deploy/fleet -shops 5000 -night 40 -dir /tmp/fleet     make 5,000 and let the night of 40 of them pass
//	go run ./deploy/fleet -shops 50 -db postgres://hotday@127.0.0.1/fleet   the same on PostgreSQL
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/pprof"
	"time"

	"hotday/models/store"
)

// options are what the command line says.
type options struct {
	shops, days, night, costs, quiet, storm int
	seed                                    uint64
	dir, db, profile                        string
	keep                                    bool
}

func main() {
	o, err := parse(os.Args[1:], os.Stderr)
	if err != nil {
		os.Exit(2)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err = run(ctx, o, os.Stdout)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "fleet:", err)
		os.Exit(1)
	}
}

func parse(args []string, w io.Writer) (o options, err error) {
	f := flag.NewFlagSet("fleet", flag.ContinueOnError)
	f.SetOutput(w)
	f.IntVar(&o.shops, "shops", 50, "how many shops there are, 1 to 10,000; a year of one takes about 2 MB of disk")
	f.IntVar(&o.days, "days", 365, "how many days of sales each has, 60 to 800")
	f.IntVar(&o.night, "night", 0, "how many shops' night passes, evenly over those whose has not yet; 0: all")
	f.IntVar(&o.costs, "costs", 6, "for how many shops the costs are measured one by one; 0: none")
	f.IntVar(&o.quiet, "quiet", 200, "how many checks with nothing new are measured")
	f.IntVar(&o.storm, "storm", 0, "for how many shops the wait for a sheet is measured while another shop orders plans without end; 0: none")
	f.Uint64Var(&o.seed, "seed", 1, "the same seed makes the same shops")
	f.StringVar(&o.dir, "dir", "", "where fleet.db is, which is used as it is if it is there and kept; empty: a temporary folder")
	f.StringVar(&o.db, "db", "", "an empty PostgreSQL database, postgres://user@host/database, or one that was used before; empty: fleet.db in -dir")
	f.StringVar(&o.profile, "cpuprofile", "", "write a profile of the costs' measurement to this file")
	if err := f.Parse(args); err != nil {
		return o, err
	}
	if o.shops < 1 || o.shops > 10000 || o.days < 60 || o.days > 800 || o.night < 0 || o.costs < 0 || o.quiet < 0 || o.storm < 0 {
		err = errors.New("fleet: -shops is 1 to 10,000, -days 60 to 800, and no number is negative")
		fmt.Fprintln(w, err)
		f.Usage()
	}
	if o.db != "" && (o.dir != "" || !store.IsServer(o.db)) {
		err = errors.New("fleet: -db is postgres://user@host/database, without -dir")
		fmt.Fprintln(w, err)
	}
	o.keep = o.dir != "" || o.db != ""
	if o.night == 0 || o.night > o.shops {
		o.night = o.shops
	}
	return o, err
}

func run(ctx context.Context, o options, w io.Writer) (err error) {
	if !o.keep {
		if o.dir, err = os.MkdirTemp("", "fleet"); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, os.RemoveAll(o.dir)) }()
	}
	if o.db == "" {
		o.db = filepath.Join(o.dir, "fleet.db")
	}
	clock := newClock()
	st, err := store.Open(ctx, o.db, store.WithClock(clock.Now), store.WithPoll(50*time.Millisecond))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	fleet := newFleet(o)
	if err := fleet.make(ctx, st, w); err != nil {
		return fmt.Errorf("make the shops: %w", err)
	}
	if err := sitesList(ctx, st, w); err != nil {
		return err
	}
	if err := passNight(ctx, o, st, clock, fleet, w); err != nil {
		return fmt.Errorf("let the night pass: %w", err)
	}
	if o.profile != "" {
		f, err := os.Create(o.profile)
		if err != nil {
			return err
		}
		defer f.Close()
		if err := pprof.StartCPUProfile(f); err != nil {
			return err
		}
		defer pprof.StopCPUProfile()
	}
	if err := measureCosts(ctx, o, st, clock, fleet, w); err != nil {
		return err
	}
	return measureStorm(ctx, o, st, clock, fleet, w)
}

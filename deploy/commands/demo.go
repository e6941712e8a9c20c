package commands

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"golang.org/x/sync/errgroup"

	"hotday/deploy/demo"
	"hotday/jobs"
	"hotday/models"
	"hotday/planner/facts"
	"hotday/planner/sheet"
)

// Demo runs the service with an invented shop in a temporary database, on a hot Saturday by a clock of its own.
type Demo struct {
	Port  int     `default:"8080" help:"Port on this machine. 0, or a default in use: any free one."`
	Days  int     `default:"2" help:"Days to plan from Saturday (1 to 14)."`
	At    string  `default:"09:30" placeholder:"TIME" help:"When it begins: a time on Saturday, or date and time (2026-07-11T09:30)."`
	Speed float64 `default:"30" help:"Shop minutes per minute (1 to 120). The pages can stop it or move it on."`
	Open  bool    `help:"Open it in the browser, signed in."`
	Print bool    `help:"Print Saturday's prep sheet too."`
}

func (Demo) Help() string {
	return `Examples:

    hotday demo --open
    hotday demo --at 14:00 --speed 60
    hotday demo --print --port 9000`
}

// demoPort is the default port.
const demoPort = 8080

// Limits of the demo's speed.
const slowest, fastest = 1, 120

func (c *Demo) Run(ctx context.Context, s Streams) (err error) {
	if c.Days < 1 || c.Days > 14 {
		return models.Invalid("/days", "1 to 14", "%d is out of range", c.Days)
	}
	if !(c.Speed >= slowest && c.Speed <= fastest) {
		return models.Invalid("/speed", fmt.Sprintf("%d to %d", slowest, fastest), "%g is out of range", c.Speed)
	}
	story, start, err := demo.On(c.At, time.Now())
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "hotday-demo-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	d := &demonstration{Demo: c, Streams: s, story: story, start: start, began: time.Now(), clock: demo.NewClock(story.Now, c.Speed, time.Now), link: oneTimeLink{code: rand.Text()}}
	if err := d.open(ctx, filepath.Join(dir, "demo.db")); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return d.Serve(ctx) })
	g.Go(func() error { return unlessStopped(ctx, d.run(ctx)) })
	return g.Wait()
}

// demonstration is a running demo.
type demonstration struct {
	*Demo
	Streams
	*program
	story demo.Story // on the evening before the Saturday
	start time.Time  // when the demo begins
	began time.Time  // in real time
	clock *demo.Clock
	link  oneTimeLink
	key   string // of the manager
}

func (d *demonstration) say(format string, args ...any) {
	fmt.Fprintf(d.Out, "%5.1f s  %s\n", time.Since(d.began).Seconds(), fmt.Sprintf(format, args...))
}

// open listens on the chosen port, or on a free one if the default is in use.
func (d *demonstration) open(ctx context.Context, db string) (err error) {
	log := slog.New(slog.NewTextHandler(d.Err, &slog.HandlerOptions{Level: slog.LevelWarn}))
	config := Serve{DB: db, Listen: fmt.Sprintf("127.0.0.1:%d", d.Port), Grace: 2 * time.Second}
	set := settings{clock: d.clock, oneTime: d.link.use}
	d.program, err = open(ctx, config, log, set)
	if errors.Is(err, syscall.EADDRINUSE) && d.Port == demoPort {
		config.Listen = "127.0.0.1:0"
		d.program, err = open(ctx, config, log, set)
	}
	if err == nil {
		fmt.Fprintf(d.Out, "%s/ will be ready in a few seconds.\n", d.Address())
	}
	return err
}

// run tells the story up to its beginning, then lets time pass.
func (d *demonstration) run(ctx context.Context) error {
	sheets, plan, err := d.fill(ctx)
	if err != nil {
		return err
	}
	if d.Print {
		if err := d.printSheet(plan, sheets); err != nil {
			return err
		}
	}
	link := d.Address() + "/sign-in?once=" + d.link.code
	fmt.Fprintf(d.Out, "\n%s is invented, like its sales and weather. There it is %s; a minute takes %.2g s.\nStop it with Ctrl-C: nothing is left behind.\n\nSign in again with the access key %s\nSign in once with %s\n",
		d.story.Setup.Site.Name, d.start.In(d.story.Setup.Site.Location()).Format("15:04 on Monday"), 60/d.Speed, d.key, link)
	if d.Open {
		if err := openBrowser(ctx, link); err != nil {
			fmt.Fprintln(d.Err, "hotday: could not open a browser:", err)
		}
	}
	d.clock.Start()
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return d.Work(ctx) })
	g.Go(func() error { return d.runTill(ctx) })
	g.Go(func() error { return d.runStaff(ctx) })
	return g.Wait()
}

// fill sets up the invented shop, plans and publishes its weekend as on the evening before, and brings it to the beginning of the demo:
// what was sold and done until then.
func (d *demonstration) fill(ctx context.Context) ([]models.PrepSheet, models.Plan, error) {
	site, evening := d.story.Setup.Site, d.story.Now
	d.say("an invented shop in an invented town: %s", site.Name)
	if err := d.story.Keep(ctx, d.store, d.say); err != nil {
		return nil, models.Plan{}, err
	}
	forecast, err := facts.Refit(ctx, d.store, site.Code, evening)
	if err != nil {
		return nil, models.Plan{}, err
	}
	if err := d.store.PutForecastState(ctx, site.Code, forecast); err != nil {
		return nil, models.Plan{}, err
	}
	d.say("forecast: fitted to the days up to %s", forecast.Through)
	plan, sheets, err := jobs.PlanAndPublish(ctx, d.store, facts.GatherQuery{Site: site.Code, From: d.story.Saturday, Days: d.Days, Now: evening})
	if err != nil {
		return nil, models.Plan{}, err
	}
	d.say("planned %d days from %s: %d batches, %d warnings", plan.Days, plan.From, len(plan.Batches), len(plan.Warnings))
	_, d.key, err = d.store.AddToken(ctx, models.Token{Name: "demo", Scopes: []string{models.ScopeManage}}, evening)
	if err != nil {
		return nil, models.Plan{}, err
	}
	d.link.set(d.key)
	d.clock.Step(d.start.Sub(evening))
	if err := d.sold(ctx, evening, d.start); err != nil {
		return nil, models.Plan{}, err
	}
	for _, c := range demo.Counts(plan, site, evening, d.start) {
		if err := d.post(ctx, "/v1/sites/"+site.Code+"/stock-counts", c); err != nil {
			return nil, models.Plan{}, err
		}
	}
	done, err := d.markDone(ctx)
	if err != nil {
		return nil, models.Plan{}, err
	}
	if end := d.story.EndOfSaturday(); d.start.Before(end) {
		d.clock.StopAt(end)
	}
	// Warnings are there at once, and the record of the forecast after a few seconds.
	now := d.clock.Now()
	for _, j := range []models.Job{{Kind: models.JobWatch, Site: site.Code, Key: now.UTC().Format(time.RFC3339)}, {Kind: models.JobRefit, Site: site.Code, Key: string(site.ServiceDayOf(now))}} {
		if _, err := d.store.Enqueue(ctx, j); err != nil {
			return nil, models.Plan{}, err
		}
	}
	d.say("brought to %s: tasks done since Friday evening: %d", d.start.In(site.Location()).Format("15:04 on Monday"), done)
	return sheets, plan, nil
}

// printSheet prints Saturday's prep sheet.
func (d *demonstration) printSheet(plan models.Plan, sheets []models.PrepSheet) error {
	var out bytes.Buffer
	for _, s := range sheets {
		if s.Date == d.story.Saturday {
			if err := errors.Join(sheet.WriteSheetText(&out, d.story.Setup.Site, s), sheet.WriteIceChart(&out, d.story.Setup, plan, s.Date)); err != nil {
				return err
			}
		}
	}
	fmt.Fprintf(&out, "\n%s\n", strings.ReplaceAll(plan.Summary.Text, "\u202f", " "))
	text := out.String()
	if d.isASCII() {
		text = sheet.ASCII(text)
	}
	_, err := fmt.Fprintf(d.Out, "\n%s", text)
	return err
}

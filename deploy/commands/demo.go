package commands

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
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

// Demo runs the service with an invented shop in a temporary database.
type Demo struct {
	Port int `default:"8080" help:"Port to listen on, on this machine only. 0 picks a free one; so does the default if it is in use."`
	Days int `default:"2" help:"Number of days to plan, starting next Saturday (1 to 14)."`
}

func (Demo) Help() string {
	return `Examples:

    hotday demo
    hotday demo --port 9000 --days 3`
}

// demoPort is the default port.
const demoPort = 8080

func (c *Demo) Run(ctx context.Context, s Streams) (err error) {
	if c.Days < 1 || c.Days > 14 {
		return models.Invalid("/days", "1 to 14", "%d is out of range", c.Days)
	}
	dir, err := os.MkdirTemp("", "hotday-demo-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	started := time.Now()
	say := func(format string, args ...any) {
		fmt.Fprintf(s.Out, "%5.1f s  %s\n", time.Since(started).Seconds(), fmt.Sprintf(format, args...))
	}
	p, err := c.open(ctx, filepath.Join(dir, "demo.db"), say, s.Err)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.Close()) }()
	p.catchUp = time.Minute // the shop is new, so no run was missed
	story, err := c.fill(ctx, p, say, s)
	if err != nil {
		if ctx.Err() != nil {
			return nil // interrupted during set-up
		}
		return err
	}
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return p.Run(ctx) })
	g.Go(func() error { return runTill(ctx, p, story) })
	return g.Wait()
}

// open listens on the chosen port, or on a free one if the default is in use.
func (c *Demo) open(ctx context.Context, db string, say func(string, ...any), logTo io.Writer) (*program, error) {
	log := slog.New(slog.NewTextHandler(logTo, &slog.HandlerOptions{Level: slog.LevelWarn}))
	config := Serve{DB: db, Listen: fmt.Sprintf("127.0.0.1:%d", c.Port), Grace: 2 * time.Second}
	p, err := open(ctx, config, log)
	if errors.Is(err, syscall.EADDRINUSE) && c.Port == demoPort {
		say("port %d is in use; picking a free one", c.Port)
		config.Listen = "127.0.0.1:0"
		p, err = open(ctx, config, log)
	}
	return p, err
}

// fill sets up the invented shop, plans and publishes its weekend, and prints the address and the sign-in.
func (c *Demo) fill(ctx context.Context, p *program, say func(string, ...any), s Streams) (story demo.Story, err error) {
	now := time.Now()
	story, err = demo.At(now)
	if err != nil {
		return story, err
	}
	site := story.Setup.Site
	say("an invented shop in an invented town: %s", site.Name)
	if err := story.Keep(ctx, p.store, say); err != nil {
		return story, err
	}
	forecast, err := facts.Refit(ctx, p.store, site.Code, now)
	if err != nil {
		return story, err
	}
	if err := p.store.PutForecastState(ctx, site.Code, forecast); err != nil {
		return story, err
	}
	say("forecast: fitted to the days up to %s", forecast.Through)
	plan, sheets, err := jobs.PlanAndPublish(ctx, p.store, facts.GatherQuery{Site: site.Code, From: story.Saturday, Days: c.Days, Now: now})
	if err != nil {
		return story, err
	}
	say("planned %d days from %s: %d batches, %d warnings", plan.Days, plan.From, len(plan.Batches), len(plan.Warnings))
	// The job works out forecast accuracy in the background while people look around.
	refit := models.Job{Kind: models.JobRefit, Site: site.Code, Key: string(site.ServiceDayOf(now))}
	if _, err := p.store.Enqueue(ctx, refit); err != nil {
		return story, err
	}
	_, secret, err := p.store.AddToken(ctx, models.Token{Name: "demo", Scopes: []string{models.ScopeManage}}, now)
	if err != nil {
		return story, err
	}
	var out bytes.Buffer
	for _, s := range sheets {
		if s.Date == story.Saturday {
			if err := errors.Join(sheet.WriteSheetText(&out, site, s), sheet.WriteIceChart(&out, story.Setup, plan, s.Date)); err != nil {
				return story, err
			}
		}
	}
	fmt.Fprintf(&out, "\n%s\n", strings.ReplaceAll(plan.Summary.Text, "\u202f", " "))
	text := out.String()
	if s.isASCII() {
		text = sheet.ASCII(text)
	}
	fmt.Fprintf(s.Out, "\n%s", text)
	fmt.Fprintf(s.Out, "\nOpen     %s/\nSign in  with the access key %s\nShop     %s (invented, like its sales and weather)\nStop     Ctrl-C; nothing is left behind\n\n",
		p.Address(), secret, site.Code)
	say("ready")
	return story, nil
}

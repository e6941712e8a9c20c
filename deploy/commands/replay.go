package commands

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"strings"
	"time"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/models/store"

	"hotday/planner/facts"
	"hotday/planner/replay"
)

// Replay replays a past season day by day and compares the costs.
type Replay struct {
	File   string      `arg:"" optional:"" complete:"season,file" help:"Season document (JSON; - for standard input), .csv of daily demand (series,date,demand,open,holiday,temp_c,rain_mm,humidity), or demo for the demo's season."`
	Site   string      `placeholder:"CODE" help:"Replay this site's history; needs --db."`
	DB     string      `name:"db" complete:"file" placeholder:"DSN" help:"Database with the site's history: a file, or postgres://user@host/database."`
	From   models.Date `placeholder:"DATE" help:"First day to replay; earlier days teach the forecast."`
	Days   int         `placeholder:"N" help:"Replay at most N days."`
	Replan bool        `help:"Also replan every two hours from the sales so far."`
	CSV    string      `name:"csv" complete:"file" placeholder:"FILE" help:"Write a CSV row per day and policy."`
	SVG    string      `name:"svg" complete:"file" placeholder:"FILE" help:"Chart each method's cost above perfect foresight."`
	Curve  string      `complete:"file" placeholder:"FILE" help:"Chart coffee poured away against drinks missed, also for plans without choices and at several service levels."`
	Ranges string      `placeholder:"FILE" help:"Chart the forecast's 10–90% range and the demand by day. Best with --days 7 or 56."`
	Budget int         `hidden:""`
	Ahead  int         `hidden:""`
	Sim    int         `hidden:""`
}

func (Replay) Help() string {
	return `Examples:

    hotday replay demo --svg season.svg --curve curve.svg
    hotday replay season.csv --from 2026-06-01 --days 60 --csv days.csv
    hotday replay --site corner --db hotday.db --replan`
}

func (c *Replay) Run(ctx context.Context, s Streams) error {
	season, err := c.season(ctx, s)
	if err != nil {
		return err
	}
	started := time.Now()
	o := replay.Options{From: c.From, Days: c.Days, Budget: c.Budget, Ahead: c.Ahead, Simulated: c.Sim, Replan: c.Replan, Cushions: replay.Cushions}
	if c.Curve != "" {
		o.ServiceLevels, o.NoChoices = replay.ServiceLevels, true
	}
	o.Progress = func(done, of int, date models.Date) {
		if done%7 == 0 || done == of {
			fmt.Fprintf(s.Err, "%5.1f s  %s, day %d of %d\n", time.Since(started).Seconds(), date, done, of)
		}
	}
	r, err := replay.Run(ctx, &season, o)
	if ctx.Err() != nil {
		return fmt.Errorf("stopped after %d days; nothing was written", len(r.Days))
	}
	if err != nil {
		return err
	}
	for _, out := range []struct {
		file  string
		write func(io.Writer, *replay.Result) error
	}{{c.CSV, replay.WriteCSV}, {c.SVG, replay.WriteSVG}, {c.Curve, replay.WriteCurveSVG}, {c.Ranges, replay.WriteRangesSVG}, {"-", replay.WriteText}} {
		if out.file == "" {
			continue
		}
		var b bytes.Buffer
		if err := out.write(&b, &r); err != nil {
			return err
		}
		if err := writeWhole(out.file, s.Out, b.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

func (c *Replay) season(ctx context.Context, s Streams) (replay.Season, error) {
	switch {
	case (c.File == "") == (c.Site == ""):
		return replay.Season{}, models.Invalid("", "FILE, or --site CODE with --db DSN", "name one season to replay")
	case c.Site != "":
		return c.siteSeason(ctx)
	case c.File == "demo":
		return demoSeason()
	}
	doc, err := readAll(c.File, s)
	if err != nil {
		return replay.Season{}, err
	}
	if strings.HasSuffix(strings.ToLower(c.File), ".csv") {
		return replay.ParseCSV(bytes.NewReader(doc), filepath.Base(c.File))
	}
	return replay.Parse(doc)
}

// siteSeason returns the history of a site up to yesterday.
func (c *Replay) siteSeason(ctx context.Context) (_ replay.Season, err error) {
	if c.DB == "" {
		return replay.Season{}, models.Invalid("/db", "--db DSN, the database with the site", "a site's history needs its database")
	}
	if _, err := os.Stat(c.DB); err != nil {
		return replay.Season{}, models.Errorf(models.CodeNotFound, "the database cannot be read: %v", err)
	}
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return replay.Season{}, err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	setup, days, err := facts.GatherHistory(ctx, st, c.Site, time.Now())
	if err != nil {
		return replay.Season{}, err
	}
	if len(days) == 0 {
		return replay.Season{}, models.Errorf(models.CodeNotFound, "%s has no sales counts before today", c.Site)
	}
	season := replay.FromHistory(setup, days)
	return season, season.Validate()
}

// demoSeason returns the invented shop's season up to the Tuesday after its hot weekend; it is always the same.
func demoSeason() (replay.Season, error) {
	story, err := demo.At(time.Date(2026, 7, 10, 15, 0, 0, 0, time.UTC))
	if err != nil {
		return replay.Season{}, err
	}
	loc := story.Setup.Site.Location()
	last := story.Saturday.AddDays(3)
	story.Now = last.AddDays(1).At(0, loc)
	observed := story.Observed().Hours
	drink := map[string]string{}
	for _, m := range demo.Mappings() {
		drink[m.Item] = *m.Drink
	}
	var sales iter.Seq[replay.Sale] = func(yield func(replay.Sale) bool) {
		for x := range story.Counts() {
			if d := drink[x.Item]; d != "" && !yield(replay.Sale{Drink: d, Span: models.Span{From: x.WindowStart, To: x.WindowEnd}, Servings: x.Count}) {
				return
			}
		}
	}
	season := replay.FromSales(story.Setup, models.DateOf(observed[0].At, loc), last, sales, observed)
	season.Title = "Invented shop, sales and weather: the demo's season, hot weekend included."
	return season, season.Validate()
}

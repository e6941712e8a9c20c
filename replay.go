package main

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

	"hotday/models"
	"hotday/models/store"
	"hotday/planner"
	"hotday/planner/replay"
	"hotday/testdata/demo"
)

type replayCommand struct {
	File   string      `arg:"" optional:"" help:"A season document (JSON), a CSV of demand (series,date,demand,open,holiday,temp_c,rain_mm,humidity; .csv), - for JSON on standard input, or the word demo: the invented shop's season."`
	Site   string      `placeholder:"CODE" help:"Relive the history of this site of the database."`
	DB     string      `name:"db" placeholder:"DSN" help:"The database, with --site."`
	From   models.Date `placeholder:"DATE" help:"First day to relive; days before it only teach."`
	Days   int         `placeholder:"N" help:"Relive at most so many days."`
	Replan bool        `help:"Relive, too, the plan made anew every three hours from what has sold."`
	CSV    string      `name:"csv" placeholder:"FILE" help:"Write each day of each method as CSV."`
	SVG    string      `name:"svg" placeholder:"FILE" help:"Draw what each method costs above perfect foresight."`
	Budget int         `hidden:""`
	Ahead  int         `hidden:""`
	Sim    int         `hidden:""`
}

func (c *replayCommand) Run(ctx context.Context, s streams) error {
	season, err := c.season(ctx, s)
	if err != nil {
		return err
	}
	begun := time.Now()
	r, err := replay.Run(ctx, &season, replay.Options{From: c.From, Days: c.Days, Budget: c.Budget, Ahead: c.Ahead, Simulated: c.Sim, Replan: c.Replan, Progress: func(done, of int, date models.Date) {
		if done%7 == 0 || done == of {
			fmt.Fprintf(s.err, "%5.1f s  %s, day %d of %d\n", time.Since(begun).Seconds(), date, done, of)
		}
	}})
	if ctx.Err() != nil {
		return fmt.Errorf("stopped after %d days; nothing is written", len(r.Days))
	}
	if err != nil {
		return err
	}
	for _, out := range []struct {
		file  string
		write func(io.Writer, *replay.Result) error
	}{{c.CSV, replay.WriteCSV}, {c.SVG, replay.WriteSVG}, {"-", replay.WriteText}} {
		if out.file == "" {
			continue
		}
		var b bytes.Buffer
		if err := out.write(&b, &r); err != nil {
			return err
		}
		if err := writeWhole(out.file, s.out, b.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

func (c *replayCommand) season(ctx context.Context, s streams) (replay.Season, error) {
	switch {
	case (c.File == "") == (c.Site == ""):
		return replay.Season{}, models.Invalid("", "a FILE, or --site CODE with --db DSN", "say one season to relive")
	case c.Site != "":
		return c.siteSeason(ctx)
	case c.File == "demo":
		return demoSeason()
	}
	doc, err := readAll(c.File, s.in)
	if err != nil {
		return replay.Season{}, err
	}
	if strings.HasSuffix(strings.ToLower(c.File), ".csv") {
		return replay.ParseCSV(bytes.NewReader(doc), filepath.Base(c.File))
	}
	return replay.Parse(doc)
}

// siteSeason is the history of a site up to yesterday.
func (c *replayCommand) siteSeason(ctx context.Context) (_ replay.Season, err error) {
	if c.DB == "" {
		return replay.Season{}, models.Invalid("/db", "--db DSN: the database that holds the site", "no database is named")
	}
	if _, err := os.Stat(c.DB); err != nil {
		return replay.Season{}, models.Errorf(models.CodeNotFound, "the database cannot be read: %v", err)
	}
	st, err := store.Open(ctx, c.DB)
	if err != nil {
		return replay.Season{}, err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	setup, days, err := planner.GatherHistory(ctx, st, c.Site, time.Now())
	if err != nil {
		return replay.Season{}, err
	}
	if len(days) == 0 {
		return replay.Season{}, models.Errorf(models.CodeNotFound, "nothing was counted at %s before today", c.Site)
	}
	season := replay.Season{Setup: setup}
	for _, d := range days {
		day := replay.Day{Date: d.Date, Closed: d.Closed, Weather: replay.DayWeather(d.Observed)}
		if len(d.Forecast) > 0 {
			day.Forecast = &replay.Weather{Hours: d.Forecast}
		}
		for _, x := range d.Counts {
			day.Counts = append(day.Counts, replay.Count{DayPart: x.DayPart, Drink: x.Drink, Count: x.Servings, OffSale: x.OffSale})
		}
		season.Days = append(season.Days, day)
	}
	return season, season.Validate()
}

// demoSeason is the invented shop's season up to the Tuesday after its hot weekend, always the same.
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
		drink[m.Item] = m.Drink
	}
	var sales iter.Seq[replay.Sale] = func(yield func(replay.Sale) bool) {
		for x := range story.Counts() {
			if d := drink[x.Item]; d != "" && !yield(replay.Sale{Drink: d, Span: models.Span{From: x.WindowStart, To: x.WindowEnd}, Servings: x.Count}) {
				return
			}
		}
	}
	season := replay.FromSales(story.Setup, models.DateOf(observed[0].At, loc), last, sales, observed)
	season.Title = "The shop, its sales and its weather are invented: the demo's season with the hot weekend lived through."
	return season, season.Validate()
}

package commands

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/planner/facts"
)

// step is how often the demo's till and staff do something, in the shop's time.
const step = time.Minute

// everyStep calls f every minute of the shop until ctx ends or f fails.
func (d *demonstration) everyStep(ctx context.Context, f func(now time.Time) error) error {
	for {
		if err := d.clock.Wait(ctx, d.clock.Now().Truncate(step).Add(step)); err != nil {
			return unlessStopped(ctx, err)
		}
		if err := f(d.clock.Now()); err != nil {
			return unlessStopped(ctx, err)
		}
	}
}

// unlessStopped returns err, or nil once ctx has ended.
func unlessStopped(ctx context.Context, err error) error {
	if ctx.Err() == nil {
		return err
	}
	return nil
}

// runTill posts the story's sales as they happen, as a real till would, until ctx ends.
func (d *demonstration) runTill(ctx context.Context) error {
	last := d.start
	return d.everyStep(ctx, func(now time.Time) error {
		err := d.sold(ctx, last, now)
		last = now
		return err
	})
}

// sold posts what was sold between two instants; without sales it posts nothing.
func (d *demonstration) sold(ctx context.Context, from, to time.Time) error {
	post := models.SalesPost{Source: demo.Source}
	for c := range d.story.CountsBetween(from, to) {
		post.Counts = append(post.Counts, c)
	}
	if len(post.Counts) == 0 {
		return nil
	}
	return d.post(ctx, "/v1/sites/"+d.story.Setup.Site.Code+"/sales-counts", post)
}

// runStaff marks the tasks of the published sheets as people do them, until ctx ends.
func (d *demonstration) runStaff(ctx context.Context) error {
	return d.everyStep(ctx, func(time.Time) error {
		_, err := d.markDone(ctx)
		return err
	})
}

// markDone marks what the staff have done by now, and returns the number of marks.
func (d *demonstration) markDone(ctx context.Context) (marks int, err error) {
	site, now := d.story.Setup.Site, d.clock.Now()
	today := site.ServiceDayOf(now)
	sheets, err := d.store.Sheets(ctx, site.Code, today.AddDays(-1), today.AddDays(2))
	if err != nil {
		return 0, err
	}
	var tasks []models.Task
	for _, s := range sheets {
		tasks = append(tasks, s.Tasks...)
	}
	left := func(beverage string) float64 {
		g := 0.0
		stock, e := facts.StockNow(ctx, d.store, site.Code, now)
		if e != nil {
			err = e
		}
		for _, s := range stock.Stock {
			if s.Beverage == beverage {
				g += s.G
			}
		}
		return g
	}
	for _, m := range demo.Marks(tasks, now, left) {
		if err != nil {
			return marks, err
		}
		if err := d.post(ctx, "/v1/tasks/"+url.PathEscape(m.Task)+"/marks", m); err != nil {
			return marks, err
		}
		marks++
	}
	return marks, err
}

// post posts a document to the service.
func (d *demonstration) post(ctx context.Context, path string, document any) error {
	body, err := json.Marshal(document)
	if err != nil {
		return err
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, d.Address()+path, bytes.NewReader(body))
	if err != nil {
		return err
	}
	r.Header.Set("Authorization", "Bearer "+d.key)
	r.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		return fmt.Errorf("the demo's shop: %w", err)
	}
	defer func() { _ = res.Body.Close() }()
	if res.StatusCode != http.StatusOK {
		return fmt.Errorf("the demo's shop: POST %s: %s", path, res.Status)
	}
	return nil
}

package commands

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"hotday/deploy/demo"
	"hotday/models"
)

const (
	tillInterval = time.Minute
	maxCatchUp   = 24 * time.Hour // posted at once after the machine slept
)

// runTill posts the story's sales as they happen, as a real till would, until ctx ends.
func runTill(ctx context.Context, p *program, story demo.Story) error {
	site := story.Setup.Site.Code
	_, key, err := p.store.AddToken(ctx, models.Token{Name: "demo till", Scopes: []string{models.ScopeSales}, Site: site}, story.Now)
	if err != nil {
		return unlessStopped(ctx, err)
	}
	tick := time.NewTicker(tillInterval)
	defer tick.Stop()
	for last := story.Now; ; {
		select {
		case <-ctx.Done():
			return nil
		case now := <-tick.C:
			if oldest := now.Add(-maxCatchUp); last.Before(oldest) {
				last = oldest
			}
			post := models.SalesPost{Source: demo.Source}
			for c := range story.CountsBetween(last, now) {
				post.Counts = append(post.Counts, c)
			}
			if err := postCounts(ctx, p.Address(), site, key, post); err != nil {
				return unlessStopped(ctx, err)
			}
			last = now
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

// postCounts posts counts to the service as a till does; without sales it posts nothing.
func postCounts(ctx context.Context, address, site, key string, post models.SalesPost) error {
	if len(post.Counts) == 0 {
		return nil
	}
	body, err := json.Marshal(post)
	if err != nil {
		return err
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, address+"/v1/sites/"+site+"/sales-counts", bytes.NewReader(body))
	if err != nil {
		return err
	}
	r.Header.Set("Authorization", "Bearer "+key)
	r.Header.Set("Content-Type", "application/json")
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		return fmt.Errorf("post the demo's sales: %w", err)
	}
	defer func() { _ = res.Body.Close() }()
	if res.StatusCode != http.StatusOK {
		return fmt.Errorf("post the demo's sales: %s", res.Status)
	}
	return nil
}

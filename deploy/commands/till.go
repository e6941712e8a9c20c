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

// tillEvery is how often the demo's till posts; mostAway bounds what it makes up for after the machine slept.
const (
	tillEvery = time.Minute
	mostAway  = 24 * time.Hour
)

// sell is the demo's invented till going on: it posts what the story sells while the demo runs, as a real one would, until ctx ends.
func sell(ctx context.Context, p *program, story demo.Story) error {
	site := story.Setup.Site.Code
	_, key, err := p.store.AddToken(ctx, models.Token{Name: "demo till", Scopes: []string{models.ScopeSales}, Site: site}, story.Now)
	if err != nil {
		return ignoreStop(ctx, err)
	}
	tick := time.NewTicker(tillEvery)
	defer tick.Stop()
	for last := story.Now; ; {
		select {
		case <-ctx.Done():
			return nil
		case now := <-tick.C:
			if away := now.Add(-mostAway); last.Before(away) {
				last = away
			}
			post := models.SalesPost{Source: demo.Source}
			for c := range story.CountsBetween(last, now) {
				post.Counts = append(post.Counts, c)
			}
			if err := postCounts(ctx, p.Address(), site, key, post); err != nil {
				return ignoreStop(ctx, err)
			}
			last = now
		}
	}
}

// ignoreStop is err, unless it came of being stopped.
func ignoreStop(ctx context.Context, err error) error {
	if ctx.Err() == nil {
		return err
	}
	return nil
}

// postCounts posts to the service as a till does. Nothing sold is nothing said.
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
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return fmt.Errorf("post what the demo sold: %w", err)
	}
	defer func() { _ = answer.Body.Close() }()
	if answer.StatusCode != http.StatusOK {
		return fmt.Errorf("post what the demo sold: %s", answer.Status)
	}
	return nil
}

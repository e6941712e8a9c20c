package demo

import (
	"context"
	"fmt"

	"hotday/models"
)

// Keep writes the whole story to st and reports each step through say.
func (s *Story) Keep(ctx context.Context, st models.Store, say func(format string, args ...any)) error {
	site := s.Setup.Site.Code
	if _, _, err := st.PutSetup(ctx, s.Setup, "", s.Now); err != nil {
		return fmt.Errorf("store the set-up: %w", err)
	}
	say("set-up: %d drinks, %d beverages, %d brewers; sources of ice: %d", len(s.Setup.Drinks), len(s.Setup.Beverages),
		len(s.Setup.Brewers), len(s.Setup.Ice.Makers)+len(s.Setup.Ice.Moulds))
	if err := st.PutMappings(ctx, site, Mappings()); err != nil {
		return fmt.Errorf("map the till items: %w", err)
	}
	rows, err := s.storeCounts(ctx, st)
	if err != nil {
		return fmt.Errorf("store the sales counts: %w", err)
	}
	say("sales: %d 15-minute counts over %d days; 1 till item is not matched to a drink yet", rows, historyDays)
	for _, w := range []models.WeatherPost{s.Observed(), s.Forecast()} {
		if err := st.PutWeather(ctx, site, w); err != nil {
			return fmt.Errorf("store the weather: %w", err)
		}
	}
	say("weather: %.0f °C on Saturday, %.0f °C on Sunday", maxTemp(0), maxTemp(1))
	if err := s.storeEntries(ctx, st); err != nil {
		return err
	}
	say("events: a fair on the quay on Saturday; the Left brewer out of order on Sunday morning")
	say("expected demand: as on the last hot weekend")
	return nil
}

func (s *Story) storeCounts(ctx context.Context, st models.Store) (rows int, err error) {
	post := models.SalesPost{Source: Source, Counts: make([]models.SalesCount, 0, models.MaxSalesRows)}
	flush := func() error {
		rows += len(post.Counts)
		_, err := st.PutCounts(ctx, s.Setup.Site.Code, post, s.Now, "", "")
		post.Counts = post.Counts[:0]
		return err
	}
	for c := range s.Counts() {
		post.Counts = append(post.Counts, c)
		if len(post.Counts) == models.MaxSalesRows {
			if err := flush(); err != nil {
				return rows, err
			}
		}
	}
	if len(post.Counts) == 0 {
		return rows, nil
	}
	return rows, flush()
}

// storeEntries stores what the manager and the kitchen have entered: events, outages, expected demand, stock.
func (s *Story) storeEntries(ctx context.Context, st models.Store) error {
	site := s.Setup.Site.Code
	if err := st.PutEvents(ctx, site, s.Events()); err != nil {
		return fmt.Errorf("store the events: %w", err)
	}
	if err := st.PutOutages(ctx, site, s.Outages()); err != nil {
		return fmt.Errorf("store the outages: %w", err)
	}
	for _, w := range s.PastExpectedDemand() {
		if err := st.PutExpectedDemand(ctx, site, w.Rows, w.At); err != nil {
			return fmt.Errorf("store past expected demand: %w", err)
		}
	}
	if err := st.PutExpectedDemand(ctx, site, s.ExpectedDemand(), s.Now); err != nil {
		return fmt.Errorf("store the expected demand: %w", err)
	}
	changes, counts := s.KitchenLog()
	if err := st.AddStockChanges(ctx, site, changes, s.Now); err != nil {
		return fmt.Errorf("store the stock changes: %w", err)
	}
	for _, c := range append(counts, s.StockCount()) {
		if err := st.AddStockCount(ctx, site, c, s.Now); err != nil {
			return fmt.Errorf("store a stock count: %w", err)
		}
	}
	return nil
}

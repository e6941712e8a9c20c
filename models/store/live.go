package store

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"time"

	"hotday/models"
)

// liveRetention is the number of events kept per site. A screen that missed more reloads everything.
const liveRetention = 10_000

// demandSettles is how long the state of a site may lag behind its sales counts.
const demandSettles = 5 * time.Minute

// AddEvent stores an event under the site's next ID. Screens are notified once the transaction is committed.
func (s *Store) AddEvent(ctx context.Context, e models.LiveEvent) (id int64, err error) {
	data := e.Data
	if len(data) == 0 {
		data = json.RawMessage("null")
	}
	err = failed("store a live event", s.within(ctx, func(t *Store) error {
		var found bool
		id, found, err = row[int64](ctx, t, "UPDATE sites SET last_event = last_event + 1 WHERE code = ? RETURNING last_event", e.Site)
		if err != nil {
			return err
		}
		if !found {
			return models.Errorf(models.CodeNotFound, "there is no site %q: set the shop up first", e.Site)
		}
		if _, err := t.exec(ctx, "INSERT INTO live_events (site, id, kind, at, data) VALUES (?, ?, ?, ?, ?)",
			e.Site, id, e.Kind, ms(e.At), string(data)); err != nil {
			return err
		}
		t.tx.changed[e.Site] = true
		from := e.At
		if e.Kind == "demand" { // tills send every few minutes, and all that changes is when
			from = from.Add(demandSettles)
		}
		if err := t.siteChanged(ctx, e.Site, from); err != nil {
			return err
		}
		if err := t.queueDeliveries(ctx, e); err != nil {
			return err
		}
		_, err := t.exec(ctx, "DELETE FROM live_events WHERE site = ? AND id <= ?", e.Site, id-liveRetention)
		return err
	}))
	return id, err
}

// EventsAfter returns at most limit events with IDs above id, in order.
func (s *Store) EventsAfter(ctx context.Context, site string, id int64, limit int) ([]models.LiveEvent, error) {
	var out []models.LiveEvent
	err := s.atSite(ctx, "read live events of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct {
			ID, At     int64
			Kind, Data string
		}](ctx, t, "SELECT id, kind, at, data FROM live_events WHERE site = ? AND id > ? ORDER BY id LIMIT ?",
			site, id, limitOf(models.Page{Limit: limit}))
		for _, e := range list {
			out = append(out, models.LiveEvent{ID: e.ID, Site: site, Kind: e.Kind, At: instant(e.At), Data: json.RawMessage(e.Data)})
		}
		return err
	})
	return out, err
}

// LastEventID returns the ID of the site's newest event, 0 if there has been none.
func (s *Store) LastEventID(ctx context.Context, site string) (int64, error) {
	id, found, err := row[int64](ctx, s, "SELECT last_event FROM sites WHERE code = ?", site)
	if err == nil && !found {
		err = models.Errorf(models.CodeNotFound, "there is no site %q: set the shop up first", site)
	}
	return id, failed("read the last live event of "+site, err)
}

// Changed returns a channel that is closed after the next commit of an event of the site. Call it before reading events, so as not
// to miss any committed in between.
func (s *Store) Changed(site string) <-chan struct{} {
	s.mu.Lock()
	defer s.mu.Unlock()
	c, ok := s.changed[site]
	if !ok {
		c = make(chan struct{})
		s.changed[site] = c
	}
	return c
}

// notify closes the channels of sites that have new events.
func (sh *shared) notify(sites map[string]bool) {
	sh.mu.Lock()
	defer sh.mu.Unlock()
	for site := range sites {
		if c, ok := sh.changed[site]; ok {
			close(c)
			delete(sh.changed, site)
		}
	}
}

// notifyAll closes the channels of all sites.
func (sh *shared) notifyAll() {
	sh.mu.Lock()
	defer sh.mu.Unlock()
	for _, c := range sh.changed {
		close(c)
	}
	clear(sh.changed)
}

// announce tells other processes at the commit which sites have new events.
func (s *Store) announce(ctx context.Context) error {
	if s.dialect.announce == "" {
		return nil
	}
	for _, site := range slices.Sorted(maps.Keys(s.tx.changed)) {
		if _, err := s.exec(ctx, s.dialect.announce, s.process+" "+site); err != nil {
			return err
		}
	}
	return nil
}

package api

import (
	"context"
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"hotday/models"
)

// feedBuffer is the number of recent events held per site; a client that is further behind reads the store.
const feedBuffer = 64

// feeds distributes each site's live events. An event is read and encoded once, however many streams are open.
type feeds struct {
	store  models.Store
	maxAge time.Duration // re-read at least this often: another process may have written
	mu     sync.Mutex
	sites  map[string]*feed
}

// feed holds one site's recent events. It is kept when the last stream closes: a few kilobytes per site.
type feed struct {
	mu      sync.Mutex // held while reading, so that streams woken together read once
	read    bool
	base    int64 // ID of the event before recent[0]
	recent  []frame
	changed <-chan struct{} // closed by the first commit that the last read may have missed
	readAt  time.Time
}

// frame is one encoded event.
type frame struct {
	id   int64
	text []byte
}

func (f *feeds) of(site string) *feed {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.sites == nil {
		f.sites = map[string]*feed{}
	}
	if f.sites[site] == nil {
		f.sites[site] = &feed{}
	}
	return f.sites[site]
}

// after returns the site's events with IDs above id, at most liveBatch of them, and a channel that is closed when there may be more.
// The slice is shared and must not be modified.
func (f *feeds) after(ctx context.Context, site string, id int64) ([]frame, <-chan struct{}, error) {
	fd := f.of(site)
	fd.mu.Lock()
	defer fd.mu.Unlock()
	changed := f.store.Changed(site) // before reading, so that a commit in between is not missed
	if changed != fd.changed || time.Since(fd.readAt) >= f.maxAge {
		if err := f.refresh(ctx, site, fd, id); err != nil {
			return nil, changed, err
		}
		fd.changed, fd.readAt = changed, time.Now()
	}
	if id >= fd.base {
		n := len(fd.recent)
		for n > 0 && fd.recent[n-1].id > id {
			n--
		}
		return fd.recent[n:], changed, nil
	}
	older, err := f.frames(ctx, site, id) // behind the buffer
	return older, changed, err
}

// refresh reads the events since the last read; the first read starts after id.
func (f *feeds) refresh(ctx context.Context, site string, fd *feed, id int64) error {
	if !fd.read {
		fd.base, fd.read = id, true
	}
	last := fd.base
	if n := len(fd.recent); n > 0 {
		last = fd.recent[n-1].id
	}
	for {
		more, err := f.frames(ctx, site, last)
		if err != nil {
			return err
		}
		recent := append(fd.recent[:len(fd.recent):len(fd.recent)], more...) // a new slice: streams may still be sending the old one
		if drop := len(recent) - feedBuffer; drop > 0 {
			fd.base = recent[drop-1].id
			recent = append([]frame(nil), recent[drop:]...)
		}
		fd.recent = recent
		if len(more) < liveBatch {
			return nil
		}
		last = more[len(more)-1].id
	}
}

func (f *feeds) frames(ctx context.Context, site string, id int64) ([]frame, error) {
	events, err := f.store.EventsAfter(ctx, site, id, liveBatch)
	if err != nil {
		return nil, err
	}
	out := make([]frame, len(events))
	for i, e := range events {
		data, err := json.Marshal(e)
		if err != nil {
			return nil, err
		}
		out[i] = frame{e.ID, fmt.Appendf(nil, "id: %d\nevent: %s\ndata: %s\n\n", e.ID, e.Kind, data)}
	}
	return out, nil
}

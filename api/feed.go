package api

import (
	"context"
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"hotday/models"
)

// feedKept is how many of a site's newest events stay ready to be sent; a screen that was away for more reads the store.
const feedKept = 64

// feeds hands on what happens at each site. However many screens listen, an event is read and put into words for the line once.
type feeds struct {
	store models.Store
	every time.Duration // how old a reading may be without a sign of change: another process may have written
	mu    sync.Mutex
	sites map[string]*feed
}

// feed is one site's newest events. It stays when the last screen goes: a few kilobytes for each site that ever had one.
type feed struct {
	mu     sync.Mutex // held while reading, so that screens which wake together read once
	read   bool
	base   int64 // id of the event before the first one kept
	kept   []frame
	upTo   <-chan struct{} // closed by the first commit that the last reading may have missed
	readAt time.Time
}

// frame is one event as it goes over the line.
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

// after returns the events of a site with ids above id, at most liveBatch of them, and a channel that is closed once there may
// be more. The frames are shared: nobody changes them.
func (f *feeds) after(ctx context.Context, site string, id int64) ([]frame, <-chan struct{}, error) {
	fd := f.of(site)
	fd.mu.Lock()
	defer fd.mu.Unlock()
	changed := f.store.Changed(site) // before reading: what is committed in between is not missed
	if changed != fd.upTo || time.Since(fd.readAt) >= f.every {
		if err := f.renew(ctx, site, fd, id); err != nil {
			return nil, changed, err
		}
		fd.upTo, fd.readAt = changed, time.Now()
	}
	if id >= fd.base {
		n := len(fd.kept)
		for n > 0 && fd.kept[n-1].id > id {
			n--
		}
		return fd.kept[n:], changed, nil
	}
	older, err := f.frames(ctx, site, id) // one that was away longer
	return older, changed, err
}

// renew reads what came since the last reading; the first one begins where its screen stands.
func (f *feeds) renew(ctx context.Context, site string, fd *feed, id int64) error {
	if !fd.read {
		fd.base, fd.read = id, true
	}
	last := fd.base
	if n := len(fd.kept); n > 0 {
		last = fd.kept[n-1].id
	}
	for {
		more, err := f.frames(ctx, site, last)
		if err != nil {
			return err
		}
		kept := append(fd.kept[:len(fd.kept):len(fd.kept)], more...) // another slice: the old one may be on its way
		if drop := len(kept) - feedKept; drop > 0 {
			fd.base = kept[drop-1].id
			kept = append([]frame(nil), kept[drop:]...)
		}
		fd.kept = kept
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

package store

import (
	"context"
	"errors"
	"strings"
	"time"
)

// eventsChannel is the channel of NOTIFY by which processes hear that a site has new live events. The payload is the
// process and the site.
const eventsChannel = "hotday_events"

// listenPostgres wakes those who wait for a site's events when another process commits some, until ctx ends. After a cut it connects again
// and wakes all, since it may have missed some.
func listenPostgres(ctx context.Context, sh *shared, ready func()) {
	for again := false; ctx.Err() == nil; again = true {
		err := listenFrom(ctx, sh, func() {
			ready()
			if again {
				sh.notifyAll()
			}
		})
		if ctx.Err() != nil {
			return
		}
		sh.log.WarnContext(ctx, "the connection for events of other replicas was cut; connecting again", "error", err)
		pause(ctx, time.Second)
	}
}

func listenFrom(ctx context.Context, sh *shared, listening func()) (err error) {
	c, err := connectPostgres(ctx, sh.dsn)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closePostgres(ctx, c)) }()
	if _, err := c.Exec(ctx, "LISTEN "+eventsChannel); err != nil {
		return err
	}
	listening()
	for {
		n, err := c.WaitForNotification(ctx)
		if err != nil {
			return err
		}
		if process, site, _ := strings.Cut(n.Payload, " "); process != sh.process { // it knows of its own
			sh.notify(map[string]bool{site: true})
		}
	}
}

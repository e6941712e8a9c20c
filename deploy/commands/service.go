package commands

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"time"

	"golang.org/x/sync/errgroup"

	"hotday/api"
	"hotday/deploy/demo"
	"hotday/jobs"
	"hotday/models/store"
)

// program is the service in one process: the store, the HTTP server and the jobs.
type program struct {
	config   Serve
	catchUp  time.Duration // how far back the jobs look for missed runs; 0: their default
	store    *store.Store
	server   *api.Server
	listener net.Listener
	log      *slog.Logger
}

// open opens the database and the port. Nothing runs until Run.
func open(ctx context.Context, c Serve, log *slog.Logger) (*program, error) {
	st, err := store.Open(ctx, c.DB, store.WithLogger(log))
	if err != nil {
		return nil, err
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", c.Listen)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("listen: %w", err), st.Close())
	}
	server := api.New(api.Config{Store: st, Sessions: st, Log: log, Example: demo.Shop, SecureCookies: c.SecureCookies, PrivateWebhooks: c.PrivateWebhooks, Version: BuiltFrom()})
	return &program{config: c, store: st, server: server, listener: l, log: log}, nil
}

// Address is the service's URL for a browser on this machine.
func (p *program) Address() string {
	host, port, err := net.SplitHostPort(p.listener.Addr().String())
	if ip := net.ParseIP(host); err == nil && (ip == nil || ip.IsUnspecified()) {
		host = "127.0.0.1"
	}
	return "http://" + net.JoinHostPort(host, port)
}

// Run runs the server and the jobs until ctx ends or either fails, then shuts both down gracefully.
func (p *program) Run(ctx context.Context) error {
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return p.server.Serve(ctx, p.listener, p.config.Grace) })
	g.Go(func() error {
		return jobs.Run(ctx, jobs.Config{Store: p.store, Worker: p.store, Log: p.log, PublishAt: p.config.PublishAt, RefitAt: p.config.RefitAt,
			WatchAt: p.config.WatchAt, CatchUp: p.catchUp, PrivateWebhooks: p.config.PrivateWebhooks})
	})
	return g.Wait()
}

// Close closes the port and the database.
func (p *program) Close() error {
	err := p.listener.Close()
	if errors.Is(err, net.ErrClosed) {
		err = nil // closed by Run
	}
	return errors.Join(err, p.store.Close())
}

package commands

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"os/signal"
	"syscall"
	"time"

	"golang.org/x/sync/errgroup"

	"hotday/api"
	"hotday/deploy/demo"
	"hotday/jobs"
	"hotday/jobs/mail"
	"hotday/jobs/weather"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner/cores"
)

// program is the service in one process: the store, the HTTP server and the jobs.
type program struct {
	config   Serve
	catchUp  time.Duration // how far back the jobs look for missed runs; 0: their default
	now      func() time.Time
	wait     func(ctx context.Context, at time.Time) error // nil: in real time
	store    *store.Store
	server   *api.Server
	listener net.Listener
	log      *slog.Logger
	cores    *cores.Cores
	mail     *mail.Server // nil: no e-mail
	observed observed
	cert     *certificate // nil: plain HTTP
}

// settings are what only one of demo and serve sets.
type settings struct {
	observed observed // of serve
	// Of the demo.
	clock   *demo.Clock                                   // nil: real time
	oneTime func(code string) (accessKey string, ok bool) // of a link that signs in once
}

// open opens the database and the port. Nothing runs until Serve and Work.
func open(ctx context.Context, c Serve, log *slog.Logger, set settings) (*program, error) {
	p := &program{config: c, log: log, now: time.Now, cores: cores.New(cores.Machine()), observed: set.observed}
	var clock api.DemoClock
	if set.clock != nil {
		p.now, p.wait, clock = set.clock.Now, set.clock.Wait, set.clock
		p.catchUp = time.Minute // the shop is new, so no run was missed
	}
	var err error
	if p.mail, err = mail.NewServer(mail.Settings{Server: c.SMTP, TLS: c.SMTPTLS, User: c.SMTPUser, PasswordFile: c.SMTPPassword, From: c.MailFrom, PublicURL: c.PublicURL}); err != nil {
		return nil, err
	}
	keep, err := c.Keep.WithDefaults()
	if err != nil {
		return nil, fmt.Errorf("--keep: %w", err)
	}
	if c.BackupTo != "" {
		if there, err := os.Stat(c.BackupTo); err != nil || !there.IsDir() {
			return nil, errors.Join(fmt.Errorf("--backup-to %s is not a directory", c.BackupTo), err)
		}
	}
	if store.IsServer(c.DB) {
		switch {
		case c.SecretFile == "":
			return nil, errors.New("--secret-file is needed with PostgreSQL: the key file of the secrets, of which every replica uses a copy; it is created if it does not exist")
		case c.BackupTo != "":
			return nil, errors.New("--backup-to backs up SQLite files: back PostgreSQL up with pg_dump or base backups, as deploy/install.md says")
		}
	}
	var secure *tls.Config
	if c.TLSCert != "" || c.TLSKey != "" {
		cert, err := openCertificate(c.TLSCert, c.TLSKey, log)
		if err != nil {
			return nil, err
		}
		p.cert, secure = cert, cert.config()
	}
	st, err := store.Open(ctx, c.DB, store.WithLogger(log), store.WithClock(p.now), store.WithSecretFile(c.SecretFile), store.WithFinishedJobs(keep[models.KeepJobs]), store.WithGrace(c.Grace/2), store.WithWorkers(cmp.Or(int(c.Workers), max(2, cores.Machine()))))
	if err != nil {
		return nil, err
	}
	if err := st.EncryptSecrets(ctx); err != nil {
		return nil, errors.Join(err, st.Close())
	}
	l, err := (&net.ListenConfig{}).Listen(ctx, "tcp", c.Listen)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("listen: %w", err), st.Close())
	}
	p.store, p.listener = st, l
	config := api.Config{Store: st, Sessions: st, Now: p.now, Demo: clock, OneTime: set.oneTime, Log: log, Example: demo.Shop, Mail: p.mail != nil, SecureCookies: c.SecureCookies,
		Cores: p.cores, TrustedProxies: prefixes(c.TrustedProxy), CORSOrigins: origins(c.CORSOrigin), TLS: secure, PrivateWebhooks: c.PrivateWebhooks, OutsideHosts: c.OutsideHost, Version: BuiltFrom(), Traces: p.observed.traces}
	if m := p.observed.metrics; m != nil {
		config.Measures = m
		m.WatchDatabase(st, func(err error) { log.Warn("the metrics of the database could not be read", "error", err) })
	}
	p.server = api.New(config)
	return p, nil
}

// Address is the service's URL for a browser on this machine.
func (p *program) Address() string {
	host, port, err := net.SplitHostPort(p.listener.Addr().String())
	if ip := net.ParseIP(host); err == nil && (ip == nil || ip.IsUnspecified()) {
		host = "127.0.0.1"
	}
	scheme := "http://"
	if p.cert != nil {
		scheme = "https://"
	}
	return scheme + net.JoinHostPort(host, port)
}

// unencrypted reports whether other machines can reach the service and nothing shows that they do so over HTTPS.
func (p *program) unencrypted() bool {
	host, _, err := net.SplitHostPort(p.listener.Addr().String())
	here := err == nil && net.ParseIP(host).IsLoopback()
	return !here && p.cert == nil && len(p.config.TrustedProxy) == 0 && !p.config.SecureCookies
}

// Run runs the server, the jobs and the port of the metrics until ctx ends or one fails, then shuts them down gracefully.
func (p *program) Run(ctx context.Context) error {
	hangUp := make(chan os.Signal, 1)
	signal.Notify(hangUp, syscall.SIGHUP)
	defer signal.Stop(hangUp)
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error { return p.Serve(ctx) })
	g.Go(func() error { return p.Work(ctx) })
	if p.observed.metrics != nil {
		g.Go(func() error { return p.observed.serve(ctx) })
	}
	g.Go(func() error { p.reloadOn(ctx, hangUp); return nil })
	return g.Wait()
}

// reloadOn reads the certificate again at each hang-up signal, which does not end the service.
func (p *program) reloadOn(ctx context.Context, hangUp <-chan os.Signal) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-hangUp:
			if p.cert != nil {
				p.cert.Reload()
			}
		}
	}
}

// Serve runs the server until ctx ends, then shuts it down gracefully.
func (p *program) Serve(ctx context.Context) error {
	return p.server.Serve(ctx, p.listener, p.config.Grace)
}

// Work runs the jobs until ctx ends.
func (p *program) Work(ctx context.Context) error {
	config := jobs.Config{Store: p.store.ForJobs(), Worker: p.store, Cores: p.cores, Now: p.now, Wait: p.wait, Log: p.log, PublishAt: p.config.PublishAt,
		RefitAt: p.config.RefitAt, WatchAt: p.config.WatchAt, ReviewAt: p.config.ReviewAt, Mail: p.mail, BackupAt: p.config.BackupAt, Keep: p.config.Keep, CatchUp: p.catchUp, PrivateWebhooks: p.config.PrivateWebhooks, OutsideHosts: p.config.OutsideHost,
		Weather: weather.Client{Version: BuiltFrom(), Contact: p.config.Contact, OpenMeteoURL: p.config.OpenMeteoURL, OpenMeteoKey: p.config.OpenMeteoKey}, Traces: p.observed.traces}
	if p.config.BackupTo != "" {
		config.Backup = p.backup
	}
	if p.observed.metrics != nil {
		config.Measures = p.observed.metrics
	}
	return jobs.Run(ctx, config)
}

// backup backs the database up into the chosen directory.
func (p *program) backup(ctx context.Context) error {
	file, err := p.store.BackupTo(ctx, p.config.BackupTo, BuiltFrom(), store.Rotation{Daily: p.config.BackupDaily, Weekly: p.config.BackupWeekly})
	if err == nil {
		p.log.Info("database backed up", "file", file)
	}
	return err
}

// Close closes the port and the database.
func (p *program) Close() error {
	err := p.listener.Close()
	if errors.Is(err, net.ErrClosed) {
		err = nil // closed by Run
	}
	return errors.Join(err, p.store.Close())
}

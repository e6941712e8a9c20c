package commands

import (
	"context"
	"errors"
	"log/slog"
	"time"
)

// Serve runs the service until it is told to stop.
type Serve struct {
	DB              string        `name:"db" required:"" complete:"file" placeholder:"DSN" help:"The database: an SQLite file, made where there is none."`
	Listen          string        `default:"127.0.0.1:8080" help:"Address and port to answer on; port 0 takes a free one."`
	PublishAt       string        `default:"${publish_at}" placeholder:"CRON" help:"When the next day's prep sheet is published, in each site's time (${default})."`
	RefitAt         string        `default:"${refit_at}" placeholder:"CRON" help:"When the forecast learns from the day before, in each site's time (${default})."`
	WatchAt         string        `default:"${watch_at}" placeholder:"CRON" help:"When the day is looked at for what runs short (${default})."`
	PrivateWebhooks bool          `help:"Webhooks may go to this machine and to private networks, and by http."`
	SecureCookies   bool          `help:"Set when people reach the service by HTTPS."`
	Grace           time.Duration `default:"15s" help:"How long requests may run on when the service is stopped."`
	LogLevel        slog.Level    `default:"INFO" help:"DEBUG, INFO, WARN or ERROR."`
}

func (Serve) Help() string {
	return `Every flag may also be set in the environment, as HOTDAY_DB and so on. Examples:

    hotday serve --db hotday.db
    hotday serve --db hotday.db --listen 0.0.0.0:8080 --secure-cookies
    HOTDAY_DB=/var/lib/hotday/hotday.db hotday serve`
}

func (c *Serve) Run(ctx context.Context, s Streams) error {
	log := slog.New(slog.NewTextHandler(s.Err, &slog.HandlerOptions{Level: c.LogLevel}))
	p, err := open(ctx, *c, log)
	if err != nil {
		return err
	}
	if tokens, err := p.store.Tokens(ctx); err == nil && len(tokens) == 0 {
		log.Info("no access key exists yet; make one with: hotday token new --db " + c.DB + " --scope manage")
	}
	log.Info("hotday serves at "+p.Address(), "version", BuiltFrom(), "db", c.DB)
	return errors.Join(p.Run(ctx), p.Close())
}

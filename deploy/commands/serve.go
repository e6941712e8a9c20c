package commands

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"time"
)

// Serve runs the service until it is stopped.
type Serve struct {
	DB              string         `name:"db" required:"" complete:"file" placeholder:"DSN" help:"SQLite database file; created if it does not exist."`
	Listen          string         `default:"127.0.0.1:8080" help:"Address and port to listen on; port 0 picks a free one."`
	PublishAt       string         `default:"${publish_at}" placeholder:"CRON" help:"When to publish the next day's prep sheet, in each site's time (${default})."`
	RefitAt         string         `default:"${refit_at}" placeholder:"CRON" help:"When to update the forecast with the last day's sales, in each site's time (${default})."`
	WatchAt         string         `default:"${watch_at}" placeholder:"CRON" help:"When to check for shortages, in each site's time (${default})."`
	PrivateWebhooks bool           `help:"Allow webhooks to this machine and private networks, and over plain HTTP; and weather from addresses there."`
	Contact         string         `placeholder:"ADDRESS" help:"E-mail or web address by which weather services can reach you; sent with each request for a forecast, for shops that have not entered their own."`
	OpenMeteoURL    string         `name:"open-meteo-url" placeholder:"URL" help:"Address of your own service with Open-Meteo's interface, for shops that choose Open-Meteo."`
	OpenMeteoKey    string         `name:"open-meteo-key" placeholder:"KEY" help:"Key of your contract with Open-Meteo, which commercial use needs."`
	TrustedProxy    []proxyNetwork `placeholder:"CIDR" help:"Network of a reverse proxy whose X-Forwarded-For and X-Forwarded-Proto to believe, e.g. 127.0.0.1 or 10.0.0.0/24. May be repeated. Without it these headers are ignored."`
	TLSCert         string         `name:"tls-cert" complete:"file" placeholder:"FILE" help:"Certificate with its chain (PEM), to serve HTTPS without a proxy. Read again when the file changes, and on SIGHUP."`
	TLSKey          string         `name:"tls-key" complete:"file" placeholder:"FILE" help:"Private key of the certificate (PEM)."`
	SecureCookies   bool           `help:"Mark cookies as secure and send HSTS even where neither TLS nor a trusted proxy shows that people use HTTPS."`
	Grace           time.Duration  `default:"15s" help:"How long open requests may take to finish on shutdown."`
	LogFormat       string         `default:"text" enum:"text,json" help:"Format of the log: text or json."`
	LogLevel        slog.Level     `default:"INFO" help:"Lowest level to log: DEBUG, INFO, WARN or ERROR."`
}

func (Serve) Help() string {
	return `Every flag can also be set in the environment, e.g. HOTDAY_DB for --db. Examples:

    hotday serve --db hotday.db
    hotday serve --db hotday.db --trusted-proxy 127.0.0.1
    hotday serve --db hotday.db --listen :443 --tls-cert shop.crt --tls-key shop.key
    HOTDAY_DB=/var/lib/hotday/hotday.db hotday serve`
}

func (c *Serve) Run(ctx context.Context, s Streams) error {
	log := slog.New(c.logHandler(s.Err))
	p, err := open(ctx, *c, log, settings{})
	if err != nil {
		return err
	}
	if tokens, err := p.store.Tokens(ctx); err == nil && len(tokens) == 0 {
		log.Info("no access key yet; create one with: hotday token new --db " + c.DB + " --scope manage")
	}
	log.Info("listening on "+p.Address(), "version", BuiltFrom(), "db", c.DB)
	return errors.Join(p.Run(ctx), p.Close())
}

func (c *Serve) logHandler(w io.Writer) slog.Handler {
	options := &slog.HandlerOptions{Level: c.LogLevel}
	if c.LogFormat == "json" {
		return slog.NewJSONHandler(w, options)
	}
	return slog.NewTextHandler(w, options)
}

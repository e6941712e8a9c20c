package commands

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strconv"
	"time"

	"hotday/models"
	"hotday/models/store"
	"hotday/planner/cores"
)

// Serve runs the service until it is stopped.
type Serve struct {
	DB              string         `name:"db" required:"" complete:"file" placeholder:"DSN" help:"SQLite database file, created if it does not exist; or a PostgreSQL database that exists, as postgres://user@host/database, for several replicas."`
	Listen          string         `default:"127.0.0.1:8080" help:"Address and port to listen on; port 0 picks a free one."`
	PublishAt       string         `default:"${publish_at}" placeholder:"CRON" help:"When the next day's prep sheet is to be there, in each site's time (${default}); work on it begins a few minutes before."`
	RefitAt         string         `default:"${refit_at}" placeholder:"CRON" help:"When to update the forecast with the last day's sales, in each site's time (${default}); each site begins within half an hour."`
	WatchAt         string         `default:"${watch_at}" placeholder:"CRON" help:"When to check for shortages, in each site's time (${default})."`
	Workers         workers        `placeholder:"N" help:"How many jobs run at once in each line: what people ask for, publishing and watching, the night's learning. Default: as many as this machine has cores, at least 2."`
	SecretFile      string         `complete:"file" placeholder:"FILE" help:"Key file of the secrets; created if it does not exist. Default: the database file's name with .key. Needed with PostgreSQL: every replica uses a copy of the same file."`
	BackupTo        string         `complete:"file" placeholder:"DIR" help:"Directory for a backup every night; see hotday backup. Default: none."`
	BackupAt        string         `default:"${backup_at}" placeholder:"CRON" help:"When to back up, in this machine's time (${default})."`
	BackupDaily     int            `default:"7" help:"Backups to keep: the newest of each of the last N days (${default})."`
	BackupWeekly    int            `default:"4" help:"Backups to keep besides: the newest of each of the last N weeks (${default})."`
	Keep            models.Keep    `mapsep:"," placeholder:"WHAT=DAYS" help:"How many days to keep plans, published, sheets, events, deliveries, jobs, warnings, setups and activity; README.md has the defaults. Example: plans=60,events=7."`
	ReviewAt        string         `default:"${review_at}" placeholder:"CRON" help:"When to e-mail the weekly review, in each site's time (${default})."`
	OutsideHost     []string       `placeholder:"HOST" help:"Host that webhooks, weather documents and the push services of browsers may be on, e.g. hooks.example.com or *.example.com. May be repeated. Default: any public one."`
	PrivateWebhooks bool           `help:"Allow webhooks and weather from this machine and private networks, and webhooks over plain HTTP."`
	Contact         string         `placeholder:"ADDRESS" help:"E-mail or web address for weather services, sent with each forecast request, for shops without their own."`
	OpenMeteoURL    string         `name:"open-meteo-url" placeholder:"URL" help:"Your own service with Open-Meteo's interface, for shops that choose Open-Meteo."`
	OpenMeteoKey    string         `name:"open-meteo-key" placeholder:"KEY" help:"Key of your contract with Open-Meteo, which commercial use needs."`
	SMTP            string         `name:"smtp" placeholder:"HOST:PORT" help:"Mail server for e-mail to staff. Default: none, and no e-mail."`
	SMTPTLS         string         `name:"smtp-tls" enum:"auto,starttls,implicit,none" default:"auto" help:"Encryption: starttls (required, not just tried), implicit, none (only without password), or auto: implicit on port 465, else starttls."`
	SMTPUser        string         `name:"smtp-user" placeholder:"NAME" help:"Name for the mail server."`
	SMTPPassword    string         `name:"smtp-password-file" complete:"file" placeholder:"FILE" help:"File with the password for the mail server."`
	MailFrom        string         `placeholder:"ADDRESS" help:"Address that e-mail comes from, such as \"Hotday <hotday@example.com>\"."`
	PublicURL       string         `name:"public-url" placeholder:"URL" help:"Address by which people reach the service, for links in e-mail."`
	TrustedProxy    []proxyNetwork `placeholder:"CIDR" help:"Network of a reverse proxy whose X-Forwarded-For and X-Forwarded-Proto to believe, e.g. 127.0.0.1 or 10.0.0.0/24. May be repeated. Without it these headers are ignored."`
	CORSOrigin      []webOrigin    `name:"cors-origin" placeholder:"URL" help:"Origin of web pages that may use the API with an access key, e.g. https://app.example.com. May be repeated. Cookies are never allowed. Default: none."`
	TLSCert         string         `name:"tls-cert" complete:"file" placeholder:"FILE" help:"Certificate with its chain (PEM), to serve HTTPS without a proxy. Read again when the file changes, and on SIGHUP."`
	TLSKey          string         `name:"tls-key" complete:"file" placeholder:"FILE" help:"Private key of the certificate (PEM)."`
	SecureCookies   bool           `help:"Mark cookies as secure and send HSTS even where neither TLS nor a trusted proxy shows that people use HTTPS."`
	Metrics         string         `placeholder:"ADDRESS" help:"Address and port for metrics (Prometheus), at /metrics, without sign-in: one that only your monitoring reaches. Default: none."`
	Grace           time.Duration  `default:"15s" help:"How long a shutdown may take: what is quick finishes, longer requests are answered with 503, jobs are finished or handed back."`
	LogFormat       string         `default:"text" enum:"text,json" help:"Format of the log: text or json."`
	LogLevel        slog.Level     `default:"INFO" help:"Lowest level to log: DEBUG, INFO, WARN or ERROR."`
}

// workers is how many jobs of a line run at once; 0: the default.
type workers int

const mostWorkers = 64

// UnmarshalText reads a number of workers.
func (w *workers) UnmarshalText(text []byte) error {
	n, err := strconv.Atoi(string(text))
	if err != nil || n < 1 || n > mostWorkers {
		return fmt.Errorf("%q is not a number of workers; expected 1 to %d", text, mostWorkers)
	}
	*w = workers(n)
	return nil
}

func (Serve) Help() string {
	return `Every flag can also be set in the environment, e.g. HOTDAY_DB for --db. Examples:

    hotday serve --db hotday.db
    hotday serve --db hotday.db --trusted-proxy 127.0.0.1
    hotday serve --db hotday.db --listen :443 --tls-cert shop.crt --tls-key shop.key
    hotday serve --db hotday.db --backup-to /srv/backups/hotday
    hotday serve --db hotday.db --metrics 127.0.0.1:9090
    hotday serve --db "postgres://hotday@db.example.com/hotday?sslmode=verify-full" --secret-file /etc/hotday/secrets.key
    hotday serve --db hotday.db --smtp mail.example.com:587 --smtp-user hotday --smtp-password-file /etc/hotday/smtp \
        --mail-from hotday@example.com --public-url https://hotday.example.com
    HOTDAY_DB=/var/lib/hotday/hotday.db hotday serve

Traces (OpenTelemetry) are sent over HTTP to OTEL_EXPORTER_OTLP_ENDPOINT, if it is set.`
}

func (c *Serve) Run(ctx context.Context, s Streams) error {
	log := slog.New(c.logHandler(s.Err))
	limitMemory(log)
	cores.Spare()
	o, err := observe(ctx, c.Metrics, log)
	if err != nil {
		return errors.Join(err, o.close(ctx))
	}
	p, err := open(ctx, *c, log, settings{observed: o})
	if err != nil {
		return errors.Join(err, o.close(ctx))
	}
	if tokens, err := p.store.Tokens(ctx); err == nil && len(tokens) == 0 {
		log.Info("no access key yet; create one with: hotday token new --db " + store.Shown(c.DB) + " --scope manage")
	}
	if o.listener != nil {
		log.Info("metrics on http://" + o.listener.Addr().String() + "/metrics")
	}
	if p.unencrypted() {
		log.Warn("other machines reach this service over plain HTTP, where passwords and keys can be read: use --tls-cert and --tls-key, or a reverse proxy that is named with --trusted-proxy")
	}
	log.Info("listening on "+p.Address(), "version", BuiltFrom(), "db", store.Shown(c.DB))
	return errors.Join(p.Run(ctx), o.close(ctx), p.Close())
}

func (c *Serve) logHandler(w io.Writer) slog.Handler {
	options := &slog.HandlerOptions{Level: c.LogLevel}
	if c.LogFormat == "json" {
		return slog.NewJSONHandler(w, options)
	}
	return slog.NewTextHandler(w, options)
}

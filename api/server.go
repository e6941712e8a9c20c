package api

import (
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/alexedwards/scs/v2"
	"github.com/gin-gonic/gin"
	"go.opentelemetry.io/otel/trace"
	"go.opentelemetry.io/otel/trace/noop"
	"golang.org/x/sync/semaphore"

	"hotday/api/web"
	"hotday/models"
	"hotday/planner/cores"
)

// Config configures a Server. Store and Sessions are required.
type Config struct {
	Store         models.Store
	Sessions      models.SessionStore
	Now           func() time.Time // nil: time.Now
	Log           *slog.Logger     // nil: slog.Default()
	SecureCookies bool             // the service is reached over HTTPS, whatever a request says: secure cookies and HSTS
	// TrustedProxies are the networks of reverse proxies whose X-Forwarded-For and X-Forwarded-Proto are believed; without any, the
	// headers are ignored.
	TrustedProxies []netip.Prefix
	CORSOrigins    []string      // origins whose pages may use the API with an access key, such as https://app.example.com; none: no CORS
	TLS            *tls.Config   // nil: plain HTTP
	Heartbeat      time.Duration // interval of live streams; 0: 15 s
	RatePerSecond  float64       // rate limit per token, with a burst of 4 s; 0: 2,000
	Version        string        // reported by /healthz and /readyz

	Cores *cores.Cores // that computations share with the jobs; nil: as many as the machine has, unshared

	ComputeTime time.Duration // how long a plan or slow calculation may take; 0: 2 min

	Measures Measures             // hears of requests, streams and plans; nil: nobody
	Traces   trace.TracerProvider // makes the spans of requests and computations; nil: none

	Most            Most             // how many of each there can be
	PasswordCost    *argon2id.Params // nil: 64 MiB, three passes; tests use less
	Mail            bool             // a mail server is set up
	OutsideHosts    []string         // hosts that webhooks, weather documents and push services may be on, see models.AllowedHost; none: any
	PrivateWebhooks bool             // allow webhooks over plain http and to loopback and private addresses
	// Example returns an example set-up for a new site to start from, with dates around now; nil: none.
	Example func(now time.Time) models.Setup
	// Demo is the clock of a demo, which pages show and steer; nil: a usual service.
	Demo DemoClock
	// OneTime returns the access key for the code of a link that signs in once; nil: there are no such links.
	OneTime func(code string) (accessKey string, ok bool)
}

// DemoClock is the clock of a demo: Config.Now, at a multiple of real time.
type DemoClock = web.DemoClock

// Server serves the REST API and the pages.
type Server struct {
	Config
	sessions    *scs.SessionManager
	engine      *gin.Engine
	handler     http.Handler // engine with compression
	limits      *limiter
	signIns     *limiter
	pairings    *limiter // pairing requests per client address
	claims      *limiter // pairing claims per client address
	codes       *limiter // wrong pairing codes per token
	crossOrigin *http.CrossOriginProtection
	streams     streamCloser
	feeds       feeds
	budgets     *budgets
	turns       *semaphore.Weighted // to compute what takes long: all cores but one, which is left to quick requests
	dummyHash   func() string       // compared with when there is no password, for equal timing
	ready       readyCache
	closing     chan struct{} // closed on shutdown, to end live streams
	tracer      trace.Tracer
}

// New makes a Server.
func New(cfg Config) *Server {
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.Log == nil {
		cfg.Log = slog.Default()
	}
	if cfg.Heartbeat <= 0 {
		cfg.Heartbeat = 15 * time.Second
	}
	if cfg.RatePerSecond <= 0 {
		cfg.RatePerSecond = 2000 // enough to load a season of counts; stops a runaway client
	}
	if cfg.PasswordCost == nil {
		cfg.PasswordCost = defaultPasswordCost
	}
	if cfg.Cores == nil {
		cfg.Cores = cores.New(cores.Machine())
	}
	cfg.Most = cfg.Most.withDefaults()
	if cfg.ComputeTime <= 0 {
		cfg.ComputeTime = 2 * time.Minute
	}
	if cfg.Measures == nil {
		cfg.Measures = unmeasured{}
	}
	traces := cfg.Traces
	if traces == nil {
		traces = noop.NewTracerProvider()
	}
	s := &Server{
		tracer:      traces.Tracer("hotday/api"),
		Config:      cfg,
		sessions:    newSessions(cfg),
		limits:      newLimiter(cfg.RatePerSecond, int(max(1, 4*cfg.RatePerSecond)), cfg.Now),
		signIns:     newLimiter(0.5, 20, cfg.Now),
		pairings:    newLimiter(0.2, 30, cfg.Now),
		claims:      newLimiter(20, 200, cfg.Now),
		codes:       newLimiter(0.1, 10, cfg.Now),
		crossOrigin: http.NewCrossOriginProtection(),
		feeds:       feeds{store: cfg.Store, maxAge: cfg.Heartbeat},
		budgets:     newBudgets(),
		turns:       semaphore.NewWeighted(int64(max(1, cores.Machine()-1))),
		dummyHash:   newDummyHash(cfg.PasswordCost),
		closing:     make(chan struct{}),
	}
	if cfg.Store != nil {
		s.Store = sandboxStore{cfg.Store}
	}
	s.engine = s.router()
	s.handler = compressResponses(s.engine)
	return s
}

// Handler returns the HTTP handler.
func (s *Server) Handler() http.Handler { return s.handler }

// Connection timeouts. readTimeout allows 16 MiB over a slow link. There is no write timeout, since live streams stay open.
const (
	headerTimeout = 10 * time.Second
	readTimeout   = 2 * time.Minute
	idleTimeout   = 2 * time.Minute
)

// errClosing is the cancellation cause of requests that are still running a moment after the server was asked to shut down.
var errClosing = errors.New("the service is shutting down")

// closingMoment is how long requests may run on at shutdown before they are cancelled, or a quarter of the grace period if that is
// shorter: time for what is quick to finish.
const closingMoment = time.Second

// Serve serves requests on l, with TLS if Config has it, until ctx ends. It then closes l and ends live streams. Requests that run on for a moment are cancelled and
// answered with 503, having written nothing. Connections that are still open after grace are closed, with a line in the log.
func (s *Server) Serve(ctx context.Context, l net.Listener, grace time.Duration) error {
	base, cancel := context.WithCancelCause(context.WithoutCancel(ctx))
	defer cancel(nil)
	srv := &http.Server{
		BaseContext: func(net.Listener) context.Context { return base },
		Handler:     s.handler, ReadHeaderTimeout: headerTimeout, ReadTimeout: readTimeout, IdleTimeout: idleTimeout,
		ErrorLog: slog.NewLogLogger(s.Log.Handler(), slog.LevelWarn),
	}
	l = &limitedListener{Listener: l, most: s.Most.Connections, ofOne: s.Most.ConnectionsOfOne, trusted: s.TrustedProxies}
	done := make(chan error, 1)
	go func() {
		if s.TLS == nil {
			done <- srv.Serve(l)
			return
		}
		srv.TLSConfig = s.TLS
		done <- srv.ServeTLS(l, "", "")
	}()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	close(s.closing)
	moment := time.AfterFunc(min(closingMoment, grace/4), func() { cancel(errClosing) })
	defer moment.Stop()
	wait, stop := context.WithTimeout(context.WithoutCancel(ctx), grace)
	defer stop()
	err := srv.Shutdown(wait)
	if errors.Is(err, context.DeadlineExceeded) {
		s.Log.WarnContext(ctx, "closing connections that are still busy at the end of the grace period", "grace", grace)
		err = srv.Close()
	}
	if served := <-done; !errors.Is(served, http.ErrServerClosed) {
		err = errors.Join(err, served)
	}
	return err
}

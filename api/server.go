package api

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"runtime"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/alexedwards/scs/v2"
	"github.com/gin-gonic/gin"

	"hotday/api/web"
	"hotday/models"
)

// Config configures a Server. Store and Sessions are required.
type Config struct {
	Store         models.Store
	Sessions      models.SessionStore
	Now           func() time.Time // nil: time.Now
	Log           *slog.Logger     // nil: slog.Default()
	SecureCookies bool             // the service is reached over HTTPS: secure cookies and HSTS
	Heartbeat     time.Duration    // interval of live streams; 0: 15 s
	RatePerSecond float64          // rate limit per token, with a burst of 4 s; 0: 2,000
	Version       string           // reported by /healthz and /readyz

	PasswordCost    *argon2id.Params // nil: 64 MiB, three passes; tests use less
	Mail            bool             // a mail server is set up
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
	sessions     *scs.SessionManager
	engine       *gin.Engine
	handler      http.Handler // engine with compression
	limits       *limiter
	signIns      *limiter
	pairings     *limiter // pairing requests per client address
	claims       *limiter // pairing claims per client address
	codes        *limiter // wrong pairing codes per token
	streams      streamCloser
	feeds        feeds
	backoff      backoff
	dummyHash    func() string // compared with when there is no password, for equal timing
	hashSlots    chan struct{} // bounds concurrent password hashing
	computeSlots chan struct{} // bounds concurrent computations
	closing      chan struct{} // closed on shutdown, to end live streams
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
	s := &Server{
		Config:       cfg,
		sessions:     newSessions(cfg),
		limits:       newLimiter(cfg.RatePerSecond, int(max(1, 4*cfg.RatePerSecond)), cfg.Now),
		signIns:      newLimiter(0.5, 20, cfg.Now),
		pairings:     newLimiter(0.2, 30, cfg.Now),
		claims:       newLimiter(20, 200, cfg.Now),
		codes:        newLimiter(0.1, 10, cfg.Now),
		backoff:      backoff{now: cfg.Now},
		feeds:        feeds{store: cfg.Store, maxAge: cfg.Heartbeat},
		dummyHash:    newDummyHash(cfg.PasswordCost),
		hashSlots:    make(chan struct{}, maxConcurrentHashes),
		computeSlots: make(chan struct{}, runtime.GOMAXPROCS(0)),
		closing:      make(chan struct{}),
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

// Serve serves requests on l until ctx ends. It then closes l, ends live streams and waits up to grace for running requests; if some
// are still running, it closes their connections and returns an error.
func (s *Server) Serve(ctx context.Context, l net.Listener, grace time.Duration) error {
	srv := &http.Server{
		Handler: s.handler, ReadHeaderTimeout: headerTimeout, ReadTimeout: readTimeout, IdleTimeout: idleTimeout,
		ErrorLog: slog.NewLogLogger(s.Log.Handler(), slog.LevelWarn),
	}
	done := make(chan error, 1)
	go func() { done <- srv.Serve(l) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	close(s.closing)
	wait, cancel := context.WithTimeout(context.WithoutCancel(ctx), grace)
	defer cancel()
	err := srv.Shutdown(wait)
	if err != nil {
		err = errors.Join(err, srv.Close())
	}
	if served := <-done; !errors.Is(served, http.ErrServerClosed) {
		err = errors.Join(err, served)
	}
	return err
}

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

	"hotday/models"
)

// Config is what a Server is made of. Store and Sessions are needed.
type Config struct {
	Store         models.Store
	Sessions      models.SessionStore
	Now           func() time.Time // nil: time.Now
	Log           *slog.Logger     // nil: slog.Default()
	SecureCookies bool             // the service is reached by HTTPS: cookies only there, and HSTS
	Heartbeat     time.Duration    // of live streams; 0: 15 s
	RatePerSecond float64          // requests of one token; 0: 2,000, with bursts of 4 s' worth
	Version       string           // shown by /healthz

	PasswordCost    *argon2id.Params // nil: 64 MiB and three passes; tests take less
	PrivateWebhooks bool             // webhooks may go to addresses of this machine and of private networks, and by http
	// Example returns a shop that a new one may be copied from, around a time; nil: there is none.
	Example func(now time.Time) models.Setup
}

// Server answers HTTP requests.
type Server struct {
	Config
	sessions *scs.SessionManager
	engine   *gin.Engine
	handler  http.Handler // the engine with its answers packed
	limits   *limiter
	signIns  *limiter
	pairings *limiter // of an address, how often it may ask for a pairing
	claims   *limiter // of an address, how often its screens may ask whether they are paired
	codes    *limiter // of a token, how often it may type a wrong code
	ended    endings
	feeds    feeds
	backoff  backoff
	nobody   func() string // a hash that no password has
	hashing  chan struct{} // one place for each password that may be hashed at a time
	compute  chan struct{} // one place for each plan or search that may be computed at a time
	closing  chan struct{} // closed when the server shuts down: live streams end
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
		cfg.RatePerSecond = 2000 // a program that loads a season of counts is welcome, one that runs wild is not
	}
	if cfg.PasswordCost == nil {
		cfg.PasswordCost = defaultPasswordCost
	}
	s := &Server{
		Config:   cfg,
		sessions: newSessions(cfg),
		limits:   newLimiter(cfg.RatePerSecond, int(max(1, 4*cfg.RatePerSecond)), cfg.Now),
		signIns:  newLimiter(0.5, 20, cfg.Now),
		pairings: newLimiter(0.2, 30, cfg.Now),
		claims:   newLimiter(20, 200, cfg.Now),
		codes:    newLimiter(0.1, 10, cfg.Now),
		backoff:  backoff{now: cfg.Now},
		feeds:    feeds{store: cfg.Store, every: cfg.Heartbeat},
		nobody:   nobodyHash(cfg.PasswordCost),
		hashing:  make(chan struct{}, hashesAtOnce),
		compute:  make(chan struct{}, runtime.GOMAXPROCS(0)),
		closing:  make(chan struct{}),
	}
	s.engine = s.router()
	s.handler = compressed(s.engine)
	return s
}

// Handler returns what answers requests.
func (s *Server) Handler() http.Handler { return s.handler }

// Limits of one connection. Bodies go up to 16 MiB over slow lines; answers have no limit, since live streams stay open.
const (
	headerTimeout = 10 * time.Second
	readTimeout   = 2 * time.Minute
	idleTimeout   = 2 * time.Minute
)

// Serve answers on l until ctx ends. Then it takes no new requests, ends live streams, lets running requests finish for at most
// grace, and returns; requests that still run after that are cut off and reported as an error.
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

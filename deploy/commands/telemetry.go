package commands

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"runtime"
	"strconv"
	"time"

	"go.opentelemetry.io/otel/trace"

	"hotday/deploy/telemetry"
	"hotday/models/store"
)

// observed is how whoever runs the service sees what it does. The zero value shows nothing.
type observed struct {
	metrics  *telemetry.Metrics
	listener net.Listener // of the metrics
	traces   trace.TracerProvider
	end      func(context.Context) error // of the traces
}

// observe opens the port of the metrics, if there is to be one, and sets up the traces that the environment asks for.
func observe(ctx context.Context, metricsAddress string, log *slog.Logger) (o observed, err error) {
	if o.traces, o.end, err = telemetry.Traces(ctx, os.Getenv, BuiltFrom(), log); err != nil || metricsAddress == "" {
		return o, err
	}
	about, err := store.Describe()
	if err != nil {
		return o, err
	}
	if o.listener, err = (&net.ListenConfig{}).Listen(ctx, "tcp", metricsAddress); err != nil {
		return o, fmt.Errorf("listen for --metrics: %w", err)
	}
	o.metrics = telemetry.NewMetrics(telemetry.Build{Version: BuiltFrom(), Commit: commit(), Go: runtime.Version(),
		SQLite: about.SQLite + " " + about.Driver, Schema: strconv.Itoa(about.Schema)})
	return o, nil
}

// serve answers with the metrics until ctx ends. They have a port of their own, since they are for whoever runs the service and have no
// sign-in.
func (o observed) serve(ctx context.Context) error {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", o.metrics.Handler())
	srv := &http.Server{Handler: mux, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: time.Minute, IdleTimeout: 2 * time.Minute}
	stop := context.AfterFunc(ctx, func() { _ = srv.Close() }) // nobody waits for a scrape
	defer stop()
	if err := srv.Serve(o.listener); !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve the metrics: %w", err)
	}
	return nil
}

// close closes the port and sends the last traces.
func (o observed) close(ctx context.Context) error {
	var err error
	if o.listener != nil {
		if err = o.listener.Close(); errors.Is(err, net.ErrClosed) {
			err = nil // closed by serve
		}
	}
	if o.end != nil {
		err = errors.Join(err, o.end(ctx))
	}
	return err
}

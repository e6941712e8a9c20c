package telemetry

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"go.opentelemetry.io/otel"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/exporters/otlp/otlptrace/otlptracehttp"
	"go.opentelemetry.io/otel/sdk/resource"
	sdktrace "go.opentelemetry.io/otel/sdk/trace"
	"go.opentelemetry.io/otel/trace"
)

// flushWithin bounds the sending of the last spans at shutdown.
const flushWithin = 3 * time.Second

// Traces returns a provider that sends spans to the endpoint in OpenTelemetry's standard environment variables
// (OTEL_EXPORTER_OTLP_ENDPOINT or OTEL_EXPORTER_OTLP_TRACES_ENDPOINT, with their headers, certificates, samplers and resource
// attributes), over HTTP, and a function to end it. Without an endpoint, or with OTEL_SDK_DISABLED=true, the provider is nil and nothing
// is sent. getenv is os.Getenv.
func Traces(ctx context.Context, getenv func(string) string, version string, log *slog.Logger) (trace.TracerProvider, func(context.Context) error, error) {
	none := func(context.Context) error { return nil }
	if (getenv("OTEL_EXPORTER_OTLP_ENDPOINT") == "" && getenv("OTEL_EXPORTER_OTLP_TRACES_ENDPOINT") == "") || getenv("OTEL_SDK_DISABLED") == "true" || getenv("OTEL_TRACES_EXPORTER") == "none" {
		return nil, none, nil
	}
	for _, name := range []string{"OTEL_EXPORTER_OTLP_TRACES_PROTOCOL", "OTEL_EXPORTER_OTLP_PROTOCOL"} {
		if p := getenv(name); p != "" && p != "http/protobuf" {
			return nil, none, fmt.Errorf("%s=%s is not supported: traces are sent as http/protobuf", name, p)
		}
	}
	exporter, err := otlptracehttp.New(ctx)
	if err != nil {
		return nil, none, fmt.Errorf("set up the export of traces: %w", err)
	}
	about, err := resource.New(ctx, resource.WithAttributes(attribute.String("service.name", "hotday"), attribute.String("service.version", version)), resource.WithFromEnv())
	if err != nil {
		return nil, none, errors.Join(fmt.Errorf("set up traces: %w", err), exporter.Shutdown(ctx))
	}
	otel.SetErrorHandler(otel.ErrorHandlerFunc(func(err error) { log.Warn("traces not sent", "error", err) }))
	provider := sdktrace.NewTracerProvider(sdktrace.WithBatcher(exporter), sdktrace.WithResource(about))
	return provider, func(ctx context.Context) error {
		flush, cancel := context.WithTimeout(context.WithoutCancel(ctx), flushWithin)
		defer cancel()
		if err := provider.Shutdown(flush); err != nil {
			log.Warn("the last traces were not sent", "error", err)
		}
		return nil
	}, nil
}

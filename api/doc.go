// Package api is hotday's HTTP layer: the REST resources under /v1, sign-in, live events and the OpenAPI contract. Package
// api/web adds the pages.
//
// A request passes through request ID and logging (requestlog.go), panic recovery (problem.go), security headers (headers.go) and
// authentication (auth.go, session.go), then the route table (routes.go), which gives each route's scopes, whether the token must
// belong to the site in the path, and the maximum body size. Handlers return an error; only problem.go maps errors to statuses.
//
// Each write runs in one models.Store.Within transaction together with its live event and the jobs it queues.
package api

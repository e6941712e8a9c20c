// Package api is the HTTP side of hotday: the REST resources under /v1, signing in, live events, and the contract; package
// api/web adds the pages.
//
// The way of a request: request id and log (requestlog.go), recovery (problem.go), security headers (headers.go), who is asking
// (auth.go, session.go), and then the one table of routes (routes.go), which says for each path which scopes may use it, at
// which site, and how large a body may be. Handlers return an error; problem.go alone turns errors into statuses.
//
// Every write happens in one models.Store.Within together with the live event that tells screens and the jobs that it asks for.
package api

// Package outside is how jobs reach addresses that users have typed: only those on the public internet, unless whoever runs the
// service allows others.
package outside

import (
	"errors"
	"net"
	"net/http"
	"net/url"
	"syscall"
	"time"

	"hotday/models"
)

// Errors of addresses that are not allowed.
var (
	ErrNotPublic = errors.New("addresses of this machine and of private networks are not allowed")
	ErrNotHTTPS  = errors.New("the address does not use https")
	ErrHost      = errors.New("the operator of the service does not allow this host")
)

// Client returns a client that follows no redirects, keeps no cookies, uses no proxy, and connects only to public addresses unless
// private ones are allowed. The check is made on the address that is dialled, so DNS rebinding cannot bypass it. timeout is that of one
// request including its response.
func Client(private bool, timeout time.Duration) *http.Client {
	dialer := &net.Dialer{Timeout: 5 * time.Second, Control: func(_, address string, _ syscall.RawConn) error {
		host, _, err := net.SplitHostPort(address)
		if err != nil {
			return err
		}
		if !private && !models.PublicAddress(net.ParseIP(host)) {
			return ErrNotPublic
		}
		return nil
	}}
	return &http.Client{
		Timeout:       timeout,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{DialContext: dialer.DialContext, TLSHandshakeTimeout: 5 * time.Second, ResponseHeaderTimeout: 10 * time.Second,
			MaxResponseHeaderBytes: 16 << 10, DisableKeepAlives: true},
	}
}

// CheckScheme returns ErrNotHTTPS for an address that is not encrypted, unless private addresses are allowed.
func CheckScheme(u *url.URL, private bool) error {
	if u.Scheme != "https" && !private {
		return ErrNotHTTPS
	}
	return nil
}

// CheckHost returns ErrHost for an address whose host is not in the operator's list.
func CheckHost(u *url.URL, allowed []string) error {
	if !models.AllowedHost(allowed, u.Hostname()) {
		return ErrHost
	}
	return nil
}

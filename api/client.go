package api

import (
	"net/http"
	"net/netip"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
)

// client is where a request comes from and how its browser reached the service.
type client struct {
	addr  netip.Addr // zero if the connection has no IP address
	https bool
}

const clientKey = "hotday.client"

// clientOf returns the request's client; it is worked out once per request.
func (s *Server) clientOf(c *gin.Context) client {
	if v, ok := c.Get(clientKey); ok {
		if known, ok := v.(client); ok {
			return known
		}
	}
	x := clientThrough(c.Request, s.TrustedProxies)
	x.https = x.https || s.SecureCookies
	c.Set(clientKey, x)
	return x
}

// clientThrough follows X-Forwarded-For from the right, where the nearest proxy has written, and returns the first address that is not
// a trusted proxy's. Everything to the left of it is the client's own claim. From an untrusted connection the headers are ignored.
func clientThrough(r *http.Request, trusted []netip.Prefix) client {
	peer, err := parseHop(r.RemoteAddr)
	x := client{addr: peer, https: r.TLS != nil}
	if err != nil || !isTrusted(peer, trusted) {
		return x
	}
	if proto, _, _ := strings.Cut(r.Header.Get("X-Forwarded-Proto"), ","); proto != "" {
		x.https = strings.EqualFold(strings.TrimSpace(proto), "https")
	}
	hops := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	for _, text := range slices.Backward(hops) {
		hop, err := parseHop(strings.TrimSpace(text))
		if err != nil {
			break // not written by a proxy that can be trusted
		}
		if x.addr = hop; !isTrusted(hop, trusted) {
			break
		}
	}
	return x
}

func isTrusted(a netip.Addr, trusted []netip.Prefix) bool {
	return slices.ContainsFunc(trusted, func(p netip.Prefix) bool { return p.Contains(a) })
}

// parseHop parses an address with or without a port.
func parseHop(text string) (netip.Addr, error) {
	if at, err := netip.ParseAddrPort(text); err == nil {
		return at.Addr().Unmap().WithZone(""), nil
	}
	a, err := netip.ParseAddr(strings.Trim(text, "[]"))
	return a.Unmap().WithZone(""), err
}

// address is the client's address as sessions and logs show it, "" if it has none.
func (s *Server) address(c *gin.Context) string {
	if a := s.clientOf(c).addr; a.IsValid() {
		return a.String()
	}
	return ""
}

// limitKey is the client as limits count it.
func (s *Server) limitKey(c *gin.Context) string { return networkOf(s.clientOf(c).addr) }

// networkOf is an IPv4 address or an IPv6 /64, since one customer has at least that many addresses.
func networkOf(a netip.Addr) string {
	if a.Is6() {
		return netip.PrefixFrom(a, 64).Masked().String()
	}
	return a.String()
}

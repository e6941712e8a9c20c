package api

import (
	"net"
	"net/netip"
	"sync"
	"time"
)

// limitedListener accepts connections up to a number in all, and of one address; the others are closed at once. Those of trusted proxies
// count in all only, since they are of many clients.
type limitedListener struct {
	net.Listener
	most, ofOne int
	trusted     []netip.Prefix

	mu   sync.Mutex
	open int
	by   map[string]int
}

func (l *limitedListener) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		key := l.keyOf(c)
		if l.admit(key) {
			return &limitedConn{Conn: c, closed: sync.OnceFunc(func() { l.left(key) })}, nil
		}
		_ = c.SetDeadline(time.Now())
		_ = c.Close()
	}
}

// keyOf is the address by which a connection counts, "" for a trusted proxy.
func (l *limitedListener) keyOf(c net.Conn) string {
	peer, err := parseHop(c.RemoteAddr().String())
	if err != nil || isTrusted(peer, l.trusted) {
		return ""
	}
	return networkOf(peer)
}

func (l *limitedListener) admit(key string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.open >= l.most || (key != "" && l.by[key] >= l.ofOne) {
		return false
	}
	if l.by == nil {
		l.by = map[string]int{}
	}
	l.open++
	l.by[key]++
	return true
}

func (l *limitedListener) left(key string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.open--
	if l.by[key]--; l.by[key] == 0 {
		delete(l.by, key)
	}
}

type limitedConn struct {
	net.Conn
	closed func()
}

func (c *limitedConn) Close() error {
	c.closed()
	return c.Conn.Close()
}

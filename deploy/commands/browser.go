package commands

import (
	"context"
	"crypto/subtle"
	"os/exec"
	"runtime"
	"sync"
)

// oneTimeLink is a link that signs in once, with an access key. The service runs before there is a key.
type oneTimeLink struct {
	code string
	mu   sync.Mutex
	key  string // "" before it is set, and once it is used
}

// set sets the access key.
func (l *oneTimeLink) set(key string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.key = key
}

// use returns the access key for the link's code, the first time.
func (l *oneTimeLink) use(code string) (key string, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.key == "" || subtle.ConstantTimeCompare([]byte(code), []byte(l.code)) != 1 {
		return "", false
	}
	key, l.key = l.key, ""
	return key, true
}

// openBrowser opens an address in the person's browser.
func openBrowser(ctx context.Context, address string) error {
	name, args := "xdg-open", []string{address}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	}
	return exec.CommandContext(context.WithoutCancel(ctx), name, args...).Start()
}

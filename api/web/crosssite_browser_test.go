package web_test

import (
	"fmt"
	"html"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A page of another site signs its visitor in at this one, with a key of its own, to collect what they then enter.
func TestAnotherSiteCannotSignAVisitorIn(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	other := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		fmt.Fprintf(w, `<form method="post" action="%s/sign-in"><input name="key" value="%s"><button id="go">Prize</button></form>`, s.base, html.EscapeString(s.key))
	}))
	defer other.Close()
	b := open(t, ctx, strings.Replace(other.URL, "127.0.0.1", "localhost", 1)) // another site than 127.0.0.1
	b.eval(`document.getElementById("go").click()`)
	b.until(`location.pathname === "/sign-in" && document.body.innerText.includes("another site")`)
	b.goTo(s.base + "/")
	b.until(`location.pathname === "/sign-in"`)
	require.NotContains(t, b.eval(`document.body.innerText`), "Weekend")
	b.signIn(s) // on the page itself it works
}

package api

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestNegotiate(t *testing.T) {
	t.Parallel()
	for accept, want := range map[string]string{
		"":                               asJSON,
		"*/*":                            asJSON,
		"application/json":               asJSON,
		"text/html":                      asHTML,
		"text/*":                         asHTML,
		"text/html,application/json":     asJSON, // a tie: the first offered
		"application/json;q=0.2, text/*": asHTML,
		"text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8": asHTML, // a browser
		"*/*;q=0.1, application/json;q=0":                                 asHTML,
		"image/png":                                                       "",
		"application/pdf":                                                 "",
		"text/html;q=0":                                                   "",
		"nonsense":                                                        "",
	} {
		media, ok := negotiate([]string{accept}, asJSON, asHTML)
		require.Equal(t, want, media, accept)
		require.Equal(t, want != "", ok, accept)
	}
}

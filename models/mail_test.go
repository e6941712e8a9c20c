package models

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestMailAddresses(t *testing.T) {
	t.Parallel()
	for typed, want := range map[string]string{
		"ada@example.com":                        "ada@example.com",
		" Ada.Brook+x@EXAMPLE.com ":              "Ada.Brook+x@example.com",
		"o'neil@xn--caf-dma.example":             "o'neil@xn--caf-dma.example",
		"ada":                                    "",
		"ada@example":                            "",
		"ada@127.0.0.1":                          "",
		"ada@[127.0.0.1]":                        "",
		"Ada <ada@example.com>":                  "",
		"ada@example.com, b@c.com":               "",
		"ada@example.com\r\nBcc: e@x.y":          "",
		"ada\n@example.com":                      "",
		`"a b"@example.com`:                      "",
		"ada@exa mple.com":                       "",
		"ada@@example.com":                       "",
		"@example.com":                           "",
		"ada@-example.com":                       "",
		"ädä@example.com":                        "",
		strings.Repeat("a", 65) + "@example.com": "",
		"ada@" + strings.Repeat(strings.Repeat("a", 60)+".", 5) + "com": "",
		"": "",
	} {
		got, ok := MailAddress(typed)
		require.Equal(t, want, got, "%q", typed)
		require.Equal(t, want != "", ok, "%q", typed)
	}
}

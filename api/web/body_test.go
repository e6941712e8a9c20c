package web_test

import (
	"io"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

func body(t *testing.T, r *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	return string(b)
}

package api

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
)

// answer writes v as JSON. It is marshalled whole before the first byte goes out, so that a value that cannot be JSON is an
// error and not half a document.
func answer(c *gin.Context, status int, v any) error {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return fmt.Errorf("write the answer: %w", err)
	}
	c.Data(status, "application/json", buf.Bytes())
	return nil
}

func setRetryAfter(c *gin.Context, seconds int) { c.Header("Retry-After", strconv.Itoa(seconds)) }

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

func noContent(c *gin.Context) error {
	c.Status(http.StatusNoContent)
	c.Writer.WriteHeaderNow()
	return nil
}

// indented writes a value as JSON for people.
func indented(v any) string {
	raw, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return ""
	}
	return string(raw)
}

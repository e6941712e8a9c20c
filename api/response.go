package api

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"mime"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
)

// writeJSON encodes v before sending the first byte, so that a value that cannot be encoded gives an error, not a truncated response.
func writeJSON(c *gin.Context, status int, v any) error {
	body, err := encodeJSON(v)
	if err == nil {
		c.Data(status, asJSON, body)
	}
	return err
}

func encodeJSON(v any) ([]byte, error) {
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, fmt.Errorf("encode the response: %w", err)
	}
	return buf.Bytes(), nil
}

// setRetryAfter sets Retry-After to a time in whole seconds, rounded up, at least one, and returns them.
func setRetryAfter(c *gin.Context, wait time.Duration) (seconds int) {
	seconds = max(1, int(math.Ceil(wait.Seconds())))
	c.Header("Retry-After", strconv.Itoa(seconds))
	return seconds
}

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

func noContent(c *gin.Context) error {
	c.Status(http.StatusNoContent)
	c.Writer.WriteHeaderNow()
	return nil
}

// indented returns v as indented JSON, "" if it cannot be encoded.
func indented(v any) string {
	raw, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return ""
	}
	return string(raw)
}

// fileNamed is the value of Content-Disposition for a file that a browser shows inline or saves as an attachment.
func fileNamed(disposition, name string) string {
	return mime.FormatMediaType(disposition, map[string]string{"filename": name})
}

// writeFile sends a file for the browser to show inline; name is used if it is saved. It returns err if that is not nil, so that it
// can take a renderer's results directly.
func writeFile(c *gin.Context, media, name string, file []byte, err error) error {
	if err != nil {
		return err
	}
	c.Header("Content-Disposition", fileNamed("inline", name))
	c.Data(http.StatusOK, media, file)
	return nil
}

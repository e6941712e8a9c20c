package api

import (
	"bytes"
	"errors"
	"io"
	"mime"
	"net/http"
	"os"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// Maximum body sizes, bytes.
const (
	kib = 1 << 10
	mib = 1 << 20

	strangersBody = 16 * kib // without sign-in
	smallBody     = 256 * kib
	rowsBody      = 2 * mib // 5,000 rows of any list
	documentBody  = 4 * mib // set-ups, calculations, previews
	largeBody     = models.MaxDocument
)

// readJSON reads the body of a request that must be JSON, for models.DecodeStrict. The route has bounded its size.
func readJSON(c *gin.Context) ([]byte, error) {
	ct := c.GetHeader("Content-Type")
	if ct != "" {
		kind, params, err := mime.ParseMediaType(ct)
		json := kind == "application/json" || (strings.HasPrefix(kind, "application/") && strings.HasSuffix(kind, "+json"))
		if charset := params["charset"]; err != nil || !json || (charset != "" && !strings.EqualFold(charset, "utf-8")) {
			return nil, notJSON(ct)
		}
	}
	data, err := readBody(c, models.MaxDecoded)
	if err == nil && ct == "" && len(data) > 0 { // browsers can send such a body to another site
		return nil, notJSON("no Content-Type")
	}
	return data, err
}

// readBody reads a body of any media type, and reserves the memory that its contents take once they are decoded.
func readBody(c *gin.Context, decoded func(bytes int64) int64) ([]byte, error) {
	data, err := receive(c.Request)
	if err != nil {
		return nil, bodyError(err)
	}
	if b := bodyOf(c); b != nil {
		err = b.received(decoded(int64(len(data))))
	}
	return data, err
}

// receive reads the body into one piece of memory where its length is known.
func receive(r *http.Request) ([]byte, error) {
	if r.ContentLength < 0 {
		return io.ReadAll(r.Body)
	}
	data := make([]byte, r.ContentLength)
	_, err := io.ReadFull(r.Body, data)
	return data, err
}

func bodyError(err error) error {
	var over *http.MaxBytesError
	switch {
	case errors.As(err, &over):
		return tooLarge(over.Limit)
	case errors.Is(err, errNotGzip):
		return notGzip()
	case errors.Is(err, os.ErrDeadlineExceeded):
		return models.Errorf(models.CodeMalformed, "the body came too slowly; send at least %d KiB a second", slowest/kib)
	}
	return models.Errorf(models.CodeMalformed, "the body is incomplete")
}

func tooLarge(limit int64) error {
	accepted := "at most "
	if limit%mib == 0 {
		accepted += itoa(limit/mib) + " MiB"
	} else {
		accepted += itoa(limit/kib) + " KiB"
	}
	return &models.Error{Code: models.CodeTooLarge, Message: "the body is too large",
		Fields: []models.FieldError{{Detail: "the body exceeds this endpoint's limit", Accepted: accepted}}}
}

// decode reads the body into the struct that v points to. Unknown or missing fields and wrong types are CodeMalformed.
func decode(c *gin.Context, v any) error {
	data, err := readJSON(c)
	if err != nil {
		return err
	}
	return models.DecodeStrict(data, v)
}

// decodeValid decodes and then checks the validator tags.
func decodeValid(c *gin.Context, v any) error {
	if err := decode(c, v); err != nil {
		return err
	}
	return models.ValidateStruct(v)
}

// takesForm reports whether a page is sent a form; the paths of the API take none.
func takesForm(c *gin.Context) bool {
	if strings.HasPrefix(c.Request.URL.Path, "/v1/") {
		return false
	}
	kind, _, err := mime.ParseMediaType(c.GetHeader("Content-Type"))
	return err == nil && (kind == "application/x-www-form-urlencoded" || kind == "multipart/form-data")
}

// requireEmptyBody accepts no body, whatever its Content-Type, or an empty JSON object.
func requireEmptyBody(c *gin.Context) error {
	first := make([]byte, 1)
	n, err := io.ReadFull(c.Request.Body, first)
	if n == 0 && errors.Is(err, io.EOF) {
		return nil
	}
	c.Request.Body = io.NopCloser(io.MultiReader(bytes.NewReader(first[:n]), c.Request.Body))
	return decode(c, &struct{}{})
}

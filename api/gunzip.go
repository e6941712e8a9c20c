package api

import (
	"errors"
	"io"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/klauspost/compress/flate"
	"github.com/klauspost/compress/gzip"

	"hotday/models"
)

// errNotGzip is the error of a body that says it is gzip and is not.
var errNotGzip = errors.New("not gzip")

// gunzip unpacks a body as it is read.
type gunzip struct {
	packed io.ReadCloser
	z      *gzip.Reader
}

func (g *gunzip) Read(p []byte) (n int, err error) {
	if g.z == nil {
		if g.z, err = gzip.NewReader(g.packed); err != nil {
			return 0, unpacking(err)
		}
	}
	n, err = g.z.Read(p)
	return n, unpacking(err)
}

func (g *gunzip) Close() error { return g.packed.Close() }

// unpacking tells faults of the packed bytes from those of receiving them.
func unpacking(err error) error {
	var corrupt flate.CorruptInputError
	if errors.Is(err, gzip.ErrHeader) || errors.Is(err, gzip.ErrChecksum) || errors.As(err, &corrupt) {
		return errNotGzip
	}
	return err
}

// unpack makes the rest of the request read a body with Content-Encoding: gzip unpacked; limit counts unpacked bytes. Another encoding is
// an unsupported media type.
func unpack(c *gin.Context, limit int64) (packed bool, err error) {
	switch enc := c.GetHeader("Content-Encoding"); {
	case enc == "" || strings.EqualFold(enc, "identity"):
		return false, nil
	case !strings.EqualFold(enc, "gzip") && !strings.EqualFold(enc, "x-gzip"):
		c.Header("Accept-Encoding", "gzip") // RFC 9110, 12.5.3
		return false, unsupportedMediaType("Content-Encoding "+enc, "gzip, or no Content-Encoding")
	}
	c.Request.Header.Del("Content-Encoding")
	c.Request.ContentLength = -1
	c.Request.Body = http.MaxBytesReader(c.Writer, &gunzip{packed: c.Request.Body}, limit)
	return true, nil
}

func notGzip() error {
	return models.Errorf(models.CodeMalformed, "the body is not the gzip that its Content-Encoding says")
}

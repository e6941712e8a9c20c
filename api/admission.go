package api

import (
	"net/http"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// A body may take bodyGrace and the time of slowest to arrive, so that no slow sender holds its part of the budget for long.
const (
	bodyGrace = 10 * time.Second
	slowest   = 256 * kib // bytes a second
)

const bodyKey = "hotday.body"

// body is what a request's body has of the budgets.
type body struct {
	s        *Server
	c        *gin.Context
	deadline *http.ResponseController
	releases []func()
}

func bodyOf(c *gin.Context) *body {
	v, _ := c.Get(bodyKey)
	b, _ := v.(*body)
	return b
}

// admitBody limits the request's body and reserves the memory to receive it, after the caller is known and before the first byte is
// read. done returns what the body has.
func (s *Server) admitBody(c *gin.Context, limit int64) (done func(), err error) {
	n := c.Request.ContentLength
	if n > limit {
		return nil, tooLarge(limit)
	}
	c.Request.Body = http.MaxBytesReader(c.Writer, c.Request.Body, limit)
	if packed, err := unpack(c, limit); err != nil {
		return nil, err
	} else if packed && n != 0 {
		n = -1 // nobody knows how long it will be
	}
	if n == 0 || bodyOf(c) != nil { // the form of a session has been admitted
		return func() {}, nil
	}
	if n < 0 {
		n = limit
	}
	b := &body{s: s, c: c, deadline: http.NewResponseController(c.Writer)}
	if n > smallDocument {
		if err := b.reserve(&s.budgets.reading, n); err != nil {
			return nil, err
		}
	}
	_ = b.deadline.SetReadDeadline(time.Now().Add(bodyGrace + time.Duration(n)*time.Second/slowest)) // best effort: not every connection has one
	c.Set(bodyKey, b)
	return b.release, nil
}

// received reserves the memory of a body's contents, and lets the request take as long as it needs.
func (b *body) received(decoded int64) error {
	_ = b.deadline.SetReadDeadline(time.Time{})
	if decoded > models.MaxDecoded(smallDocument) {
		return b.reserve(&b.s.budgets.decoding, decoded)
	}
	return b.reserve(&b.s.budgets.small, decoded)
}

func (b *body) reserve(from *budget, n int64) error {
	release, err := b.s.reserve(b.c, from, n)
	if err == nil {
		b.releases = append(b.releases, release)
	}
	return err
}

func (b *body) release() {
	for _, release := range b.releases {
		release()
	}
}

// admitForm admits and reads a form. Files in it are workbooks, which unpack to many times their size.
func (s *Server) admitForm(c *gin.Context) (done func(), err error) {
	limit := int64(strangersBody)
	if _, known := callerToken(c); known {
		limit = rowsBody // the Settings pages post a whole set-up
	}
	if done, err = s.admitBody(c, limit); err != nil || bodyOf(c) == nil {
		return done, err
	}
	if strings.HasPrefix(c.ContentType(), "multipart/") {
		err = c.Request.ParseMultipartForm(limit)
	} else {
		err = c.Request.ParseForm()
	}
	if err != nil {
		done()
		return nil, bodyError(err)
	}
	memory := models.MaxDecoded(max(0, c.Request.ContentLength))
	if c.Request.MultipartForm != nil && len(c.Request.MultipartForm.File) > 0 {
		memory = maxDecoding
	}
	if err := bodyOf(c).received(memory); err != nil {
		done()
		return nil, err
	}
	return done, nil
}

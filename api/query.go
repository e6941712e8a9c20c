package api

import (
	"encoding/base64"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// query reads the query parameters. Like a body, an unknown one is an error, and all errors are reported together, each with the
// pointer "/name".
type query struct {
	c      *gin.Context
	errors []models.FieldError
	code   models.Code
}

// params starts a query that accepts the named parameters.
func params(c *gin.Context, names ...string) *query {
	q := &query{c: c, code: models.CodeInvalid}
	given := c.Request.URL.Query()
	keys := make([]string, 0, len(given))
	for k := range given {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	for _, k := range keys {
		accepted := "no parameters"
		if len(names) > 0 {
			accepted = "one of " + strings.Join(names, ", ")
		}
		if !slices.Contains(names, k) {
			q.malformed(k, accepted, "unknown parameter")
		} else if len(given[k]) > 1 {
			q.malformed(k, "one value", "the parameter is given more than once")
		}
	}
	return q
}

func (q *query) malformed(name, accepted, detail string) {
	q.code = models.CodeMalformed
	q.invalid(name, accepted, detail)
}

func (q *query) invalid(name, accepted, detail string) {
	q.errors = append(q.errors, models.FieldError{Pointer: "/" + name, Detail: detail, Accepted: accepted})
}

func (q *query) err() error {
	if len(q.errors) == 0 {
		return nil
	}
	return &models.Error{Code: q.code, Message: "invalid query parameters", Fields: q.errors}
}

func (q *query) text(name string) string { return q.c.Query(name) }

// boolean reads true or false; the default is false.
func (q *query) boolean(name string) bool {
	switch raw := q.c.Query(name); raw {
	case "true":
		return true
	case "", "false":
	default:
		q.malformed(name, "true or false", strconv.Quote(raw)+" is not a boolean")
	}
	return false
}

// time reads an RFC 3339 time, or a date as its first instant in loc.
func (q *query) time(name string, loc *time.Location, fallback time.Time) time.Time {
	raw := strings.ReplaceAll(q.c.Query(name), " ", "+") // an unescaped "+" arrives as a space
	if raw == "" {
		return fallback
	}
	t, err := time.Parse(time.RFC3339, raw)
	var d models.Date
	if err != nil && d.UnmarshalText([]byte(raw)) == nil {
		t, err = d.At(0, loc), nil
	}
	switch {
	case err != nil:
		q.malformed(name, "a time such as 2026-07-11T07:00:00+02:00 (with + written %2B), or a date such as 2026-07-11", strconv.Quote(raw)+" is not a time or a date")
	case !models.ValidInstant(t):
		q.malformed(name, models.InstantRange, raw+" is out of range")
	default:
		return t
	}
	return fallback
}

// instant reads a required time.
func (q *query) instant(name string) time.Time {
	if q.c.Query(name) == "" {
		q.invalid(name, "a time such as 2026-07-11T07:00:00+02:00 (with + written %2B)", "it is missing")
	}
	return q.time(name, time.UTC, time.Time{})
}

func (q *query) date(name string, fallback models.Date) models.Date {
	raw := q.c.Query(name)
	if raw == "" {
		return fallback
	}
	var d models.Date
	if d.UnmarshalText([]byte(raw)) != nil {
		q.malformed(name, "a date that exists, such as 2026-07-11", strconv.Quote(raw)+" is not a date")
		return fallback
	}
	return d
}

// integer reads an integer from low to high.
func (q *query) integer(name string, fallback, low, high int) int {
	raw := q.c.Query(name)
	if raw == "" {
		return fallback
	}
	accepted := "a whole number from " + strconv.Itoa(low) + " to " + strconv.Itoa(high)
	n, err := strconv.Atoi(raw)
	switch {
	case err != nil:
		q.malformed(name, accepted, strconv.Quote(raw)+" is not a whole number")
	case n < low || n > high:
		q.invalid(name, accepted, raw+" is out of range")
	default:
		return n
	}
	return fallback
}

const anyLimit = 1 << 30

// page reads limit and cursor. A limit above models.MaxLimit is lowered to it, as the contract promises.
func (q *query) page() models.Page {
	n := q.integer("limit", models.DefaultLimit, 1, anyLimit)
	return models.Page{Limit: min(n, models.MaxLimit), Cursor: q.c.Query("cursor")}
}

const offsetCursor = "at:"

// paginate returns a page of rows; the cursor encodes the offset of the next one.
func paginate[T any](rows []T, p models.Page) (models.Rows[T], error) {
	at := 0
	if p.Cursor != "" {
		raw, err := base64.RawURLEncoding.DecodeString(p.Cursor)
		text, ok := strings.CutPrefix(string(raw), offsetCursor)
		n, numErr := strconv.Atoi(text)
		if err != nil || !ok || numErr != nil || n < 0 {
			return models.Rows[T]{}, models.Invalid("/cursor", "the value of next on the previous page", "not a cursor of this list")
		}
		at = min(n, len(rows))
	}
	end := min(at+p.Limit, len(rows))
	out := models.Rows[T]{Rows: append([]T{}, rows[at:end]...)}
	if end < len(rows) {
		next := base64.RawURLEncoding.EncodeToString([]byte(offsetCursor + strconv.Itoa(end)))
		out.Next = &next
	}
	return out, nil
}

// writePage writes one page of rows.
func writePage[T any](c *gin.Context, rows []T, p models.Page) error {
	out, err := paginate(rows, p)
	if err != nil {
		return err
	}
	return writeJSON(c, 200, out)
}

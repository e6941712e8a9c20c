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

// query reads the parameters after the "?". They are read like a document: an unknown one is an error, and all that is wrong is
// said at once, each under the pointer "/name".
type query struct {
	c    *gin.Context
	bad  []models.FieldError
	code models.Code
}

// params starts a query that may have the named parameters.
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
			q.unreadable(k, accepted, "unknown parameter")
		}
	}
	return q
}

func (q *query) unreadable(name, accepted, detail string) {
	q.code = models.CodeMalformed
	q.wrong(name, accepted, detail)
}

func (q *query) wrong(name, accepted, detail string) {
	q.bad = append(q.bad, models.FieldError{Pointer: "/" + name, Detail: detail, Accepted: accepted})
}

func (q *query) err() error {
	if len(q.bad) == 0 {
		return nil
	}
	return &models.Error{Code: q.code, Message: "the parameters of the address cannot be used", Fields: q.bad}
}

func (q *query) text(name string) string { return q.c.Query(name) }

// yes reads true or false; false where it is not given.
func (q *query) yes(name string) bool {
	switch raw := q.c.Query(name); raw {
	case "true":
		return true
	case "", "false":
	default:
		q.unreadable(name, "true or false", strconv.Quote(raw)+" is neither")
	}
	return false
}

// time reads an instant, or a date as the midnight that starts it in loc; preset where it is not given.
func (q *query) time(name string, loc *time.Location, preset time.Time) time.Time {
	raw := strings.ReplaceAll(q.c.Query(name), " ", "+") // a "+" that nobody escaped arrives as a space
	if raw == "" {
		return preset
	}
	t, err := time.Parse(time.RFC3339, raw)
	var d models.Date
	if err != nil && d.UnmarshalText([]byte(raw)) == nil {
		t, err = d.At(0, loc), nil
	}
	switch {
	case err != nil:
		q.unreadable(name, "a time such as 2026-07-11T07:00:00+02:00 (with + written %2B), or a date such as 2026-07-11", strconv.Quote(raw)+" is neither")
	case !models.ValidInstant(t):
		q.unreadable(name, models.InstantRange, raw+" is out of range")
	default:
		return t
	}
	return preset
}

// instant reads an instant that must be given.
func (q *query) instant(name string) time.Time {
	if q.c.Query(name) == "" {
		q.wrong(name, "a time such as 2026-07-11T07:00:00+02:00 (with + written %2B)", "it is missing")
	}
	return q.time(name, time.UTC, time.Time{})
}

func (q *query) date(name string, preset models.Date) models.Date {
	raw := q.c.Query(name)
	if raw == "" {
		return preset
	}
	var d models.Date
	if d.UnmarshalText([]byte(raw)) != nil {
		q.unreadable(name, "a date that exists, such as 2026-07-11", strconv.Quote(raw)+" is none")
		return preset
	}
	return d
}

// whole reads a whole number from least to most.
func (q *query) whole(name string, preset, least, most int) int {
	raw := q.c.Query(name)
	if raw == "" {
		return preset
	}
	accepted := "a whole number from " + strconv.Itoa(least) + " to " + strconv.Itoa(most)
	n, err := strconv.Atoi(raw)
	switch {
	case err != nil:
		q.unreadable(name, accepted, strconv.Quote(raw)+" is none")
	case n < least || n > most:
		q.wrong(name, accepted, raw+" is out of range")
	default:
		return n
	}
	return preset
}

const manyRows = 1 << 30

// page reads limit and cursor. More than the largest limit is cut, as the contract says.
func (q *query) page() models.Page {
	n := q.whole("limit", models.DefaultLimit, 1, manyRows)
	return models.Page{Limit: min(n, models.MaxLimit), Cursor: q.c.Query("cursor")}
}

const offsetCursor = "at:"

// part cuts a list that is read whole into the page asked for; the cursor holds where the next one starts.
func part[T any](rows []T, p models.Page) (models.Rows[T], error) {
	at := 0
	if p.Cursor != "" {
		raw, err := base64.RawURLEncoding.DecodeString(p.Cursor)
		text, ok := strings.CutPrefix(string(raw), offsetCursor)
		n, numErr := strconv.Atoi(text)
		if err != nil || !ok || numErr != nil || n < 0 {
			return models.Rows[T]{}, models.Invalid("/cursor", "the next value of the page before", "this list gave out no such cursor")
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

// answerPart answers the page of a list that is read whole.
func answerPart[T any](c *gin.Context, rows []T, p models.Page) error {
	out, err := part(rows, p)
	if err != nil {
		return err
	}
	return answer(c, 200, out)
}

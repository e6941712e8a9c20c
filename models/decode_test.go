package models

import (
	"encoding/json"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

type sample struct {
	Grams float64   `json:"grams"`
	Ratio float64   `json:"ratio" default:"2.1"`
	Sides int       `json:"sides" default:"2"`
	Bath  bool      `json:"bath" default:"true"`
	Day   Date      `json:"day"`
	At    time.Time `json:"at"`
	Wish  *float64  `json:"wish"`
	Parts []struct {
		From Clock `json:"from"`
	} `json:"parts"`
	Costs Costs `json:"costs" opt:"true"`
}

func TestDecodeStrictFillsDefaultsForMissingAndNull(t *testing.T) {
	t.Parallel()
	for name, doc := range map[string]string{
		"missing": `{"grams":1,"day":"2026-07-11","at":"2026-07-11T07:00:00+02:00"}`,
		"null":    `{"grams":1,"day":"2026-07-11","at":"2026-07-11T07:00:00+02:00","ratio":null,"sides":null,"bath":null,"wish":null,"parts":null,"costs":null}`,
	} {
		var s sample
		require.NoError(t, DecodeStrict([]byte(doc), &s), name)
		assert.Equal(t, 2.1, s.Ratio, name)
		assert.Equal(t, 2, s.Sides, name)
		assert.True(t, s.Bath, name)
		assert.Nil(t, s.Wish, name)
		assert.Equal(t, 1.0, s.Costs.ShortFactor, name)
	}
	var s sample
	require.NoError(t, DecodeStrict([]byte(`{"grams":1,"ratio":0,"sides":1,"bath":false,"wish":3,"day":"2026-07-11","at":"2026-07-11T07:00:00Z"}`), &s))
	assert.Zero(t, s.Ratio, "a zero that was given stays")
	assert.False(t, s.Bath)
	assert.Equal(t, 3.0, *s.Wish)
}

func TestDecodeStrictNamesEveryBadField(t *testing.T) {
	t.Parallel()
	err := DecodeStrict([]byte(`{"grams":"1 kg","day":"2026-02-30","at":"yesterday","rtio":3,"sides":1.5,"parts":[{"from":"07:00"},{"from":"7:00"}]}`), &sample{})
	var e *Error
	require.True(t, errors.As(err, &e))
	assert.Equal(t, CodeMalformed, e.Code)
	got := map[string]string{}
	for _, f := range e.Fields {
		got[f.Pointer] = f.Accepted
	}
	assert.Equal(t, map[string]string{
		"/grams": "a number", "/day": "a date that exists, written 2026-07-11",
		"/at":   "a time as in RFC 3339, with its offset: 2026-07-11T07:00:00+02:00",
		"/rtio": "one of grams, ratio, sides, bath, day, at, wish, parts, costs", "/sides": "a whole number",
		"/parts/1/from": "a wall-clock time from 00:00 to 24:00, written 07:00",
	}, got)
}

func TestDecodeStrictRefuses(t *testing.T) {
	t.Parallel()
	for name, doc := range map[string]string{
		"nothing": ``, "text": `"a"`, "list": `[]`, "null": `null`, "half": `{"grams":1`, "two documents": `{"grams":1} {}`,
		"missing field": `{"day":"2026-07-11","at":"2026-07-11T07:00:00Z"}`, "huge number": `{"grams":1e999,"day":"2026-07-11","at":"2026-07-11T07:00:00Z"}`,
		"null where needed": `{"grams":null,"day":"2026-07-11","at":"2026-07-11T07:00:00Z"}`,
	} {
		assert.Equal(t, CodeMalformed, CodeOf(DecodeStrict([]byte(doc), &sample{})), name)
	}
}

func TestPointerEscapes(t *testing.T) {
	t.Parallel()
	err := DecodeStrict([]byte(`{"grams":1,"day":"2026-07-11","at":"2026-07-11T07:00:00Z","a/b~c":1}`), &sample{})
	var e *Error
	require.True(t, errors.As(err, &e))
	assert.Equal(t, "/a~1b~0c", e.Fields[0].Pointer, "RFC 6901, section 3")
}

func FuzzDecodeStrict(f *testing.F) {
	f.Add([]byte(`{"site":{"code":"a"},"from":"2026-07-11","days":2}`))
	f.Add([]byte(`{"grams":1,"parts":[null]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var r PlanRequest
		if err := DecodeStrict(data, &r); err != nil {
			if CodeOf(err) != CodeMalformed {
				t.Fatalf("unreadable input must say so: %v", err)
			}
			return
		}
		_ = r.Validate()
		if _, err := json.Marshal(r); err != nil {
			t.Fatalf("a read request can be written: %v", err)
		}
	})
}

package models

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
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
	Costs Costs   `json:"costs" opt:"true"`
	Marks [][]int `json:"marks" validate:"max=3,dive,max=9"`
}

// sampleWith returns a document that is right but for what more adds.
func sampleWith(more string) []byte {
	return []byte(`{"grams":1,"day":"2026-07-11","at":"2026-07-11T07:00:00Z"` + more + `}`)
}

// faultsOf returns what is wrong with a document by pointer.
func faultsOf(t *testing.T, doc []byte, code Code) map[string]FieldError {
	t.Helper()
	var e *Error
	require.ErrorAs(t, DecodeStrict(doc, &sample{}), &e)
	require.Equal(t, code, e.Code, "%v", e)
	got := map[string]FieldError{}
	for _, f := range e.Fields {
		got[f.Pointer] = f
	}
	require.Len(t, got, len(e.Fields), "each field is named once: %v", e)
	return got
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
		assert.Nil(t, s.Parts, name)
		assert.Equal(t, 1.0, s.Costs.ShortFactor, name)
	}
	var s sample
	require.NoError(t, DecodeStrict([]byte(`{"grams":1,"ratio":0,"sides":1,"bath":false,"wish":3,"day":"2026-07-11","at":"2026-07-11T07:00:00Z","parts":[]}`), &s))
	assert.Zero(t, s.Ratio, "a zero that was given stays")
	assert.False(t, s.Bath)
	assert.Equal(t, 3.0, *s.Wish)
	assert.NotNil(t, s.Parts, "an empty list that was given is not a missing one")
}

func TestDecodeStrictNamesEveryBadField(t *testing.T) {
	t.Parallel()
	got := map[string]string{}
	for at, f := range faultsOf(t, []byte(`{"grams":"1 kg","day":"2026-02-30","at":"yesterday","rtio":{"a":[3]},"sides":1.5,"bath":0,"wish":[],"costs":{"short_factor":{}},
		"parts":[{"from":"07:00"},{"from":"7:00"},null,{}],"marks":[[1],[1e400]]}`), CodeMalformed) {
		got[at] = f.Detail + "; " + f.Accepted
	}
	assert.Equal(t, map[string]string{
		"/grams":              `found the text "1 kg"; a number`,
		"/day":                `"2026-02-30" cannot be used here; a date that exists, written 2026-07-11`,
		"/at":                 `"yesterday" cannot be used here; a time as in RFC 3339, with its offset: 2026-07-11T07:00:00+02:00`,
		"/rtio":               "unknown field; one of grams, ratio, sides, bath, day, at, wish, parts, costs, marks",
		"/sides":              "found the number 1.5; a whole number",
		"/bath":               "found the number 0; true or false",
		"/wish":               "found a list; a number",
		"/costs/short_factor": "found an object; a number",
		"/parts/1/from":       `"7:00" cannot be used here; a wall-clock time from 00:00 to 24:00, written 07:00`,
		"/parts/2":            "found null; an object",
		"/parts/3/from":       "this field is missing; a wall-clock time from 00:00 to 24:00, written 07:00",
		"/marks/1/0":          "found the number 1e400; a whole number",
	}, got)
}

func TestDecodeStrictNamesFieldsGivenTwice(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		doc  []byte
		want []string
	}{
		"the same value":               {sampleWith(`,"grams":1`), []string{"/grams"}},
		"in another spelling":          {sampleWith(`,"gr\u0061ms":2`), []string{"/grams"}},
		"null first":                   {sampleWith(`,"wish":null,"wish":2`), []string{"/wish"}},
		"with a default":               {sampleWith(`,"ratio":2,"sides":1,"ratio":3`), []string{"/ratio"}},
		"inside":                       {sampleWith(`,"costs":{"short_factor":1,"short_factor":2}`), []string{"/costs/short_factor"}},
		"in a row":                     {sampleWith(`,"parts":[{"from":"07:00"},{"from":"07:00","from":"08:00"}]`), []string{"/parts/1/from"}},
		"a list":                       {sampleWith(`,"parts":[],"parts":[{"from":"07:00"}]`), []string{"/parts"}},
		"and what is wrong besides it": {sampleWith(`,"grams":{"x":[]},"sides":"two","rtio":1`), []string{"/grams", "/sides", "/rtio"}},
	} {
		got := faultsOf(t, tc.doc, CodeMalformed)
		var pointers []string
		for at := range got {
			pointers = append(pointers, at)
		}
		assert.ElementsMatch(t, tc.want, pointers, name)
		f := got[tc.want[0]]
		assert.Equal(t, "this field is given twice", f.Detail, name)
		assert.Equal(t, "each field once", f.Accepted, name)
	}
}

func TestDecodeStrictSaysWhereTextIsNotJSON(t *testing.T) {
	t.Parallel()
	for doc, want := range map[string][2]string{
		`{"grams":1`:                              {"", "the document ends too early, at line 1, column 11"},
		"{\n  \"grams\": 1,\n  \"sides\": 2,}":    {"", "invalid character ',' at start of value, at line 3, column 13"},
		"{\"grams\":1,\n\"parts\":[{\"from\" 7}]": {"/parts/0/from", "invalid character '7' after object name (expecting ':'), at line 2, column 18"},
		`{"grams":01}`:                            {"", "line 1, column 11"},
		`{"grams":1 "sides":2}`:                   {"", "invalid character '\"' after object value (expecting ',' or '}'), at line 1, column 12"},
		`{"wish":NaN}`:                            {"/wish", "line 1, column 9"},
		"{\"käse\":\"\xff\"}":                     {"/käse", "invalid UTF-8, at line 1, column 10"},
		`{"day":"\ud800"}`:                        {"/day", "surrogate pair"},
		`{"at":"2026-07-11T07:00:00Z"} x`:         {"", "found more at line 1, column 31"},
		"{\"grams\":1}\n\n{}":                     {"", "found more at line 3, column 1"},
		`{grams:1}`:                               {"", "line 1, column 2"},
		`{"grams":1,1:2}`:                         {"", "must be a string, at line 1, column 12"},
	} {
		var e *Error
		require.ErrorAs(t, DecodeStrict([]byte(doc), &sample{}), &e, doc)
		require.Equal(t, CodeMalformed, e.Code)
		require.NotEmpty(t, e.Fields, doc)
		assert.Equal(t, want[0], e.Fields[0].Pointer, doc)
		assert.Contains(t, e.Fields[0].Detail, want[1], doc)
	}
	faults := faultsOf(t, []byte(`{"grams":"x","rtio":1,"parts":[}`), CodeMalformed)
	assert.Contains(t, faults, "/grams", "what was wrong before the text broke off is named too")
	assert.Contains(t, faults, "/rtio")
}

func TestDecodeStrictRefuses(t *testing.T) {
	t.Parallel()
	for name, doc := range map[string]string{
		"nothing": ``, "white space": " \n", "text": `"a"`, "list": `[]`, "null": `null`, "half": `{"grams":1`, "two documents": `{"grams":1} {}`,
		"missing field": `{"day":"2026-07-11","at":"2026-07-11T07:00:00Z"}`, "huge number": `{"grams":1e999,"day":"2026-07-11","at":"2026-07-11T07:00:00Z"}`,
		"null where needed": `{"grams":null,"day":"2026-07-11","at":"2026-07-11T07:00:00Z"}`,
		"a whole number that a float cannot tell from its neighbour": string(sampleWith(`,"sides":9007199254740994`)),
	} {
		assert.Equal(t, CodeMalformed, CodeOf(DecodeStrict([]byte(doc), &sample{})), name)
	}
	require.NoError(t, DecodeStrict(sampleWith(`,"sides":9007199254740992`), &sample{}))
}

func TestDecodeStrictHoldsInstantsToTheirRange(t *testing.T) {
	t.Parallel()
	for at, ok := range map[string]bool{
		"1970-01-01T00:00:00Z": true, "2199-12-31T23:59:59Z": true, "1970-01-01T01:00:00+01:00": true, "2200-01-01T00:30:00+01:00": true,
		"1969-12-31T23:59:59Z": false, "2200-01-01T00:00:00Z": false, "0001-01-01T00:00:00Z": false, "9999-12-31T23:59:59Z": false,
	} {
		err := DecodeStrict([]byte(`{"grams":1,"day":"2026-07-11","at":"`+at+`"}`), &sample{})
		if ok {
			assert.NoError(t, err, at)
			continue
		}
		var e *Error
		require.ErrorAs(t, err, &e, at)
		assert.Equal(t, []FieldError{{Pointer: "/at", Detail: at + " is out of range", Accepted: "a time from 1970 to 2199"}}, e.Fields)
	}
}

func TestDecodeStrictReadsTheInstantOfEachRow(t *testing.T) {
	t.Parallel()
	var rows []string
	for i := range 40 { // more than are remembered, some again
		rows = append(rows, fmt.Sprintf(`{"at":"2026-07-11T%02d:00:00+02:00","temp_c":20}`, (i*7)%24))
	}
	var post WeatherPost
	require.NoError(t, DecodeStrict([]byte(`{"kind":"observed","issued_at":"2026-07-11T00:00:00+02:00","hours":[`+strings.Join(rows, ",")+`]}`), &post))
	for i, h := range post.Hours {
		want := time.Date(2026, 7, 11, (i*7)%24, 0, 0, 0, time.FixedZone("", 7200))
		assert.True(t, want.Equal(h.At), "%d: %s, not %s", i, h.At, want)
		_, offset := h.At.Zone()
		assert.Equal(t, 7200, offset)
	}
}

func TestDecodeStrictHoldsLimits(t *testing.T) {
	t.Parallel()
	many := func(n int, item string) string { return strings.TrimSuffix(strings.Repeat(item+",", n), ",") }
	for name, tc := range map[string]struct {
		doc      []byte
		code     Code
		pointer  string
		detail   string
		accepted string
	}{
		"a list that is too long":       {sampleWith(`,"marks":[[1],[2],[3],[4],[5]]`), CodeTooLarge, "/marks", "the list has 5 entries", "at most 3"},
		"and something else":            {sampleWith(`,"marks":[[1],[2],[3],[4]],"sides":0.5`), CodeMalformed, "/sides", "found the number 0.5", "a whole number"},
		"too many bytes":                {sampleWith(strings.Repeat(" ", MaxDocument)), CodeTooLarge, "", "the document has 16777274 bytes", "at most 16 MiB"},
		"too many values":               {sampleWith(`,"x":[` + many(maxValues, "0") + `]`), CodeTooLarge, "", "the document has more than 2000000 values", "at most 2000000"},
		"too many values where allowed": {sampleWith(`,"marks":[[` + many(maxValues, "0") + `]]`), CodeTooLarge, "", "the document has more than 2000000 values", "at most 2000000"},
		"an unknown field too deep":     {sampleWith(`,"x":` + strings.Repeat("[", 5000) + strings.Repeat("]", 5000)), CodeMalformed, "/x", "this is nested too deeply", "at most 64 lists and objects inside each other"},
		"text too deep":                 {sampleWith(`,"wish":` + strings.Repeat(`{"a":`, 9000)), CodeMalformed, "/wish", "this is nested too deeply", "at most 64 lists and objects inside each other"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f, ok := faultsOf(t, tc.doc, tc.code)[tc.pointer]
			require.True(t, ok, "%q is named", tc.pointer)
			assert.Equal(t, tc.detail, f.Detail)
			assert.Equal(t, tc.accepted, f.Accepted)
		})
	}
	require.NoError(t, DecodeStrict(sampleWith(`,"marks":[[1,2,3,4,5,6,7],[2],[3]]`), &sample{}), "what follows dive bounds the entries")
	assert.Contains(t, faultsOf(t, sampleWith(`,"marks":[[1],[2],[3],[4]],"rtio":1,"sides":0.5`), CodeMalformed), "/marks", "a list that is too long is named beside other faults")
}

func TestDecodeStrictEndsAtFiftyFaults(t *testing.T) {
	t.Parallel()
	var e *Error
	require.ErrorAs(t, DecodeStrict([]byte(`{"demand":[`+strings.TrimSuffix(strings.Repeat("{},", 200), ",")+`]}`), &PlanRequest{}), &e)
	assert.Len(t, e.Fields, 50)
	assert.Equal(t, "/demand/0/date", e.Fields[0].Pointer)
}

// The largest documents that are let in must not become many times their size in memory.
func TestDecodeStrictTakesLittleMemoryForBadDocuments(t *testing.T) { // not parallel: it looks at what the process has allocated
	filled := func(before, item, after string) []byte {
		n := (MaxDocument - len(before) - len(after)) / (len(item) + 1)
		rows := bytes.Repeat([]byte(item+","), n)
		return slices.Concat([]byte(before), rows[:len(rows)-1], []byte(after))
	}
	type loose struct {
		Rows []struct {
			A, B, C, D *float64
			Costs      `json:"-"`
			E          *float64 `json:"e"`
		} `json:"rows"`
		Lists [][]float64 `json:"lists"`
	}
	for name, tc := range map[string]struct {
		before, item, after string
		into                any
		most                uint64 // MiB
	}{
		"empty objects":                 {`{"demand":[`, `{}`, `]}`, &PlanRequest{}, 4},
		"empty objects without a limit": {`{"rows":[`, `{}`, `]}`, &loose{}, 256},
		"empty lists":                   {`{"lists":[`, `[]`, `]}`, &loose{}, 192},
		"numbers":                       {`{"lists":[[`, `0`, `]]}`, &loose{}, 64},
		"nulls":                         {`{"demand":[`, `null`, `]}`, &PlanRequest{}, 4},
		"objects in an unknown field":   {`{"x":[`, `{}`, `]}`, &PlanRequest{}, 4},
		"unknown fields":                {`{`, `"x":0`, `}`, &PlanRequest{}, 4},
		"one field again and again":     {`{`, `"days":2`, `}`, &PlanRequest{}, 4},
		"a text for a number":           {`{"days":"`, `xxxxxxxxxxxxxxxx`, `"}`, &PlanRequest{}, 64},
		"sales counts":                  {`{"source":"t","counts":[`, `{"item":"A","window_start":"2026-07-10T10:00:00Z","window_end":"2026-07-10T10:15:00Z","count":3}`, `]}`, &SalesPost{}, 4},
	} {
		doc := filled(tc.before, tc.item, tc.after)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		require.Error(t, DecodeStrict(doc, tc.into), name)
		runtime.ReadMemStats(&after)
		assert.Less(t, (after.TotalAlloc-before.TotalAlloc)>>20, tc.most, "%s: MiB allocated", name)
		t.Logf("%s: %d KiB allocated", name, (after.TotalAlloc-before.TotalAlloc)>>10)
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
	f.Add([]byte(`{"days":2,"days":3,"now":"0001-01-01T00:00:00Z","\u0066rom":"2026-07-11","x":[{"y":"\ud83d\ude00"}]`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var r PlanRequest
		if err := DecodeStrict(data, &r); err != nil {
			var e *Error
			if !errors.As(err, &e) || e.Code != CodeMalformed && e.Code != CodeTooLarge {
				t.Fatalf("unreadable input must say so: %v", err)
			}
			if len(e.Fields) > maxFieldErrors+1 {
				t.Fatalf("%d faults are more than an answer holds", len(e.Fields))
			}
			if !json.Valid(data) && len(e.Fields) > 0 && !strings.Contains(e.Fields[0].Detail, "line ") && len(e.Fields) < maxFieldErrors {
				t.Fatalf("text that is not JSON must say where: %v", e)
			}
			return
		}
		_ = r.Validate()
		written, err := json.Marshal(r)
		if err != nil {
			t.Fatalf("a read request can be written: %v", err)
		}
		var again PlanRequest
		if err := DecodeStrict(written, &again); err != nil {
			t.Fatalf("a written request can be read: %v", err)
		}
		rewritten, _ := json.Marshal(again)
		if string(written) != string(rewritten) {
			t.Fatalf("reading changed\n%s\nto\n%s", written, rewritten)
		}
	})
}

func TestDecodeStrictWantsAListWhereTheDocumentIsOne(t *testing.T) {
	t.Parallel()
	var list []int
	require.Equal(t, CodeMalformed, CodeOf(DecodeStrict([]byte("null"), &list)), "null is not an empty list")
	require.NoError(t, DecodeStrict([]byte("[]"), &list))
	require.Empty(t, list)
}

package models

import (
	"encoding/json"
	"errors"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// edited returns the one-day request with one value replaced, or removed if value is removed.
func edited(t *testing.T, pointer string, value any) ([]byte, error) {
	t.Helper()
	raw, err := os.ReadFile("../testdata/requests/one-day.json")
	require.NoError(t, err)
	var doc any
	require.NoError(t, json.Unmarshal(raw, &doc))
	if pointer != "" {
		put(doc, strings.Split(pointer[1:], "/"), value)
	}
	return json.Marshal(doc)
}

type removed struct{}

func put(doc any, path []string, value any) {
	switch at := doc.(type) {
	case map[string]any:
		if len(path) > 1 {
			put(at[path[0]], path[1:], value)
		} else if value == (removed{}) {
			delete(at, path[0])
		} else {
			at[path[0]] = value
		}
	case []any:
		i, _ := strconv.Atoi(path[0])
		if len(path) > 1 {
			put(at[i], path[1:], value)
		} else {
			at[i] = value
		}
	}
}

func TestValidRequest(t *testing.T) {
	t.Parallel()
	raw, err := edited(t, "", nil)
	require.NoError(t, err)
	var r PlanRequest
	require.NoError(t, DecodeStrict(raw, &r))
	require.NoError(t, r.Validate())
	assert.Equal(t, 2.1, r.Beverages[0].RetainedRatio, "default")
	assert.Equal(t, 21.0, r.Ice.Makers[0].RatedAirC, "default")
}

func TestInvalidRequests(t *testing.T) {
	t.Parallel()
	obj := func(s string) any {
		var v any
		require.NoError(t, json.Unmarshal([]byte(s), &v))
		return v
	}
	cases := []struct {
		name, at string
		value    any
		code     Code
		pointer  string
		accepted string // part of the text
	}{
		{"unknown field", "/site/colour", "red", CodeMalformed, "/site/colour", "altitude_m"},
		{"unknown field in a list", "/beverages/0/ratoi", 3, CodeMalformed, "/beverages/0/ratoi", "ratio"},
		{"missing field", "/beverages/0/ratio", removed{}, CodeMalformed, "/beverages/0/ratio", "number"},
		{"missing list", "/brewers", removed{}, CodeMalformed, "/brewers", "list"},
		{"unit in the value", "/beverages/0/target_temp_c", "5 °C", CodeMalformed, "/beverages/0/target_temp_c", "number"},
		{"share as percent", "/beverages/0/ice_share", 20, CodeInvalid, "/beverages/0/ice_share", "less than 1"},
		{"ice above 0", "/ice/ice_temp_c", 2, CodeInvalid, "/ice/ice_temp_c", "0 or less"},
		{"no such zone", "/site/timezone", "Europe/Atlantis", CodeInvalid, "/site/timezone", "IANA"},
		{"no such date", "/from", "2026-02-30", CodeMalformed, "/from", "date"},
		{"part that overlaps", "/site/day_parts/1/from", "11:00", CodeInvalid, "/site/day_parts/1", "not overlap"},
		{"empty part", "/site/day_parts/1/to", "12:00", CodeInvalid, "/site/day_parts/1/to", "after from"},
		{"hours that overlap", "/site/opening", obj(`[{"weekday":"sat","from":"08:00","to":"19:00"},{"weekday":"sat","from":"18:00","to":"01:00"}]`), CodeInvalid, "/site/opening/1", "not overlap"},
		{"hours of no day", "/site/opening", obj(`[{"from":"08:00","to":"19:00"}]`), CodeInvalid, "/site/opening/0/weekday", "or a date"},
		{"hours of a weekday and a date", "/site/opening", obj(`[{"weekday":"sat","date":"2026-07-11","from":"08:00","to":"19:00"}]`), CodeInvalid, "/site/opening/0/date", "a weekday or a date"},
		{"hours of one date that overlap", "/site/opening", obj(`[{"weekday":"sat","from":"08:00","to":"19:00"},{"date":"2026-07-11","from":"08:00","to":"12:00"},{"date":"2026-07-11","from":"11:00","to":"13:00"}]`), CodeInvalid, "/site/opening/2", "not overlap"},
		{"kind of an event", "/events", obj(`[{"from":"2026-07-11T08:00:00+02:00","to":"2026-07-11T09:00:00+02:00","kind":"party"}]`), CodeInvalid, "/events/0/kind", "holiday"},
		{"weekday", "/site/opening/0/weekday", "caturday", CodeInvalid, "/site/opening/0/weekday", "mon, tue"},
		{"no such coffee", "/beverages/0/coffee", "nocoffee", CodeInvalid, "/beverages/0/coffee", "ridge"},
		{"no such beverage", "/drinks/0/uses/0/beverage", "x", CodeInvalid, "/drinks/0/uses/0/beverage", "flash"},
		{"no such drink", "/demand/0/drink", "x", CodeInvalid, "/demand/0/drink", "glass"},
		{"no such part", "/demand/0/day_part", "x", CodeInvalid, "/demand/0/day_part", "morning"},
		{"day outside the plan", "/demand/0/date", "2026-07-14", CodeInvalid, "/demand/0/date", "2026-07-11"},
		{"p10 above p90", "/demand/0/p10", 30, CodeInvalid, "/demand/0/p10", "at most p90"},
		{"one end only", "/demand/0/p90", removed{}, CodeInvalid, "/demand/0/p90", "both"},
		{"expected outside", "/demand/0/expected", 99, CodeInvalid, "/demand/0/expected", "12 to 25"},
		{"duplicate row", "/demand/1/day_part", "morning", CodeInvalid, "/demand/1", "one row"},
		{"negative", "/demand/0/expected", -1, CodeInvalid, "/demand/0/expected", "0 or more"},
		{"too little water", "/beverages/0/ratio", 2.5, CodeInvalid, "/beverages/0/ratio", "more than 2.6"},
		{"min above max", "/brewers/0/min_beverage_g", 7000, CodeInvalid, "/brewers/0/min_beverage_g", "6000"},
		{"ends before it starts", "/outages", obj(`[{"kind":"brewer","code":"left","from":"2026-07-11T12:00:00+02:00","to":"2026-07-11T10:00:00+02:00"}]`), CodeInvalid, "/outages/0/to", "after from"},
		{"outage of an unknown brewer", "/outages", obj(`[{"kind":"brewer","code":"right","from":"2026-07-11T10:00:00+02:00","to":"2026-07-11T12:00:00+02:00"}]`), CodeInvalid, "/outages/0/code", "left"},
		{"open pack too large", "/coffees/0/lots/0/open_g", 5000, CodeInvalid, "/coffees/0/lots/0/open_g", "4000"},
		{"duplicate code", "/ice/moulds", obj(`[{"code":"maker","load_g":1000,"thickness_mm":30,"geometry":"slab","freezer_air_c":-18,"h_w_m2k":12,"freezer_heat_w":150}]`), CodeInvalid, "/ice/moulds/0/code", "no other"},
		{"salt", "/water/salts/0", "NaCl", CodeInvalid, "/water/salts/0", "NaHCO3"},
		{"made tomorrow", "/stock", obj(`[{"beverage":"flash","g":500,"made_at":"2026-07-12T10:00:00+02:00"}]`), CodeInvalid, "/stock/0/made_at", "now"},
		{"planned after it is over", "/now", "2026-07-13T10:00:00+02:00", CodeInvalid, "/now", "end of the last day"},
		{"a clock that shows the year 1", "/now", "0001-01-01T00:00:00Z", CodeMalformed, "/now", "from 1970 to 2199"},
		{"an outage after the last instant", "/outages", obj(`[{"kind":"brewer","code":"left","from":"2026-07-11T12:00:00+02:00","to":"2200-01-01T00:00:00Z"}]`), CodeMalformed, "/outages/0/to", "from 1970 to 2199"},
		{"an event before the first instant", "/events", obj(`[{"from":"1969-12-31T23:59:59Z","to":"2026-07-11T09:00:00+02:00"}]`), CodeMalformed, "/events/0/from", "from 1970 to 2199"},
		{"an hour of the year 9999", "/weather", obj(`[{"at":"9999-12-31T23:00:00Z","temp_c":20}]`), CodeMalformed, "/weather/0/at", "from 1970 to 2199"},
		{"ice counted in the year 1", "/ice/counted_at", "0001-01-01T00:00:00Z", CodeMalformed, "/ice/counted_at", "from 1970 to 2199"},
		{"no demand", "/demand", obj(`[]`), CodeInvalid, "/demand", "forecast"},
		{"maker without output", "/ice/makers/0/kg_per_day_rated", 0, CodeInvalid, "/ice/makers/0/kg_per_day_rated", "curve"},
		{"rest that warms", "/beverages/0/rest_temp_c", 90, CodeInvalid, "/beverages/0/rest_temp_c", "82"},
	}
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			raw, err := edited(t, tc.at, tc.value)
			require.NoError(t, err)
			var r PlanRequest
			if err = DecodeStrict(raw, &r); err == nil {
				err = r.Validate()
			}
			var e *Error
			require.True(t, errors.As(err, &e), "accepted: %v", err)
			assert.Equal(t, tc.code, e.Code)
			i := 0
			for i < len(e.Fields) && e.Fields[i].Pointer != tc.pointer {
				i++
			}
			require.Less(t, i, len(e.Fields), "no field error at %s: %v", tc.pointer, e.Fields)
			assert.Contains(t, e.Fields[i].Accepted, tc.accepted)
		})
	}
}

func TestARequestWithoutAClockIsRefused(t *testing.T) {
	t.Parallel()
	raw, err := edited(t, "", nil)
	require.NoError(t, err)
	var r PlanRequest
	require.NoError(t, DecodeStrict(raw, &r))
	for _, now := range []time.Time{{}, FirstInstant.Add(-1), EndOfInstants} {
		r.Now = now
		var e *Error
		require.ErrorAs(t, r.Validate(), &e, "%s", now)
		assert.Equal(t, CodeInvalid, e.Code)
		assert.Equal(t, "/now", e.Fields[0].Pointer)
	}
}

func TestSalesPostIsRejectedWhole(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct{ row, pointer string }{
		"negative":          {`{"item":"a","window_start":"2026-07-11T07:00:00Z","window_end":"2026-07-11T07:15:00Z","count":-1}`, "/counts/1/count"},
		"ends before start": {`{"item":"a","window_start":"2026-07-11T07:00:00Z","window_end":"2026-07-11T06:45:00Z","count":1}`, "/counts/1/window_end"},
		"empty window":      {`{"item":"a","window_start":"2026-07-11T07:00:00Z","window_end":"2026-07-11T07:00:00Z","count":1}`, "/counts/1/window_end"},
		"longer than a day": {`{"item":"a","window_start":"2026-07-11T07:00:00Z","window_end":"2026-07-13T07:00:00Z","count":1}`, "/counts/1/window_end"},
		"no item":           {`{"item":"","window_start":"2026-07-11T07:00:00Z","window_end":"2026-07-11T07:15:00Z","count":1}`, "/counts/1/item"},
	} {
		var p SalesPost
		require.NoError(t, DecodeStrict([]byte(`{"source":"till","counts":[{"item":"a","window_start":"2026-07-11T07:00:00Z","window_end":"2026-07-11T07:15:00Z","count":2},`+tc.row+`]}`), &p))
		var e *Error
		require.True(t, errors.As(p.Validate(), &e), name)
		assert.Equal(t, tc.pointer, e.Fields[0].Pointer, name)
	}
	many := SalesPost{Source: "till", Counts: make([]SalesCount, MaxSalesRows+1)}
	assert.Equal(t, CodeTooLarge, CodeOf(many.Validate()))
}

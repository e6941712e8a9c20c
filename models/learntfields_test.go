package models

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestFieldsOfASetUpChangeAndChangeBack(t *testing.T) {
	t.Parallel()
	doc, err := os.ReadFile("../testdata/requests/one-day.json")
	require.NoError(t, err)
	var r PlanRequest
	require.NoError(t, DecodeStrict(doc, &r))
	s := r.Setup
	s.Ice.Makers[0].Code = "Yard ~ machine"
	change := func(pointer, from, to string) []LearntField {
		return []LearntField{{Pointer: pointer, From: json.RawMessage(from), To: json.RawMessage(to)}}
	}
	rated := "/ice/makers/" + PointerToken("Yard ~ machine") + "/kg_per_day_rated"
	require.Equal(t, "/ice/makers/Yard ~0 machine/kg_per_day_rated", rated)
	for _, c := range []struct {
		fields []LearntField
		value  func(*Setup) any
		want   any
	}{
		{change("/beverages/flash/retained_ratio", "2.1", "2.4"), func(s *Setup) any { return s.Beverages[0].RetainedRatio }, 2.4},
		{change(rated, "24", "19.5"), func(s *Setup) any { return s.Ice.Makers[0].KgPerDayRated }, 19.5},
		{change("/ice/makers/0/kg_per_day_rated", "24", "19.5"), func(s *Setup) any { return s.Ice.Makers[0].KgPerDayRated }, 19.5},
		{change("/ice/makers/0/curve", "[]", `[{"air_c":20,"water_c":15,"kg_per_day":20}]`), func(s *Setup) any { return s.Ice.Makers[0].Curve[0].KgPerDay }, 20.0},
		{change("/site/other_ice_pct", "0", "12"), func(s *Setup) any { return s.Site.OtherIcePct }, 12.0},
	} {
		after, err := s.WithFields(c.fields)
		require.NoError(t, err, c.fields[0].Pointer)
		require.Equal(t, c.want, c.value(&after))
		_, err = after.WithFields(c.fields)
		require.Equal(t, CodeConflict, CodeOf(err), "it has the new value already")
		back, err := after.WithFields(Undone(c.fields))
		require.NoError(t, err)
		want, err := json.Marshal(s)
		require.NoError(t, err)
		got, err := json.Marshal(back)
		require.NoError(t, err)
		null := strings.NewReplacer("[]", "null") // an empty list is as good as none
		require.JSONEq(t, null.Replace(string(want)), null.Replace(string(got)), "undone")
	}
	for _, pointer := range []string{"/beverages/none/retained_ratio", "/beverages", "/nothing/at/all", "/site/name/first"} {
		_, err := s.WithFields(change(pointer, "1", "2"))
		require.Equal(t, CodeConflict, CodeOf(err), pointer)
	}
	_, err = s.WithFields(change("/beverages/flash/retained_ratio", "2.1", "-4"))
	require.Equal(t, CodeInvalid, CodeOf(err))
}

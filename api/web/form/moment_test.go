package form_test

import (
	"net/url"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/api/web/form"
	"hotday/models"
	"hotday/planner/say"
)

// Local times are stored with the zone's offset, in summer and winter.
func TestDateTimesAreLocal(t *testing.T) {
	t.Parallel()
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	type when struct {
		At time.Time `json:"at"`
	}
	type doc struct {
		When when `json:"when"`
	}
	whole := reflect.TypeFor[doc]()
	w := form.Config{Writer: say.WriterFor(models.Site{}), Zone: berlin}
	for typed, want := range map[string]string{
		"2026-07-11T14:30":    "2026-07-11T14:30:00+02:00",
		"2026-12-24 08:00":    "2026-12-24T08:00:00+01:00",
		"2026-07-11T14:30:20": "2026-07-11T14:30:00+02:00",
		"2026-03-29T02:30":    "2026-03-29T03:30:00+02:00", // skipped by the clock change
		"2026-10-25T02:30":    "2026-10-25T02:30:00+02:00", // repeated by the clock change
	} {
		got, _, wrong := w.Read(whole, "/when", url.Values{"/when/at": {typed}}, nil)
		require.Empty(t, wrong, typed)
		assert.Equal(t, map[string]any{"at": want}, got, typed)
	}
	shown := w.Build(whole, "/when", map[string]any{"at": "2026-07-11T12:30:00Z"}, nil, nil)
	assert.Equal(t, form.DateTime, shown.Fields[0].Kind)
	assert.Equal(t, "2026-07-11T14:30", shown.Fields[0].Value)
	for _, typed := range []string{"noon", "2026-02-30T10:00", "1026-07-11T14:30", "2026-07-11"} {
		_, raw, wrong := w.Read(whole, "/when", url.Values{"/when/at": {typed}}, nil)
		require.Len(t, wrong, 1, typed)
		assert.Equal(t, "/when/at", wrong[0].Pointer)
		assert.Equal(t, typed, raw["/when/at"])
	}
}

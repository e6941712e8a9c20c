package sheet_test

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/sheet"
)

func TestTheIceChartShowsTheLevels(t *testing.T) {
	t.Parallel()
	setup := models.Setup{Site: models.Site{Timezone: "UTC", SlotMin: 15, Opening: []models.Opening{{Weekday: "sat", From: "08:00", To: "12:00"}}}}
	var p models.Plan
	at := models.Date("2026-07-11").At(480, time.UTC)
	for i := range 17 { // from full to empty in four hours
		p.Ice.Levels = append(p.Ice.Levels, models.IceLevel{At: at.Add(time.Duration(i) * 15 * time.Minute), G: 10000 - 625*float64(i), P10G: 9000 - 600*float64(i)})
	}
	p.Warnings = []models.Warning{{Kind: models.WarnIceShort, At: at.Add(225 * time.Minute), ChancePct: 33}}
	var b bytes.Buffer
	require.NoError(t, sheet.WriteIceChart(&b, setup, p, "2026-07-11"))
	rows := strings.Split(strings.Trim(b.String(), "\n"), "\n")
	require.Len(t, rows, 1+5+2)
	assert.Equal(t, "  Ice for drinks: 10.0 kg at 08:00, lowest 0 g at 12:00; may run out at 11:45, about 1 in 3", rows[0])
	assert.Regexp(t, `^ +10.0 kg \|█+`, rows[1])
	assert.Regexp(t, `^ +5.0 kg \|█+`, rows[3])
	for i := 1; i < 5; i++ {
		assert.Less(t, utf8.RuneCountInString(rows[i]), utf8.RuneCountInString(rows[i+1]), "a falling level is wider below")
	}
	_, lowest, _ := strings.Cut(rows[5], "|")
	assert.Equal(t, 16, utf8.RuneCountInString(lowest), "some is there for all but the last quarter of an hour")
	_, ruler, _ := strings.Cut(rows[6], "0 +")
	assert.Equal(t, "+-------+-------+", ruler)
	assert.True(t, strings.HasSuffix(rows[7], "08      10      12"), rows[7])

	b.Reset()
	require.NoError(t, sheet.WriteIceChart(&b, setup, p, "2026-07-12"))
	assert.Empty(t, b.String(), "nobody works on Sunday")

	setup.Site.Units = &models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}
	require.NoError(t, sheet.WriteIceChart(&b, setup, p, "2026-07-11"))
	assert.Contains(t, b.String(), "22.0 lb at 8:00 am")
	assert.Contains(t, b.String(), "8 am    10 am   12 pm")
}

func TestASCIIIsPlain(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "Cafe 34 deg C - ...#+:. ?", sheet.ASCII("Café 34°C – …█▆▃▁ 冷"))
}

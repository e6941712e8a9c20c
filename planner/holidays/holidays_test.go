package holidays

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func names(t *testing.T, country, region string, year int) map[models.Date]string {
	t.Helper()
	list, err := In(country, region, year)
	require.NoError(t, err)
	out := map[models.Date]string{}
	last := models.Date("")
	for _, h := range list {
		require.GreaterOrEqual(t, h.Date, last)
		last = h.Date
		out[h.Date] = h.Name
	}
	return out
}

// The dates are those of published calendars of these years, from memory.
func TestHolidaysOfCountriesAndRegions(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		country, region string
		year            int
		on, notOn       models.Date
	}{
		{"DE", "", 2026, "2026-04-03", "2026-06-04"},   // Good Friday
		{"de", "BY", 2026, "2026-06-04", "2026-10-31"}, // Corpus Christi
		{"DE", "SN", 2026, "2026-10-31", "2026-06-04"}, // Reformation Day
		{"FR", "", 2026, "2026-07-14", "2026-07-15"},
		{"US", "", 2026, "2026-11-26", "2026-11-27"}, // Thanksgiving
		{"US", "", 2026, "2026-07-03", "2026-07-06"}, // Independence Day, observed on Friday
		{"US", "", 2026, "2026-07-04", "2026-07-05"},
		{"IE", "", 2027, "2027-03-17", "2027-03-18"},
	} {
		list := names(t, c.country, c.region, c.year)
		require.NotEmpty(t, list[c.on], "%s %s %s", c.country, c.region, c.on)
		require.Empty(t, list[c.notOn], "%s %s %s", c.country, c.region, c.notOn)
	}
}

func TestEveryCalendarHasHolidaysInEveryYear(t *testing.T) {
	t.Parallel()
	for _, c := range Countries() {
		regions := c.Regions
		if c.Whole {
			regions = append([]string{""}, regions...)
		}
		require.NotEmpty(t, regions, c.Code)
		for _, r := range regions {
			for _, year := range []int{2024, 2026, 2035} {
				list, err := In(c.Code, r, year)
				require.NoError(t, err)
				require.GreaterOrEqual(t, len(list), 5, "%s %s %d", c.Code, r, year)
				for _, h := range list {
					require.NotEmpty(t, h.Name)
				}
			}
		}
	}
}

func TestUnknownCountriesRegionsAndYearsAreNamed(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		country, region string
		year            int
		pointer         string
	}{{"QQ", "", 2026, "/country"}, {"DE", "XX", 2026, "/region"}, {"AU", "", 2026, "/region"}, {"DE", "", 1066, "/year"}} {
		_, err := In(c.country, c.region, c.year)
		var e *models.Error
		require.ErrorAs(t, err, &e)
		require.Equal(t, c.pointer, e.Fields[0].Pointer)
		require.NotEmpty(t, e.Fields[0].Accepted)
	}
}

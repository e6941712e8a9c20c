package web

import (
	"errors"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func demoSetup(t *testing.T) (s models.Setup) {
	t.Helper()
	b, err := os.ReadFile("../../deploy/demo/setup.json")
	require.NoError(t, err)
	require.NoError(t, models.DecodeStrict(b, &s))
	return s
}

// The contract's wording stays in the API: a person reads the page's own, with limits in the units of the page.
func TestFaultsAreInThePagesWords(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		breaks func(s *models.Setup)
		want   string
	}{
		"too large":        {func(s *models.Setup) { s.Ice.BinG = 2e8 }, "At most 100000\u202fkg."},
		"too small":        {func(s *models.Setup) { s.Brewers[0].BusyMin = 0 }, "More than 0\u202fmin."},
		"a share":          {func(s *models.Setup) { s.Beverages[0].IceShare = 1.2 }, "Less than 100%."},
		"a choice":         {func(s *models.Setup) { s.Beverages[0].Method = "boiled" }, "Choose from the list."},
		"a zone":           {func(s *models.Setup) { s.Site.Timezone = "Mars" }, "Enter a time zone such as Europe/Berlin."},
		"no time of day":   {func(s *models.Setup) { s.Site.DayParts = nil }, "Add at least one."},
		"same name":        {func(s *models.Setup) { s.Brewers[1].Code = s.Brewers[0].Code }, "Another one has this name."},
		"machine and tray": {func(s *models.Setup) { s.Ice.Moulds[0].Code = s.Ice.Makers[0].Code }, "Another one has this name."},
		"no such coffee":   {func(s *models.Setup) { s.Beverages[0].Coffee = "tea" }, "Choose a coffee."},
		"no such beverage": {func(s *models.Setup) { s.Drinks[0].Uses[0].Beverage = "tea" }, "Choose a beverage."},
		"brews nothing":    {func(s *models.Setup) { s.Brewers[0].Beverages[0] = "tea" }, "Choose from the list."},
		"like itself":      {func(s *models.Setup) { s.Drinks[0].Like = s.Drinks[0].Code }, "Choose another drink."},
		"smallest batch":   {func(s *models.Setup) { s.Brewers[0].MinBeverageG = 9e5 }, "More than the largest batch."},
		"tank":             {func(s *models.Setup) { s.Water.OpeningL = 500 }, "More than the tank holds."},
		"too little water": {func(s *models.Setup) { s.Beverages[0].Ratio = 2 }, "The grounds keep all this water."},
		"no steeping time": {func(s *models.Setup) { s.Beverages[2].SteepH = nil }, "Enter the steeping time."},
		"ice in chilled":   {func(s *models.Setup) { s.Beverages[3].IceShare = 0.2 }, "Enter 0: this method stirs in no ice."},
		"no bath":          {func(s *models.Setup) { s.Beverages[3].Bath, s.Beverages[3].CoolingUAWPerK = false, nil }, "Tick this, or time a full batch"},
		"warm rest":        {func(s *models.Setup) { s.Beverages[0].RestTempC = new(95.0) }, "Warmer than out of the brewer."},
		"rest":             {func(s *models.Setup) { s.Coffees[0].RestDaysMin = 90 }, "Longer than “Use within”."},
		"open bag":         {func(s *models.Setup) { s.Coffees[0].Lots[0].OpenG = 9e5 }, "More than is on hand."},
		"frozen":           {func(s *models.Setup) { s.Coffees[0].Lots[0].FrozenOn = new(models.Date("2020-01-01")) }, "Before the roast date."},
		"no output":        {func(s *models.Setup) { s.Ice.Makers[0].KgPerDayRated = 0 }, "Enter the rated output."},
		"empty time":       {func(s *models.Setup) { s.Site.DayParts[0].To = s.Site.DayParts[0].From }, "Ends when it starts."},
		"overlap":          {func(s *models.Setup) { s.Site.DayParts[0].To = "12:00" }, "Overlaps another time of day."},
		"no weekday":       {func(s *models.Setup) { s.Site.Opening[0].Weekday = "" }, "Choose a weekday or a date."},
		"shift on no day":  {func(s *models.Setup) { s.Site.People[0].Weekday = "" }, "Choose a weekday or a date."},
		"closes at once":   {func(s *models.Setup) { s.Site.Opening[0].To = s.Site.Opening[0].From }, "Closes when it opens."},
		"hours overlap":    {func(s *models.Setup) { s.Site.Opening[1].Weekday = s.Site.Opening[0].Weekday }, "Overlaps other hours of that day."},
	} {
		s := demoSetup(t)
		c.breaks(&s)
		var bad *models.Error
		require.True(t, errors.As(s.Validate(), &bad), name)
		v := voiceOf(s.Site)
		worded := inPlainWords(bad.Fields, formConfig(s, setupSections[0], v), v)
		all := ""
		for _, f := range worded {
			assert.Empty(t, f.Accepted, "%s: %s says %q", name, f.Pointer, f.Detail)
			all += f.Detail
		}
		assert.Contains(t, all, c.want, name)
	}
}

package web_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// A manager finds the town, chooses a service, and sees how fetching goes.
func TestWeatherIsSetUpWithoutAProgrammer(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	b := open(t, browser(t), s.base+"/sign-in")
	b.signIn(s)
	b.goTo(s.base + "/s/lido/setup/weather")
	b.says("No forecast until you choose a service.")
	b.says("Commercial use: by contract")
	b.says("GeoNames (geonames.org), CC BY 4.0")

	b.typeIn("#place", "Malm")
	b.until(`[...document.querySelectorAll("#places option")].some((o) => o.value === "Malmö, SE")`)
	b.eval(`(() => { const i = document.getElementById("place"); i.value = "Malmö, SE"; i.dispatchEvent(new Event("input", { bubbles: true })); return ""; })()`)
	assert.Equal(t, "55.606", b.eval(`document.getElementsByName("/site/latitude")[0].value`))

	b.eval(`(() => { document.getElementById("place").value = "zurich"; return ""; })()`)
	b.click("button[name=find]") // also without the script
	b.until(`document.querySelector("button[name=at]") !== null`)
	assert.Equal(t, "47.367", b.eval(`document.getElementsByName("/site/latitude")[0].value`))
	assert.Equal(t, "8.55", b.eval(`document.getElementsByName("/site/longitude")[0].value`))
	b.eval(`(() => { document.getElementsByName("/site/weather/source")[0].value = "met_norway"; return ""; })()`)
	b.typeIn(`[name="/site/weather/contact"]`, "office@example.com")
	b.eval(`(() => { document.querySelector("p.save button.do").click(); return ""; })()`)
	b.until(`location.search.includes("saved=1")`)
	b.says("First forecast within a minute.")
	b.says("Forecast: MET Norway (CC BY 4.0).")
	b.quiet()

	setup, _, err := s.store.Setup(context.Background(), "lido")
	require.NoError(t, err)
	assert.InDelta(t, 47.367, *setup.Site.Latitude, 1e-9)
	assert.Equal(t, models.WeatherSource{Source: models.WeatherMETNorway, Contact: "office@example.com"}, *setup.Site.Weather)

	now := s.clock()
	require.NoError(t, s.store.PutWeatherFetch(context.Background(), "lido", models.WeatherFetch{TriedAt: &now, NextAt: new(now.Add(time.Hour)), Failures: 1, Problem: models.FetchTooOften}))
	b.goTo(s.base + "/s/lido/setup/weather")
	b.says("too many requests")
	b.says("Next: ")
}

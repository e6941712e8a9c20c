package web_test

import (
	"context"
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

var (
	unseen = regexp.MustCompile(`(?s)<script.*?</script>|<style.*?</style>|<datalist.*?</datalist>`)
	tags   = regexp.MustCompile(`(?s)<[^>]*>`)
	labels = regexp.MustCompile(`(?:aria-label|title|placeholder|alt)="([^"]*)"`)
	// Metric units and 24-hour times. Water analyses use mg/L everywhere.
	metricText = regexp.MustCompile(`\bkg\b|\d[\s\x{202f}]g\b|°C|\d[\s\x{202f}]L\b|\b(?:1[3-9]|2[0-3]):[0-5]\d\b`)
	ofSalt     = regexp.MustCompile(`[\d.]+[\s\x{202f}]g[\s\x{202f}]+(?:Ca|Mg|Na|K)(?:Cl2|SO4|HCO3)|(?:Ca|Mg|Na|K)(?:Cl2|SO4|HCO3)[A-Za-z0-9.·]*[\s\x{202f}]+[\d.]+[\s\x{202f}]g\b`)
)

// read returns a page's visible text and its labels for screen readers.
func read(page string) string {
	page = unseen.ReplaceAllString(page, " ")
	said := tags.ReplaceAllString(page, " ")
	for _, m := range labels.FindAllStringSubmatch(page, -1) {
		said += "\n" + m[1]
	}
	return ofSalt.ReplaceAllString(html.UnescapeString(said), "salt")
}

func TestCustomaryUnitsLeaveNothingMetricOnPages(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.short(t)
	setup, etag := s.setup(t)
	setup.Site.Units = &models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}
	_, _, err := s.store.PutSetup(context.Background(), setup, etag, s.clock())
	require.NoError(t, err)
	post := func(path, doc string) {
		r, err := http.NewRequest(http.MethodPost, s.base+path, strings.NewReader(doc))
		require.NoError(t, err)
		r.Header.Set("Authorization", "Bearer "+s.key)
		r.Header.Set("Content-Type", "application/json")
		answer, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		defer func() { _ = answer.Body.Close() }()
		require.Less(t, answer.StatusCode, 300, path)
	}
	post("/v1/sites/lido/plans", `{"from":"2026-07-11","days":1}`)
	post("/v1/sites/lido/plans/1/publish", `{}`)
	v := s.visit(t)
	for _, path := range []string{"/s/lido/weekend", "/s/lido/kitchen", "/s/lido/count"} {
		text := read(v.get(path))
		for _, at := range metricText.FindAllStringIndex(text, -1) {
			assert.Fail(t, "metric", "%s: %q in “%s”", path, text[at[0]:at[1]], strings.Join(strings.Fields(text[max(0, at[0]-80):min(len(text), at[1]+40)]), " "))
		}
		if strings.HasSuffix(path, "weekend") {
			assert.Regexp(t, `(?s)lb\b.*gal\b|°F`, text)
		}
	}
}

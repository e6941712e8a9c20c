package web_test

import (
	"context"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// expected sums the manager's numbers of a date.
func (s *shop) expected(t *testing.T, date models.Date) (sum float64) {
	t.Helper()
	rows, err := s.store.ExpectedDemand(context.Background(), site, date, date.AddDays(1))
	require.NoError(t, err)
	for _, r := range rows {
		if r.Expected != nil {
			sum += *r.Expected
		}
	}
	return sum
}

// A manager enters one number a day, sees it split, copies it to Sunday, takes that back, and plans again.
func TestExpectedDrinksAreOneNumberADay(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithTimeout(browser(t), 4*time.Minute)
	t.Cleanup(cancel)
	s := newShop(t)
	setup, etag, err := s.store.Setup(context.Background(), site)
	require.NoError(t, err)
	for _, o := range setup.Site.Opening { // Sundays like Saturdays
		if o.Weekday == "sat" {
			o.Weekday = "sun"
			setup.Site.Opening = append(setup.Site.Opening, o)
		}
	}
	_, _, err = s.store.PutSetup(context.Background(), setup, etag, s.clock())
	require.NoError(t, err)
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	assert.Equal(t, "0", b.eval(`[...document.querySelectorAll(".asked input")].filter((e) => e.checkVisibility()).length`), "the parts of the day are folded away")
	const saturdayTotal, sundayTotal = `.expected[data-date="2026-07-11"] input[data-drink]`, `.expected[data-date="2026-07-12"] input[data-drink]`
	enter := func(selector, text string) {
		b.eval(`(() => { const i = document.querySelector('` + selector + `'); i.value = "` + text + `"; i.dispatchEvent(new Event("change", { bubbles: true })); return ""; })()`)
	}
	others := s.expected(t, saturday) - number(t, b.eval(`document.querySelector('`+saturdayTotal+`').value`))
	enter(saturdayTotal, "101")
	b.says("Saved. Plan again to use it.")
	assert.InDelta(t, others+101, s.expected(t, saturday), 1e-9, "the parts add up")
	b.until(`[...document.querySelectorAll('table[data-date="2026-07-11"] input[data-drink="' + document.querySelector('` + saturdayTotal + `').dataset.drink + '"]')].reduce((sum, i) => sum + Number(i.value), 0) === 101`)

	b.click(`.expected[data-date="2026-07-12"] button[name=copy]`)
	b.until(`document.querySelector('` + sundayTotal + `').value === "101"`)
	assert.InDelta(t, s.expected(t, saturday), s.expected(t, saturday.AddDays(1)), 1e-9)
	b.click(`.saved button`)
	b.says("Undone.")
	assert.Zero(t, s.expected(t, saturday.AddDays(1)))
	assert.Empty(t, b.eval(`document.querySelector('`+sundayTotal+`').value`))

	enter(saturdayTotal, "lots")
	b.says("“lots” isn’t a number of drinks.")
	enter(saturdayTotal, "90")
	b.says("Saved. Plan again to use it.")
	b.click(`.expected[data-date="2026-07-11"] button[name=again]`)
	b.until(`document.body.dataset.revision === "1"`)
	assert.Equal(t, "90", b.eval(`document.querySelector('`+saturdayTotal+`').value`))
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	n, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err, text)
	return n
}

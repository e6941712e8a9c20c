package say

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"hotday/models"
	"hotday/planner/say/quantity"
)

func TestNumbers(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ got, want string }{
		{Pct(0.4), "under 1\u202f%"},
		{Pct(0), "0\u202f%"},
		{Pct(99.7), "over 99\u202f%"},
		{Money(1240, "EUR"), "12.40\u202fEUR"},
		{Money(1240, "JPY"), "1\u202f240\u202fJPY"},
		{Number(1234567.5, 1), "1\u202f234\u202f567.5"},
		{Servings(3.5), "3.5"},
		{Servings(12.4), "12"},
	} {
		assert.Equal(t, c.want, c.got)
	}
}

func TestWarningSentences(t *testing.T) {
	t.Parallel()
	loc := time.FixedZone("", 7200)
	at := time.Date(2026, 7, 11, 14, 45, 0, 0, loc)
	for _, c := range []struct {
		w    models.Warning
		want string
	}{
		{models.Warning{Kind: models.WarnIceShort, At: at, Amount: 6, Unit: "kg", ChancePct: 38}, "Saturday 14:45: about 6.0\u202fkg of drink ice short, chance 38\u202f%"},
		{models.Warning{Kind: models.WarnIceShort, At: at, Amount: 6000, Unit: "g", Fields: []string{"ice.plain.opening_g"}}, "Saturday 14:45: about 6.0\u202fkg of bath ice to bring in"},
		{models.Warning{Kind: models.WarnBeverageShort, At: at, Amount: 12, Unit: "servings", ChancePct: 100}, "Saturday 14:45: about 12 servings of cold coffee short"},
		{models.Warning{Kind: models.WarnStrengthOff, At: at, Amount: 0.15, Unit: "%"}, "Saturday 14:45: strength off by 0.15 points"},
		{models.Warning{Kind: models.WarnStockCountOld}, "The stock count is old"},
		{models.Warning{Kind: "something_new"}, "Something new"},
	} {
		assert.Equal(t, c.want, Sentence(c.w, quantity.Metric(loc)))
	}
}

package say

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

func TestNumbersReadAtAGlance(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ got, want string }{
		{Grams(4670), "4\u202f670\u202fg"},
		{Grams(8.25), "8.2\u202fg"},
		{Grams(-0.001), "0\u202fg"},
		{Mass(5010), "5.0\u202fkg"},
		{Mass(874), "870\u202fg"},
		{Mass(999.7), "1.0\u202fkg"},
		{Mass(133300), "133\u202fkg"},
		{Temp(5), "5\u202f°C"},
		{Temp(7.5), "7.5\u202f°C"},
		{Temp(-3), "−3\u202f°C"},
		{Litres(1.25), "1.2\u202fL"},
		{Litres(56.7), "57\u202fL"},
		{Pct(0.4), "under 1\u202f%"},
		{Pct(0), "0\u202f%"},
		{Pct(99.7), "over 99\u202f%"},
		{Money(1240, "EUR"), "12.40\u202fEUR"},
		{Money(1240, "JPY"), "1\u202f240\u202fJPY"},
		{Number(1234567.5, 1), "1\u202f234\u202f567.5"},
		{Span(59 * time.Second), "1\u202fmin"},
		{Span(200 * time.Minute), "3\u202fh 20\u202fmin"},
		{Span(72 * time.Hour), "3 days"},
	} {
		assert.Equal(t, c.want, c.got)
	}
}

func TestMomentsAreSaidFromNow(t *testing.T) {
	t.Parallel()
	loc := time.FixedZone("", 7200)
	now := time.Date(2026, 7, 11, 14, 0, 0, 0, loc)
	assert.Equal(t, "16:30", Near(now.Add(150*time.Minute), now, loc))
	assert.Equal(t, "Sunday 00:15", Near(now.Add(10*time.Hour+15*time.Minute), now, loc))
	assert.Equal(t, "Saturday 25 July 14:00", Near(now.AddDate(0, 0, 14), now, loc))
}

func TestWarningsAreSentences(t *testing.T) {
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
		assert.Equal(t, c.want, Sentence(c.w, loc))
	}
}

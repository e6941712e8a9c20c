package say_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"hotday/models"
	"hotday/planner/say"
	"hotday/planner/say/words"
)

func TestWarningsAreSentences(t *testing.T) {
	t.Parallel()
	loc := time.FixedZone("", 7200)
	at := time.Date(2026, 7, 11, 14, 45, 0, 0, loc)
	for _, c := range []struct {
		w    models.Warning
		want string
	}{
		{models.Warning{Kind: models.WarnIceShort, At: at, Amount: 6, Unit: "kg", ChancePct: 38}, "Saturday 14:45: out of ice for drinks, 6.0\u202fkg short, chance 1 in 3"},
		{models.Warning{Kind: models.WarnIceShort, At: at, Amount: 6000, Unit: "g", Fields: []string{"ice.plain.opening_g"}}, "Saturday 14:45: not enough ice-bath ice, 6.0\u202fkg short"},
		{models.Warning{Kind: models.WarnBeverageShort, At: at, Amount: 12, Unit: "servings", ChancePct: 100}, "Saturday 14:45: cold coffee sells out, 12 drinks short"},
		{models.Warning{Kind: models.WarnStrengthOff, At: at, Amount: 0.15, Unit: "%"}, "Saturday 14:45: strength is off by 0.15 points"},
		{models.Warning{Kind: models.WarnStockCountOld}, "The stock count is old"},
		{models.Warning{Kind: "something_new"}, "Something new"},
	} {
		assert.Equal(t, c.want, say.Metric(loc).WarningSentence(c.w))
	}
}

// The amounts in °C are how far something is off: a fridge 2 K too warm is 4 °F too warm, not 36 °F.
func TestWarningsConvertDifferencesOfTemperature(t *testing.T) {
	t.Parallel()
	assert.Equal(t, "4\u202f°F", customary().WarningAmount(2, "°C"))
	assert.Equal(t, "2\u202f°C", metric().WarningAmount(2, "°C"))
}

// Pages leave out the time and the chance of a warning whose cause has them, by its kind; so every text for that kind must.
func TestCausesSayWhatPagesLeaveOut(t *testing.T) {
	t.Parallel()
	causes := map[string][]string{
		models.WarnIceShort:      {"warn.runs_out", "ice.baths_limit", "ice.bath_missing", "ice.baths_borrow"},
		models.WarnBeverageShort: {"warn.runs_out"},
		models.WarnPlainIce:      {"warn.plain_at_hand", "warn.plain_only"},
		models.WarnBeansShort:    {"warn.beans_short", "warn.beans_cut"},
		models.WarnWaterShort:    {"warn.tank", "warn.tank_cut"},
	}
	english := words.In(words.English)
	for kind, keys := range causes {
		assert.True(t, say.CauseSaysWhen(kind), kind)
		for _, key := range keys {
			assert.Contains(t, english.Arguments(key), "at", key)
			if say.CauseSaysChance(kind) && !strings.HasPrefix(key, "ice.") { // those are certain
				assert.Contains(t, english.Arguments(key), "chance", key)
			}
		}
	}
	for _, key := range english.Keys() {
		if strings.HasPrefix(key, "warn.") && slices.Contains(english.Arguments(key), "chance") {
			assert.Contains(t, []string{"warn.runs_out"}, key)
		}
	}
}

func TestCautionsThatNameTheRulesSaySo(t *testing.T) {
	t.Parallel()
	v := say.In(words.English)
	for _, code := range []models.Caution{models.CautionScald, models.CautionGlass, models.CautionIceFood, models.CautionBathIce, models.CautionCooling, models.CautionHolding,
		models.CautionSteeping, models.CautionMinerals, models.CautionFreezer, models.CautionCaffeine, models.CautionEstimate, models.CautionHeat, models.CautionScaleLime, models.CautionChart} {
		text := v.Caution(code)
		assert.NotContains(t, text, "care.", "%s has no text", code)
		assert.NotContains(t, text, "{", code)
		names := strings.Contains(text, "local food safety rules") || strings.Contains(text, "rules come first")
		assert.Equal(t, names, say.NamesTheRules(code), text)
	}
}

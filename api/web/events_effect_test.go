package web

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"hotday/api/web/texts"
	"hotday/planner/say"
)

func TestEffectIsReadAsPeopleTypeIt(t *testing.T) {
	t.Parallel()
	v := voice{texts.For("en"), say.Metric(time.UTC)}
	for typed, want := range map[string]float64{
		"+30%": 1.3, "+30 %": 1.3, "+30\u202f%": 1.3, "30% busier": 1.3, "30 % more": 1.3, "+30": 1.3, "30": 1.3, "30%": 1.3, "+130%": 2.3, "1.3": 1.3, "1,3": 1.3,
		"-20%": 0.8, "−20 %": 0.8, "20% quieter": 0.8, "20 less": 0.8, "-100%": 0,
		"×1.5": 1.5, "1.5x": 1.5, "1.5 times as busy": 1.5, "half": 0.5, "half as busy": 0.5, "Twice as busy": 2, "double": 2, "0": 0,
	} {
		factor, closed, ok := readEffect(typed, v)
		assert.True(t, ok, typed)
		assert.False(t, closed, typed)
		assert.InDelta(t, want, factor, 1e-9, typed)
	}
	_, closed, ok := readEffect("Closed", v)
	assert.True(t, closed && ok)
	for _, typed := range []string{"", "busier", "lots", "130%", "-120%", "30 40", "1e9", "%"} {
		_, _, ok := readEffect(typed, v)
		assert.False(t, ok, typed)
	}
}

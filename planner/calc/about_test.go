package calc_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hotday/planner/calc"
)

func TestEveryCalculationHasALineOfHelp(t *testing.T) {
	t.Parallel()
	for _, kind := range calc.Kinds() {
		about := calc.About(kind)
		assert.NotEmpty(t, about, kind)
		assert.LessOrEqual(t, len(about), 80, kind)
		assert.NotContains(t, about, "\n", kind)
	}
	assert.Empty(t, calc.About("none"))
}

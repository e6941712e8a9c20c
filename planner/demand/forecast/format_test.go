package forecast

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestBasisTemperatureFormat(t *testing.T) {
	t.Parallel()
	st := &State{}
	assert.Equal(t, "29 °C", st.formatTemp(29.4))
	st.SpeakIn(func(c float64) string { return "84 °F" })
	assert.Equal(t, "84 °F", st.formatTemp(29.4))
}

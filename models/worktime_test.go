package models

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestASiteWithoutWorkTimesHasTheDefaultsOfTheFields(t *testing.T) {
	t.Parallel()
	var stated WorkMin
	require.NoError(t, DecodeStrict([]byte(`{}`), &stated))
	assert.Equal(t, stated, DefaultWorkMin())
	assert.Equal(t, stated, (&Site{}).Work())
	stated.Fill = 8
	assert.InDelta(t, 8, (&Site{WorkMin: &stated}).Work().Fill, 0)
}

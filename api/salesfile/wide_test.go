package salesfile

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestARowOfManyColumnsIsRefusedBeforeItIsRead(t *testing.T) {
	t.Parallel()
	const head = "item,start,end,count\n"
	for name, text := range map[string]string{
		"plain":           head + strings.Repeat(",", 200),
		"quoted":          head + strings.Repeat(`"a",`, 200),
		"over many lines": head + strings.Repeat("\"\n\",", 200),
		"after an error":  head + "a\"b,c\n" + strings.Repeat("x,", 200),
	} {
		_, err := CSV([]byte(text), Options{})
		require.Equal(t, models.CodeMalformed, models.CodeOf(err), name)
		assert.Contains(t, err.Error(), "100 columns", name)
	}
	for name, text := range map[string]string{
		"many rows":           strings.Repeat("a,b,c,d\n", 200),
		"commas in quotes":    `"` + strings.Repeat(",", 200) + `",b` + "\n",
		"quotes in quotes":    `"` + strings.Repeat(`"",`, 200) + `",b` + "\n",
		"dropped by an error": `a"` + strings.Repeat(",", 200) + "\nb,c\n",
		"never closed":        `"` + strings.Repeat(",", 200),
		"nothing":             "",
	} {
		assert.Zero(t, tooWide([]byte(text), ','), name)
	}
}

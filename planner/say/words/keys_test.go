package words_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hotday/planner/say/words"
)

func TestKeysIsALanguageInWhichEveryTextIsItsKey(t *testing.T) {
	t.Parallel()
	l := catalogue(t, map[string]string{"en/a.json": `{"hello": "Hello {name}", "left": {"one": "{n} bag", "other": "{n} bags"}}`})
	keys := l.For(words.Keys)
	assert.Equal(t, words.Keys, keys.Language())
	assert.Equal(t, "hello", keys.Say("hello", "name", "Ida"))
	assert.Equal(t, "left", keys.Say("left", "n", 1))
	assert.True(t, keys.Has("hello"))
	assert.False(t, keys.Has("nothing"))
	assert.Equal(t, "Hello Ida", l.For("zxx-x-other, de").Say("hello", "name", "Ida"), "only the exact tag")
	assert.Len(t, l.All(), 1, "it is nobody's language")
}

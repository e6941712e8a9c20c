package words_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/planner/say/words"
)

func catalogue(t *testing.T, files map[string]string) *words.Languages {
	t.Helper()
	root := fstest.MapFS{}
	for name, s := range files {
		root[name] = &fstest.MapFile{Data: []byte(s)}
	}
	l, err := words.Load(root)
	require.NoError(t, err)
	return l
}

func TestTextsFollowTheLanguageAndItsPlurals(t *testing.T) {
	t.Parallel()
	l := catalogue(t, map[string]string{
		"en/a.json": `{"hello": "Hello {name}", "left": {"one": "{n} bag is left", "other": "{n} bags are left"}, "only": "only here"}`,
		"pl/a.json": `{"hello": "Cześć {name}", "left": {"one": "{n} worek", "few": "{n} worki", "other": "{n} worków"}}`,
	})
	en, pl := l.For("en-GB"), l.For("pl")
	assert.Equal(t, "Hello Ida", en.Say("hello", "name", "Ida"))
	assert.Equal(t, "1 bag is left", en.Say("left", "n", 1))
	assert.Equal(t, "0 bags are left", en.Say("left", "n", 0))
	assert.Equal(t, "1.0 bags are left", en.Say("left", "n", "1.0"))
	assert.Equal(t, "3 worki", pl.Say("left", "n", 3))
	assert.Equal(t, "5 worków", pl.Say("left", "n", 5))
	assert.Equal(t, "only here", pl.Say("only"), "what a language lacks is said in English")
	assert.Equal(t, "Hello Ida", l.For("zz-nowhere").Say("hello", "name", "Ida"))
	assert.Equal(t, "no.such.key", pl.Say("no.such.key"))
	assert.Equal(t, "Hello {x}", en.Say("hello", "name", "{x}"), "an argument is not read for arguments")
}

func TestBrokenCataloguesAreRefusedByName(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ file, text, want string }{
		{"de/a.json", `{}`, "no English"},
		{"en/a.json", `{"a": 3}`, "en/a.json"},
		{"en/a.json", `{"a": {"one": "x"}}`, `"other" is missing`},
		{"en/a.json", `{"a": {"some": "x", "other": "y"}}`, "not a plural form"},
	} {
		_, err := words.Load(fstest.MapFS{c.file: &fstest.MapFile{Data: []byte(c.text)}})
		assert.ErrorContains(t, err, c.want)
	}
	_, err := words.Load(fstest.MapFS{"en/a.json": &fstest.MapFile{Data: []byte(`{"a":"x"}`)}, "en/b.json": &fstest.MapFile{Data: []byte(`{"a":"y"}`)}})
	assert.ErrorContains(t, err, "another file")
}

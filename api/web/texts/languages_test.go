package texts_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// catalogues are the folders with a folder per language.
var catalogues = []string{".", "../../../planner/say/words"}

// forms are an entry's texts by plural form.
func forms(t *testing.T, raw json.RawMessage) map[string]string {
	t.Helper()
	var one string
	if json.Unmarshal(raw, &one) == nil {
		return map[string]string{"other": one}
	}
	out := map[string]string{}
	require.NoError(t, json.Unmarshal(raw, &out))
	return out
}

func entries(t *testing.T, file string) map[string]json.RawMessage {
	t.Helper()
	out := map[string]json.RawMessage{}
	b, err := os.ReadFile(file)
	if !assert.NoError(t, err) {
		return out
	}
	require.NoError(t, json.Unmarshal(b, &out), file)
	return out
}

func arguments(text string) []string {
	out := argument.FindAllString(text, -1)
	slices.Sort(out)
	return slices.Compact(out)
}

var (
	// alike are the words that are the same in both languages, and units.
	alike = regexp.MustCompile(`^(April|August|September|November|Calcium|Code|Cold Brew|Demo|Magnesium|MET Norway|Name|Open-Meteo|Par ×|Pause|PDF|Plan|Region|US National Weather Service|Webhooks|[\d\s+\x{202f}]*h?[\s\x{202f}]*min)$`)
	// letters are at least three in a row outside of arguments and markup.
	letters  = regexp.MustCompile(`\pL{3}`)
	pointed  = regexp.MustCompile(`\d\.\d`)
	crammed  = regexp.MustCompile(`(\d|\})%`)
	hyphens  = regexp.MustCompile(` - |\.\.\.|'`)
	licences = regexp.MustCompile(`(BY|NLOD) \d\.\d`)
)

// Every language has every text of English with its arguments and with the plural forms that English has, in its own words and numbers.
func TestLanguagesAreWhole(t *testing.T) {
	t.Parallel()
	for _, folder := range catalogues {
		english, err := filepath.Glob(filepath.Join(folder, "en", "*.json"))
		require.NoError(t, err)
		require.NotEmpty(t, english, folder)
		for _, file := range english {
			name := filepath.Base(file)
			en, de := entries(t, file), entries(t, filepath.Join(folder, "de", name))
			for key := range de {
				if _, ok := en[key]; !ok {
					t.Errorf("%s: no English text %s", name, key)
				}
			}
			for key, raw := range en {
				if _, ok := de[key]; !ok {
					t.Errorf("%s: no German text %s", name, key)
					continue
				}
				ours, theirs := forms(t, raw), forms(t, de[key])
				assert.Equal(t, len(ours), len(theirs), "%s: %s: plural forms", name, key)
				for form, text := range theirs {
					assert.Equal(t, arguments(ours[form]), arguments(text), "%s: %s", name, key)
					assert.NotRegexp(t, pointed, licences.ReplaceAllString(text, ""), "%s: %s: a decimal comma", name, key)
					assert.NotRegexp(t, crammed, markup.ReplaceAllString(text, ""), "%s: %s: a space before %%", name, key)
					assert.NotRegexp(t, hyphens, markup.ReplaceAllString(text, ""), "%s: %s", name, key)
					words := argument.ReplaceAllString(markup.ReplaceAllString(text, " "), " ")
					if letters.MatchString(words) && !alike.MatchString(strings.TrimSpace(words)) {
						assert.NotEqual(t, strings.ToLower(ours[form]), strings.ToLower(text), "%s: %s is English", name, key)
					}
				}
			}
		}
	}
}

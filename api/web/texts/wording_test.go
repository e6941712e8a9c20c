package texts_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// banned are wordings that English texts must not use, with the usual ones.
var banned = map[string]string{
	`anew`:                              "again",
	`wished`:                            "target",
	`shall`:                             "will",
	`stands? above`:                     "comes first",
	`reckon\w*`:                         "assume, expect, include",
	`(fall|falls|fell) away`:            "is cancelled",
	`lived`:                             "simulated, replayed",
	`(take|takes|taken) (\w+ )?back`:    "undo, remove, revoke",
	`take away`:                         "remove",
	`leave out`:                         "skip",
	`leave it as it was`:                "cancel",
	`put aside`:                         "dismiss",
	`gets in`:                           "access",
	`told`:                              "sent, reported",
	`one in`:                            "each",
	`(is|are|was|were) no`:              "is not a",
	`what (became|becomes|came) of`:     "the result",
	`what (is|was) (known|told|warned)`: "events, fixes, warnings",
	`who changed what`:                  "activity log",
	`looked back on`:                    "how the day went",
	`opens nothing`:                     "isn't valid",
	`turn a number`:                     "change a number",
	`right would be`:                    "enter",
	`whoever`:                           "a verb: tick when done",
	`asked for`:                         "demand",
	`times as much`:                     "10% busier",
	`made for the level`:                "enough for 9 days in 10",
	`older than its hold`:               "past its use-by time",
	`steeped`:                           "cold brew",
	`(drink|plain) ice`:                 "ice for drinks, ice-bath ice",
	`bath ice`:                          "ice-bath ice",
	`bins?`:                             "ice bin",
	`makers?`:                           "ice machine",
	`moulds?`:                           "trays",
	`treated`:                           "RO water, brewing water",
	`(draw|draws|drawn)`:                "fill",
	`(pull|pulls|pulled)`:               "get out, take from the freezer",
	`packs? of (beans|coffee)`:          "bag",
	`86'd`:                              "sold out",
	`servings`:                          "drinks",
	`your word`:                         "your number",
	`levels?`:                           "enough 9 days in 10",
	`day parts?`:                        "morning, lunch by name; times of day",
	`short of`:                          "out of, missed",
	`set-up`:                            "settings",
	`food code`:                         "your local food safety rules",
}

var (
	argument = regexp.MustCompile(`\{\w+\}`)
	markup   = regexp.MustCompile(`<[^>]*>`)
	// idioms contain a banned wording and are fine.
	idioms = regexp.MustCompile(`\b(ice bin|ice-bath ice|there (is|are|was|were) no|no longer|no more|treated as)\b`)
)

// patterns are the compiled keys of banned.
var patterns = func() map[string]*regexp.Regexp {
	out := map[string]*regexp.Regexp{}
	for pattern := range banned {
		out[pattern] = regexp.MustCompile(`\b` + pattern + `\b`)
	}
	return out
}()

// misworded lists the banned wordings in a text.
func misworded(text string) (out []string) {
	text = strings.ToLower(strings.ReplaceAll(text, "’", "'"))
	text = argument.ReplaceAllString(markup.ReplaceAllString(text, " "), "…")
	text = idioms.ReplaceAllString(text, "…")
	for pattern, r := range patterns {
		if r.MatchString(text) {
			out = append(out, pattern)
		}
	}
	return out
}

func TestTextsUseTheUsualWords(t *testing.T) {
	t.Parallel()
	var files []string
	for _, pattern := range []string{"en/*.json", "../../../planner/say/words/en/*.json"} {
		found, err := filepath.Glob(pattern)
		require.NoError(t, err)
		require.NotEmpty(t, found, pattern)
		files = append(files, found...)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		var entries map[string]any
		require.NoError(t, json.Unmarshal(data, &entries), file)
		for _, entry := range entries {
			forms, isPlural := entry.(map[string]any)
			if !isPlural {
				forms = map[string]any{"other": entry}
			}
			for _, text := range forms {
				for _, pattern := range misworded(text.(string)) {
					t.Errorf("%s: %q has %q: say %s", filepath.Base(file), text, pattern, banned[pattern])
				}
			}
		}
	}
}

func TestMiswordedTextsAreFound(t *testing.T) {
	t.Parallel()
	for text, want := range map[string][]string{
		"Plan again to reckon with it.":                 {`reckon\w*`},
		"“{typed}” is no number.":                       {`(is|are|was|were) no`},
		"There is no forecast; it is no longer needed.": nil,
		"Ice-bath ice in its ice bin, {level}":          nil,
		"Drink ice in the bin":                          {`(drink|plain) ice`, `bins?`},
		"1 pack of {name}":                              nil,
		"Shallow bags are redrawn":                      nil,
		"What became of <b>it</b>":                      {`what (became|becomes|came) of`},
		"The key was taken back":                        {`(take|takes|taken) (\w+ )?back`},
		"Don’t use 86’d":                                {`86'd`},
	} {
		assert.ElementsMatch(t, want, misworded(text), text)
	}
}

package texts_test

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
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

	`what (\w+ ){0,2}(sell|said|yields?)`: "sales, forecast, output",
	`nobody (has counted|must)`:           "you haven't",
	`nothing must`:                        "nothing to decide",
	`four fifths|three fifths`:            "a number",
	`forms for ice|ice forms|the forms`:   "trays",
	`no amount`:                           "enter how much",
	`(in|of) rfc \d+`:                     "an example",
	`does not do that|no such form`:       "not allowed, not acceptable",
	`by what`:                             "the name of the thing",
	`from what`:                           "the name of the thing",
	`how good what`:                       "forecast accuracy",
	`in view`:                             "coming up",
	`put back`:                            "load, restore",
	`cover`:                               "par level",
	`source water`:                        "RO water",
	`day in ten|days in ten`:              "digits: 1 day in 10",
	`of the till`:                         "till item",
	`we are behind`:                       "we’re behind",
}

var (
	argument = regexp.MustCompile(`\{\w+\}`)
	markup   = regexp.MustCompile(`<[^>]*>`)
	// idioms contain a banned wording and are fine.
	idioms = regexp.MustCompile(`\b(ice bin|ice-bath ice|there (is|are|was|were) no|no longer|no more|treated as|service levels|level to log)\b`)
)

// patterns are the compiled keys of banned.
var patterns = func() map[string]*regexp.Regexp {
	out := map[string]*regexp.Regexp{}
	for pattern := range banned {
		out[pattern] = regexp.MustCompile(`\b` + pattern + `\b`)
	}
	return out
}()

// helpTexts are the texts that the commands print: sentences and help in the Go files of the command line.
func helpTexts(t *testing.T) (out []string) {
	t.Helper()
	files := []string{"../../../main.go"}
	found, err := filepath.Glob("../../../deploy/commands/*.go")
	require.NoError(t, err)
	require.NotEmpty(t, found)
	for _, name := range append(files, found...) {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		require.NoError(t, err)
		ast.Inspect(file, func(n ast.Node) bool {
			lit, ok := n.(*ast.BasicLit)
			if !ok || lit.Kind != token.STRING {
				return true
			}
			s, _ := strconv.Unquote(lit.Value)
			if tag := reflect.StructTag(s).Get("help"); tag != "" {
				s = tag
			}
			if len(strings.Fields(s)) > 2 {
				out = append(out, s)
			}
			return true
		})
	}
	require.Greater(t, len(out), 50)
	return out
}

func TestCommandsUseTheUsualWords(t *testing.T) {
	t.Parallel()
	for _, text := range helpTexts(t) {
		for _, pattern := range misworded(text) {
			t.Errorf("%q has %q: say %s", text, pattern, banned[pattern])
		}
	}
}

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

package say_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/say/words"
	"hotday/planner/sheet"
)

// Every text that the planner's code asks for exists, and every text that exists is asked for.
func TestTheCatalogueHasTheTextsThatTheCodeAsksFor(t *testing.T) {
	t.Parallel()
	var code, own strings.Builder // own: of the planner alone
	err := filepath.WalkDir("../..", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return err
		}
		b, err := os.ReadFile(name)
		code.Write(b)
		planner := filepath.Join("..", "..", "planner")
		if strings.HasPrefix(name, planner) && !strings.HasPrefix(name, filepath.Join(planner, "audit")) { // whose rules have names like keys
			own.Write(b)
		}
		return err
	})
	require.NoError(t, err)
	english, source := words.In("en"), code.String()
	keys := english.Keys()
	for _, m := range regexp.MustCompile(`"((?:sheet|said|warn|why|way|change|plan|care|text|calc|basis|review|replay|forecast|number|span|warning|paper)\.[a-z_.0-9]*[a-z0-9])"`).FindAllStringSubmatch(own.String(), -1) {
		assert.True(t, slices.Contains(keys, m[1]), "the code asks for %q, which is not in the catalogue", m[1])
	}
	whole := regexp.MustCompile(`"([a-z_]+\.[a-z_.0-9]*)"`).FindAllStringSubmatch(source, -1)
	for _, key := range keys {
		said := false
		for _, m := range whole {
			said = said || m[1] == key || strings.HasPrefix(key, m[1]) && (strings.HasSuffix(m[1], ".") || strings.HasPrefix(key, m[1]+"_"))
		}
		assert.True(t, said, "no code asks for %q: delete it", key)
	}
}

func TestASheetIsInTheUnitsOfItsSite(t *testing.T) {
	t.Parallel()
	b, err := os.ReadFile("../../testdata/requests/one-day.json")
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStrict(b, &r))
	r.Site.Units = &models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}
	plan, err := planner.Compute(t.Context(), r)
	require.NoError(t, err)
	metric := regexp.MustCompile(`\d\x{202f}(g|kg|L|°C)\b`)
	var all strings.Builder
	for _, day := range sheet.PrepSheets(r, plan, nil, r.Now) {
		for _, task := range day.Tasks {
			all.WriteString(task.Say + "\n")
			for _, s := range []string{task.Say, task.Why} {
				if task.Kind != models.TaskWaterDraw && task.Kind != models.TaskMix { // salts are weighed in grams whatever the site's units
					assert.NotRegexp(t, metric, s)
				}
			}
		}
	}
	assert.Regexp(t, `[\d.]+\x{202f}oz coffee \(\S+\), \d+\x{202f}lb [\d.]+\x{202f}oz water`, all.String())
	assert.Regexp(t, `to 87\x{202f}°F.*, stir in .*(?i:use by) \d+:\d\d\x{202f}pm`, all.String())
	assert.Regexp(t, `Fill [\d.]+\x{202f}gal`, all.String())
}

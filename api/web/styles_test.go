package web

import (
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/api/web/texts"
	"hotday/planner/say/words"
)

// rule is a rule of the style sheet.
type rule struct {
	selector string
	body     string
	print    bool
}

var (
	comments     = regexp.MustCompile(`(?s)/\*.*?\*/`)
	declarations = regexp.MustCompile(`([a-z-]+):\s*([^;]+)`)
)

// styleRules returns the rules of the style sheet, those within a media query too, without the font's.
func styleRules(t *testing.T) []rule {
	t.Helper()
	var out []rule
	var around []string
	begin := 0
	sheet := comments.ReplaceAllString(string(styleSheet()), "")
	for i, c := range sheet {
		switch c {
		case '{':
			around = append(around, strings.TrimSpace(sheet[begin:i]))
			begin = i + 1
		case '}':
			if body := strings.TrimSpace(sheet[begin:i]); body != "" && !strings.HasPrefix(around[len(around)-1], "@font-face") {
				out = append(out, rule{around[len(around)-1], body, slices.Contains(around, "@media print")})
			}
			around, begin = around[:len(around)-1], i+1
		}
	}
	require.Empty(t, around)
	require.Greater(t, len(out), 300)
	return out
}

func (r rule) declared() map[string]string {
	out := map[string]string{}
	for _, d := range declarations.FindAllStringSubmatch(r.body, -1) {
		out[d[1]] = strings.TrimSuffix(strings.TrimSpace(d[2]), " !important")
	}
	return out
}

// Pages have three sizes of text and one of key figures. Only places that are read from elsewhere than a hand's or an arm's distance have
// them in other measures: the wall (two tasks side by side are smaller), the code of a screen that is being paired, drawings, which are scaled, and paper.
func TestPagesHaveFourSizesOfText(t *testing.T) {
	t.Parallel()
	sizes := []string{"--small", "--text", "--large", "--figure"}
	places := map[string]bool{":root": true, ".kitchen": true, ".pairing": true, ".task.two": true, ".picture": true, ".shares svg": true}
	size := regexp.MustCompile(`^var\((--small|--text|--large|--figure)\)`)
	uses := map[string]int{}
	for _, r := range styleRules(t) {
		zoom := strings.HasPrefix(r.selector, "html:has(") // a very large screen enlarges everything
		for name, value := range r.declared() {
			switch {
			case name == "font-size" || name == "font":
				if value == "inherit" || zoom {
					continue
				}
				m := size.FindStringSubmatch(value)
				if assert.NotNil(t, m, "%s has a size of its own, %s", r.selector, value) {
					uses[m[1]]++
				}
			case slices.Contains(sizes, name):
				assert.True(t, places[r.selector], "%s sets %s", r.selector, name)
			}
		}
	}
	for _, s := range sizes {
		assert.Positive(t, uses[s], "%s is used", s)
	}
	figure := regexp.MustCompile(`--figure: clamp\(([\d.]+)rem,.*, ([\d.]+)rem\)`).FindStringSubmatch(string(read("static/styles/ground.css")))
	require.NotNil(t, figure)
	for i, bound := range []float64{48, 56} {
		rem, err := strconv.ParseFloat(figure[i+1], 64)
		require.NoError(t, err)
		assert.InDelta(t, bound, 16*rem, 1e-9, "key figures have 48 to 56 px")
	}
}

// Every colour is one of the palette, and a word for a colour is never a value.
func TestColoursAreThoseOfThePalette(t *testing.T) {
	t.Parallel()
	known := map[string]bool{}
	for _, r := range styleRules(t) {
		for name := range r.declared() {
			known[name] = known[name] || strings.HasPrefix(name, "--")
		}
	}
	colour := regexp.MustCompile(`#[0-9a-fA-F]{3,8}\b|\b(?:rgb|hsl|hwb|lab|lch|oklab|oklch|color)a?\(|\b(?:white|black|red|green|blue|gray|grey|orange|yellow|teal|navy)\b`) //nolint:misspell // the name is CSS's
	for _, r := range styleRules(t) {
		for name, value := range r.declared() {
			if !strings.HasPrefix(name, "--") {
				assert.NotRegexp(t, colour, value, "%s { %s }", r.selector, name)
			}
			for _, used := range regexp.MustCompile(`var\((--[a-z-]+)`).FindAllStringSubmatch(value, -1) {
				assert.True(t, known[used[1]] || used[1] == "--inhand", "%s uses %s, which nothing sets", r.selector, used[1])
			}
		}
	}
	require.NoError(t, fs.WalkDir(templateFiles, "templates", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		page, err := templateFiles.ReadFile(name)
		for _, m := range regexp.MustCompile(`(?:fill|stroke)="([^"]+)"`).FindAllStringSubmatch(string(page), -1) {
			assert.Contains(t, []string{"none", "currentColor"}, m[1], name)
		}
		return err
	}))
}

// unicodeRanges parses what the font files hold.
func unicodeRanges(t *testing.T) (from, to []rune) {
	t.Helper()
	for _, list := range regexp.MustCompile(`unicode-range: ([^;]+);`).FindAllStringSubmatch(string(read("static/styles/font.css")), -1) {
		for span := range strings.SplitSeq(list[1], ", ") {
			a, b, wide := strings.Cut(strings.TrimPrefix(span, "U+"), "-")
			if !wide {
				b = a
			}
			for _, end := range []struct {
				text string
				list *[]rune
			}{{a, &from}, {b, &to}} {
				n, err := strconv.ParseInt(end.text, 16, 32)
				require.NoError(t, err, span)
				*end.list = append(*end.list, rune(n))
			}
		}
	}
	require.NotEmpty(t, from)
	return from, to
}

// The font has every character of the texts, and the letters of the languages that Latin-1 and Latin Extended-A are for.
func TestTheFontHasEveryCharacter(t *testing.T) {
	t.Parallel()
	from, to := unicodeRanges(t)
	has := func(c rune) bool {
		for i := range from {
			if from[i] <= c && c <= to[i] {
				return true
			}
		}
		return false
	}
	const letters = "ÄÖÜäöüßẞ ÁÉÍÑÓÚáéíñóú¿¡ ÀÂÇÈÊËÎÏÔÙÛŒœàâçèêëîïôùû« » ĄĆĘŁŃÓŚŹŻąćęłńóśźż ČĎĚŇŘŠŤŮŽčďěňřšťůž ŐŰőű ĂȘȚășț ÅÆØåæø ĞİŞğış ĀĒĢĪĶĻŅŪāēģīķļņū ĖĮŲėįų 0123456789 →−–×°±½¼¾₃"
	for _, c := range letters {
		assert.True(t, has(c), "%q", c)
	}
	catalogues := append(texts.Languages(), texts.For(words.English))
	for _, catalogue := range catalogues {
		for _, key := range catalogue.Keys() {
			for _, c := range catalogue.Say(key) {
				assert.True(t, has(c) || c == '\n', "%q of %s, %s", c, key, catalogue.Language())
			}
		}
	}
}

func TestTheFontIsSmallAndItsLicenceBesideIt(t *testing.T) {
	t.Parallel()
	bytes := 0
	for _, name := range embedded("static/fonts/*.woff2") {
		file := statics[path.Base(name)]
		assert.Equal(t, "wOF2", string(file.body[:4]), name)
		assert.Equal(t, "font/woff2", fetchStatic(t, asset(path.Base(name)), "").Header().Get("Content-Type"))
		assert.Contains(t, string(read("static/styles/font.css")), `url("`+path.Base(name)+`")`)
		bytes += len(file.body)
	}
	assert.Positive(t, bytes)
	assert.LessOrEqual(t, bytes, 100<<10, "bytes of fonts")
	assert.Contains(t, string(statics["sofia-sans-OFL.txt"].body), "SIL OPEN FONT LICENSE Version 1.1")
}

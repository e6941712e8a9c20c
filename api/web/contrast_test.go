package web

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// luminance is the relative luminance of an sRGB colour, 0 to 1 (WCAG 2.2, "relative luminance").
func luminance(rgb [3]float64) float64 {
	for i, c := range rgb {
		if c <= 0.04045 {
			rgb[i] = c / 12.92
		} else {
			rgb[i] = math.Pow((c+0.055)/1.055, 2.4)
		}
	}
	return 0.2126*rgb[0] + 0.7152*rgb[1] + 0.0722*rgb[2]
}

// contrast is the ratio of two colours, 1 to 21 (WCAG 2.2, "contrast ratio").
func contrast(a, b [3]float64) float64 {
	la, lb := luminance(a), luminance(b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

func colour(t *testing.T, hex string) (rgb [3]float64) {
	t.Helper()
	if len(hex) == 4 {
		hex = "#" + strings.Repeat(hex[1:2], 2) + strings.Repeat(hex[2:3], 2) + strings.Repeat(hex[3:4], 2)
	}
	require.Len(t, hex, 7, hex)
	for i := range rgb {
		n, err := strconv.ParseUint(hex[1+2*i:3+2*i], 16, 8)
		require.NoError(t, err, hex)
		rgb[i] = float64(n) / 255
	}
	return rgb
}

// over blends a colour of some opacity onto another.
func over(top, below [3]float64, opacity float64) (rgb [3]float64) {
	for i := range rgb {
		rgb[i] = opacity*top[i] + (1-opacity)*below[i]
	}
	return rgb
}

func TestContrastFormula(t *testing.T) {
	t.Parallel()
	black, white := colour(t, "#000"), colour(t, "#ffffff")
	assert.InDelta(t, 21, contrast(black, white), 1e-9, "by definition")
	assert.InDelta(t, 1, contrast(white, white), 1e-9)
	assert.InDelta(t, 4.54, contrast(colour(t, "#767676"), white), 0.005, "the lightest grey that passes on white, from memory")
}

// themes parses the colours of the themes: light, dark and paper.
func themes(t *testing.T, sheet string) map[string]map[string]string {
	t.Helper()
	out := map[string]map[string]string{}
	names := []string{"light", "dark", "paper"}
	for _, block := range regexp.MustCompile(`(?s):root \{(.*?)\}`).FindAllStringSubmatch(sheet, -1) {
		if !strings.Contains(block[1], "--ink:") {
			continue
		}
		require.NotEmpty(t, names, "an unknown theme")
		colours := map[string]string{}
		for _, c := range regexp.MustCompile(`--([a-z-]+):\s*(#[0-9a-f]{3,6})\b`).FindAllStringSubmatch(block[1], -1) {
			colours[c[1]] = c[2]
		}
		out[names[0]], names = colours, names[1:]
	}
	require.Empty(t, names)
	return out
}

// textOn lists the background colours of each text colour. Texts in charts have a halo in the paper colour.
var textOn = map[string][]string{
	"ink":        {"paper", "paper-deep", "field", "water-pale"},
	"ink-soft":   {"paper", "paper-deep", "field", "water-pale"},
	"water-deep": {"paper", "paper-deep", "field", "water-pale"},
	"heat":       {"paper", "paper-deep", "water-pale"},
	"paper":      {"water-deep", "water", "alarm"},
}

func TestTextContrast(t *testing.T) {
	t.Parallel()
	sheet := string(styleSheet())
	for theme, colours := range themes(t, sheet) {
		for text, grounds := range textOn {
			for _, ground := range grounds {
				require.Contains(t, colours, text)
				require.Contains(t, colours, ground)
				ratio := contrast(colour(t, colours[text]), colour(t, colours[ground]))
				assert.GreaterOrEqual(t, ratio, 4.5, "%s: %s on %s is %.2f:1", theme, text, ground, ratio)
			}
		}
	}
	for _, use := range regexp.MustCompile(`[\s;{]col[o]r: var\(--([a-z-]+)\)`).FindAllStringSubmatch(sheet, -1) {
		assert.Contains(t, textOn, use[1], "a text colour without a contrast check")
	}
	for _, use := range regexp.MustCompile(`background: var\(--([a-z-]+)\)`).FindAllStringSubmatch(sheet, -1) {
		checked := false
		for _, grounds := range textOn {
			checked = checked || slices.Contains(grounds, use[1])
		}
		assert.True(t, checked, "a background, %s, without a contrast check", use[1])
	}
}

// marksOn lists the colours that marks lie on: lines, bands, hatches, edges of fields, underlines, the focus ring.
var marksOn = map[string][]string{
	"ink":        {"paper", "paper-deep", "field", "water-pale"},
	"ink-soft":   {"paper", "paper-deep", "field", "water-pale"},
	"edge":       {"paper", "paper-deep", "field", "water-pale"},
	"ground":     {"paper", "paper-deep"},
	"water":      {"paper", "paper-deep", "water-pale"},
	"water-deep": {"paper", "paper-deep", "field", "water-pale"},
	"water-mid":  {"paper", "paper-deep", "field", "water-pale"},
	"heat":       {"paper", "paper-deep", "heat-pale"},
	"heat-mid":   {"paper", "paper-deep"},
	"alarm":      {"paper", "paper-deep"},
	"focus":      {"paper", "paper-deep", "field", "water-pale"},
	"paper":      {"alarm", "water-deep"},
}

// ornaments are the marks that may be fainter, each with the reason why nothing is lost where they are not seen.
var ornaments = []struct{ selector, why string }{
	{"part", "a part of the day has its name and its hours above"},
	{"midnight", "days have their names above"},
	{"rule", "separates lanes that stand apart"},
	{"scale", "each line has its number"},
	{"heat-fill", "the line above it is the mark"},
	{"range", "it has an edge"},
	{"tide-band", "it has an edge"},
	{"frozen", "it has an edge"},
	{"ramp", "it has an edge"},
	{"practice", "it has an edge"},
	{"cool-first", "it has its word within"},
	{"halo", "lifts a text off the drawing"},
	{"masthead", "the line within it is the mark"},
	{"hit", "the area that a finger may touch"},
}

var (
	markProperty = regexp.MustCompile(`^(fill|stroke|outline|accent-color|border(-(top|right|bottom|left))?(-color)?|text-decoration-color|box-shadow)$`) //nolint:misspell // the name is CSS's
	namedColour  = regexp.MustCompile(`var\(--([a-z-]+)\)`)
)

// Lines and shapes that carry meaning need 3:1 (WCAG 2.2, 1.4.11). So do the edges of fields and the focus ring.
func TestMarksContrast(t *testing.T) {
	t.Parallel()
	palettes := themes(t, string(styleSheet()))
	used, ornamental := map[string]bool{}, map[string]bool{}
	for _, r := range styleRules(t) {
		declared := r.declared()
		opacity := 1.0
		for _, property := range []string{"opacity", "stroke-opacity"} {
			if text, ok := declared[property]; ok && property != "opacity" || ok && declared["fill"]+declared["stroke"] != "" {
				share, err := strconv.ParseFloat(text, 64)
				require.NoError(t, err, r.selector)
				opacity *= share
			}
		}
		ornament := slices.IndexFunc(ornaments, func(o struct{ selector, why string }) bool {
			return regexp.MustCompile(`\.` + o.selector + `\b($|[^-])`).MatchString(r.selector)
		})
		for property, value := range declared {
			if !markProperty.MatchString(property) {
				continue
			}
			for _, m := range namedColour.FindAllStringSubmatch(value, -1) {
				name := m[1]
				edged := ornament >= 0 && property == "stroke" && declared["fill"] != "" // the edge is the mark
				if name == "hair" || ornament >= 0 && !edged {
					if ornament >= 0 {
						ornamental[ornaments[ornament].selector] = true
					}
					continue // rules between the rows of a table help the eye and mean nothing
				}
				used[name] = true
				if !assert.Contains(t, marksOn, name, "%s { %s }: a mark without a contrast check", r.selector, property) {
					continue
				}
				for theme, colours := range palettes {
					for _, ground := range marksOn[name] {
						below := colour(t, colours[ground])
						ratio := contrast(over(colour(t, colours[name]), below, opacity), below)
						assert.GreaterOrEqual(t, ratio, 3.0, "%s: %s { %s: %s } on %s is %.2f:1", theme, r.selector, property, name, ground, ratio)
					}
				}
			}
		}
	}
	for name := range marksOn {
		assert.True(t, used[name], "no mark has the colour %s", name)
	}
	for _, o := range ornaments {
		assert.True(t, ornamental[o.selector] || o.selector == "hit", "no rule for the ornament %s", o.selector)
	}
}

// The browser's own bars have the colour of the page.
func TestThemeColoursAreThePaper(t *testing.T) {
	t.Parallel()
	palettes := themes(t, string(styleSheet()))
	assert.Equal(t, palettes["light"]["paper"], paperLight)
	assert.Equal(t, palettes["dark"]["paper"], paperDark)
}

// A field's edge, the lines of a chart and the ring around what has the focus differ from the plain fills beside them.
func TestFillsBesideEachOtherAreToldApart(t *testing.T) {
	t.Parallel()
	for theme, colours := range themes(t, string(styleSheet())) {
		for _, pair := range [][2]string{{"water-mid", "water-pale"}, {"water-deep", "water-pale"}, {"ground", "paper"}, {"heat", "heat-pale"}, {"alarm", "paper"}} {
			ratio := contrast(colour(t, colours[pair[0]]), colour(t, colours[pair[1]]))
			assert.GreaterOrEqual(t, ratio, 3.0, "%s: %s beside %s is %.2f:1", theme, pair[0], pair[1], ratio)
		}
	}
}

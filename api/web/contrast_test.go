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
	"ink":        {"paper", "paper-deep", "water-pale"},
	"ink-soft":   {"paper", "paper-deep", "water-pale"},
	"water-deep": {"paper", "paper-deep", "water-pale"},
	"heat":       {"paper", "paper-deep"},
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

// Lines and shapes that carry meaning need 3:1 (WCAG 2.2, 1.4.11); fills of outlined areas do not.
func TestGraphicsContrast(t *testing.T) {
	t.Parallel()
	sheet := string(styleSheet())
	dots := regexp.MustCompile(`\.past \{[^}]*stroke-opacity: ([\d.]+)`).FindStringSubmatch(sheet)
	require.NotNil(t, dots)
	opacity, err := strconv.ParseFloat(dots[1], 64)
	require.NoError(t, err)
	for theme, colours := range themes(t, sheet) {
		paper := colour(t, colours["paper"])
		for _, name := range []string{"ink", "water", "water-deep", "heat", "ground", "focus"} {
			if colours[name] == "" {
				continue // the paper theme has no focus colour
			}
			assert.GreaterOrEqual(t, contrast(colour(t, colours[name]), paper), 3.0, "%s: %s", theme, name)
		}
		assert.GreaterOrEqual(t, contrast(over(colour(t, colours["water"]), paper, opacity), paper), 3.0, "%s: the dots", theme)
	}
}

package web

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// typedEffect matches an effect as people type it: a sign, "×" or nothing before a number, "%", "×" or nothing behind it, then words.
var typedEffect = regexp.MustCompile(`^([+\-−–]?)\s*([x×*]?)\s*(\d+(?:[.,]\d+)?)\s*(%?)\s*([x×]?)\s*(\pL[\pL\s]*)?$`)

// likelyFactor is the largest bare number that is read as a factor, not as a percentage.
const likelyFactor = 5.0

// readEffect reads how busy an event makes the shop: "+30 %", "30% busier", "half as busy", "1.5×", "twice as busy", "closed". A bare number
// up to 5 is a factor, a larger one a percentage more. ok is false where it is not clear.
func readEffect(text string, v voice) (factor float64, closed, ok bool) {
	text = strings.Join(strings.Fields(strings.ToLower(text)), " ") // also the narrow spaces before units
	says := func(key string) bool {
		return slices.ContainsFunc(strings.Split(v.Say(key), ","), func(w string) bool { return slices.Contains(strings.Fields(text), w) })
	}
	m := typedEffect.FindStringSubmatch(text)
	if m == nil {
		switch {
		case says("known.typed.closed"):
			return 1, true, true
		case says("known.typed.half"):
			return 0.5, false, true
		case says("known.typed.double"):
			return 2, false, true
		}
		return 0, false, false
	}
	n, err := strconv.ParseFloat(strings.Replace(m[3], ",", ".", 1), 64)
	if err != nil {
		return 0, false, false
	}
	less := says("known.typed.less")
	switch signed := m[1] != ""; {
	case m[2] != "" || m[5] != "" || says("known.typed.times"):
		factor = n
	case less || signed && m[1] != "+":
		factor = 1 - n/100
	case signed || says("known.typed.more"):
		factor = 1 + n/100
	case m[5] == "" && m[4] == "" && n <= likelyFactor:
		factor = n
	case n < 100 && m[6] == "": // 130% may be of the usual or more than usual
		factor = 1 + n/100
	default:
		return 0, false, false
	}
	return factor, false, factor >= 0 && factor <= 100
}

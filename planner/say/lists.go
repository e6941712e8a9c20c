package say

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"hotday/models"
)

// Listed joins items: "a, b and c".
func (w Writer) Listed(items []string) string {
	if n := len(items); n > 1 {
		return w.words.Say("said.and", "list", strings.Join(items[:n-1], w.words.Say("said.comma")), "last", items[n-1])
	}
	return strings.Join(items, "")
}

// LotCodes lists the lots that a batch takes its beans from: "h-12 and h-13".
func (w Writer) LotCodes(lots []models.LotUse) string {
	codes := make([]string, 0, len(lots))
	for _, l := range lots {
		codes = append(codes, l.Lot)
	}
	return w.Listed(codes)
}

// Capital returns s with its first letter in upper case.
func Capital(s string) string {
	if s == "" {
		return s
	}
	first, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[n:]
}

// IsFigure reports whether a word of a sentence, cut at ordinary spaces, is a number with whatever belongs to it: "4 670 g", "−3",
// "(2", "Sat 07:30". Pages and paper make figures stand out.
func IsFigure(word string) bool {
	for _, piece := range strings.FieldsFunc(word, func(r rune) bool { return r == '\u00a0' }) {
		piece = strings.TrimLeft(piece, "−-+(")
		if r, _ := utf8.DecodeRuneInString(piece); unicode.IsDigit(r) {
			return true
		}
	}
	return false
}

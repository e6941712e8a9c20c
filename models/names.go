package models

import (
	"bytes"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// ValidName reports whether a name can be shown in a line of text as it is: valid UTF-8 without control characters and without
// characters that change the direction of the text around them.
func ValidName(s string) bool { return utf8.ValidString(s) && !strings.ContainsFunc(s, breaksLine) }

// AcceptedName says what ValidName accepts.
const AcceptedName = "text without control characters and without characters that change the direction of text"

var siteCode = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,59}$`)

// ValidSiteCode reports whether a new site can have a code, which is part of addresses and file names. Sites made before this rule keep
// theirs.
func ValidSiteCode(code string) bool { return siteCode.MatchString(code) }

// breaksLine reports control characters, line and paragraph separators, and the marks, embeddings, overrides and isolates of the
// bidirectional algorithm (UAX 9). Joiners of scripts and emoji are allowed.
func breaksLine(r rune) bool {
	switch {
	case r >= ' ' && r < 0x7f:
		return false // nearly all
	case unicode.IsControl(r), r == '\u2028', r == '\u2029', r == '\ufeff':
		return true
	}
	return unicode.Is(unicode.Bidi_Control, r)
}

// OneLine makes a text fit for a line: characters that a name cannot have become spaces, and it is cut to most characters.
func OneLine(s string, most int) string {
	s = strings.Map(func(r rune) rune {
		if breaksLine(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, " "))
	if utf8.RuneCountInString(s) > most {
		s = string([]rune(s)[:most-1]) + "…"
	}
	return s
}

// readableNames puts the names of a document that was stored before ValidName was a rule on one line, so that it stays usable.
func readableNames(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			readableNames(v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			readableNames(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			field, rules := v.Field(i), strings.Split(v.Type().Field(i).Tag.Get("validate"), ",")
			switch {
			case !v.Type().Field(i).IsExported():
			case field.Kind() != reflect.String:
				readableNames(field)
			case slices.Contains(rules, "name") && !ValidName(field.String()):
				field.SetString(OneLine(field.String(), utf8.RuneCountInString(field.String())))
			}
		}
	}
}

// mayBreakLines reports whether a JSON document has an escape or a character that breaksLine.
func mayBreakLines(doc []byte) bool {
	return bytes.Contains(doc, []byte(`\`)) || bytes.ContainsFunc(doc, breaksLine)
}

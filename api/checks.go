package api

import (
	"fmt"
	"strings"
	"time"

	"hotday/models"
)

// checks collects the errors in rows, up to 50, to report them all at once.
type checks struct{ fields []models.FieldError }

func (k *checks) add(pointer, accepted, format string, args ...any) {
	if len(k.fields) < 50 {
		k.fields = append(k.fields, models.FieldError{Pointer: pointer, Detail: fmt.Sprintf(format, args...), Accepted: accepted})
	}
}

func (k *checks) err() error {
	if len(k.fields) == 0 {
		return nil
	}
	return &models.Error{Code: models.CodeInvalid, Message: "the document is not valid", Fields: k.fields}
}

// codeSet is the codes of one kind of thing in a set-up.
type codeSet struct {
	noun  string
	codes []string
	has   map[string]bool
}

func codeSetOf[T any](noun string, list []T, code func(T) string) codeSet {
	k := codeSet{noun: noun, has: make(map[string]bool, len(list))}
	for _, x := range list {
		k.codes = append(k.codes, code(x))
		k.has[code(x)] = true
	}
	return k
}

func drinkCodes(s models.Setup) codeSet {
	return codeSetOf("drink", s.Drinks, func(d models.Drink) string { return d.Code })
}

func dayPartCodes(s models.Setup) codeSet {
	return codeSetOf("day part", s.Site.DayParts, func(p models.DayPart) string { return p.Code })
}

func beverageCodes(s models.Setup) codeSet {
	return codeSetOf("beverage", s.Beverages, func(b models.Beverage) string { return b.Code })
}

func lotCodes(s models.Setup) codeSet {
	var lots []models.BeanLot
	for _, x := range s.Coffees {
		lots = append(lots, x.Lots...)
	}
	return codeSetOf("bean lot", lots, func(l models.BeanLot) string { return l.Code })
}

// requireCode adds an error unless the set-up has the code.
func (k *checks) requireCode(pointer, code string, among codeSet) {
	if among.has[code] {
		return
	}
	accepted := "the code of a " + among.noun + " in this site's set-up"
	if n := len(among.codes); n > 0 && n <= 12 {
		accepted = "one of " + strings.Join(among.codes, ", ")
	}
	k.add(pointer, accepted, "there is no %s %q", among.noun, code)
}

// requireNotAhead adds an error if at is more than models.MaxAhead ahead of the service's clock.
func (k *checks) requireNotAhead(pointer string, at, now time.Time) {
	if latest := now.Add(models.MaxAhead); at.After(latest) {
		k.add(pointer, "a time up to "+latest.UTC().Format(time.RFC3339)+"; check the clock of the till or device",
			"%s is ahead of the service's clock, %s", at.Format(time.RFC3339), now.UTC().Format(time.RFC3339))
	}
}

// requireOrder adds an error unless to is after from.
func (k *checks) requireOrder(at string, from, to time.Time) {
	if !to.After(from) {
		k.add(at+"/to", "a time after from, "+from.Format(time.RFC3339), "%s is not after from", to.Format(time.RFC3339))
	}
}

// requireNotBefore adds an error if to is before from. Equal times delete a stored span.
func (k *checks) requireNotBefore(at string, from, to time.Time) {
	if to.Before(from) {
		k.add(at+"/to", "a time after from, "+from.Format(time.RFC3339)+"; the same time to delete the span", "%s is before from", to.Format(time.RFC3339))
	}
}

package models

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"regexp"
	"strings"
	"sync"
	"unicode"

	"github.com/go-playground/validator/v10"
)

// ValidateStruct checks a decoded body against its validate tags. It returns one CodeInvalid *Error with the JSON pointer and the
// accepted values of every bad field.
func ValidateStruct(v any) error {
	c := checker{}
	c.tags(v)
	return c.err()
}

// checker collects all faults, so that they can be reported at once.
type checker struct{ fields []FieldError }

func (c *checker) add(pointer, accepted, format string, args ...any) {
	if len(c.fields) < maxFieldErrors {
		c.fields = append(c.fields, FieldError{Pointer: pointer, Detail: fmt.Sprintf(format, args...), Accepted: accepted})
	}
}

func (c *checker) err() error {
	if len(c.fields) == 0 {
		return nil
	}
	return &Error{Code: CodeInvalid, Message: invalidMessage, Fields: c.fields}
}

func (c *checker) tags(v any) {
	var broken validator.ValidationErrors
	err := rules().Struct(v)
	if !errors.As(err, &broken) {
		return
	}
	root := reflect.Indirect(reflect.ValueOf(v)).Type().Name()
	for _, fe := range broken {
		detail, accepted := explain(fe)
		c.add(pointerOf(fe.Namespace(), root), accepted, "%s", detail)
		f := &c.fields[len(c.fields)-1]
		switch f.Rule, f.Limit = fe.Tag(), fe.Param(); fe.Kind() {
		case reflect.Slice, reflect.Map:
			f.Rule = "list_" + f.Rule
		case reflect.String:
			f.Rule = "text_" + f.Rule
		}
	}
}

var indexed = regexp.MustCompile(`\[(\d+)\]`)

// pointerOf turns the validator's "PlanRequest.Setup.site.day_parts[0].from" into "/site/day_parts/0/from". Capitalised parts are
// embedded structs, which do not appear in JSON.
func pointerOf(namespace, root string) string {
	p := strings.TrimPrefix(namespace, root+".")
	p = indexed.ReplaceAllString(p, ".$1")
	var out strings.Builder
	for _, part := range strings.Split(p, ".") {
		if part == "" || unicode.IsUpper(rune(part[0])) {
			continue
		}
		out.WriteString("/" + part)
	}
	return out.String()
}

func explain(fe validator.FieldError) (detail, accepted string) {
	value := fmt.Sprint(fe.Value())
	if f, ok := fe.Value().(float64); ok {
		value = fmt.Sprintf("%g", f)
	}
	isList := fe.Kind() == reflect.Slice || fe.Kind() == reflect.Map
	isText := fe.Kind() == reflect.String
	switch fe.Tag() {
	case "min", "gte":
		if isList {
			return fmt.Sprintf("the list has %d entries", reflect.ValueOf(fe.Value()).Len()), "at least " + fe.Param()
		}
		if isText {
			return "the text is too short", "at least " + fe.Param() + " characters"
		}
		return value + " is too small", fe.Param() + " or more"
	case "max", "lte":
		if isList {
			return fmt.Sprintf("the list has %d entries", reflect.ValueOf(fe.Value()).Len()), "at most " + fe.Param()
		}
		if isText {
			return "the text is too long", "at most " + fe.Param() + " characters"
		}
		return value + " is too large", fe.Param() + " or less"
	case "gt":
		return value + " is too small", "more than " + fe.Param()
	case "lt":
		return value + " is too large", "less than " + fe.Param()
	case "oneof":
		return fmt.Sprintf("%q is not a valid choice", short(value)), "one of " + strings.Join(strings.Fields(fe.Param()), ", ")
	case "code":
		return fmt.Sprintf("%q is not a valid code", short(value)), "1 to 60 printable characters without / and without spaces at the ends"
	case "name":
		return "the text has a control character or one that changes the direction of text", AcceptedName
	case "zone":
		return fmt.Sprintf("%q is not a time zone", short(value)), "an IANA time zone such as Europe/Berlin"
	case "language":
		return fmt.Sprintf("%q is not a language tag", short(value)), "a tag such as en or pt-BR (BCP 47)"
	case "country":
		return fmt.Sprintf("%q is not a country code", short(value)), "a two-letter code such as DE (ISO 3166-1)"
	case "region":
		return fmt.Sprintf("%q is not the code of a region", short(value)), "a code such as BY (ISO 3166-2, without the country)"
	case "currency":
		return fmt.Sprintf("%q is not a currency code", short(value)), "a three-letter code such as EUR (ISO 4217)"
	}
	return "does not satisfy " + fe.Tag(), fe.Param()
}

var rules = sync.OnceValue(func() *validator.Validate {
	v := validator.New(validator.WithRequiredStructEnabled())
	v.RegisterTagNameFunc(func(f reflect.StructField) string {
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		return name
	})
	must := func(tag string, ok func(string) bool) {
		if err := v.RegisterValidation(tag, func(fl validator.FieldLevel) bool { return ok(fl.Field().String()) }); err != nil {
			panic(err) // a bug in this file
		}
	}
	must("code", validCode)
	must("name", ValidName)
	must("zone", validZone)
	must("language", regexp.MustCompile(`^[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8})*$`).MatchString)
	must("country", regexp.MustCompile(`^[A-Z]{2}$`).MatchString)
	must("region", regexp.MustCompile(`^[A-Z0-9]{1,3}$`).MatchString)
	must("currency", regexp.MustCompile(`^[A-Z]{3}$`).MatchString)
	return v
})

func validCode(s string) bool {
	if s == "" || len([]rune(s)) > 60 || strings.TrimSpace(s) != s {
		return false
	}
	for _, r := range s {
		if r == '/' || !unicode.IsPrint(r) {
			return false
		}
	}
	return true
}

func validZone(name string) bool {
	if name == "" || name == "Local" {
		return false
	}
	_, err := zone(name)
	return err == nil
}

// finite reports whether x is neither NaN nor infinite.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

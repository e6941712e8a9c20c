// Package calc does the single calculations of `hotday calc` and POST /v1/calc: a JSON document in, numbers with sentences and
// cautions out. Each checks its input, calls the package of its physics, and words the result.
package calc

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"hotday/models"
	"hotday/planner/say"
)

// calculations are the kinds of calculation by name.
var calculations = map[string]func(ctx context.Context, v say.Voice, body []byte) (any, error){
	"extraction": quick(calcExtraction),
	"fit":        quick(calcFit),
	"ratio":      quick(calcRatio),
	"scale":      quick(calcScale),
	"chill":      quick(calcChill),
	"ice-split":  quick(calcIceSplit),
	"ice-shares": quick(calcIceShares),
	"cool-time":  quick(calcCoolTime),
	"glass":      quick(calcGlass),
	"freeze":     quick(calcFreeze),
	"ice-store":  quick(calcIceStore),
	"maker":      quick(calcMaker),
	"water":      quick(calcWater),
	"lsi":        quick(calcLSI),
	"heat-index": quick(calcHeatIndex),
	"batches":    calcBatches,
	"lot-size":   quick(calcLotSize),
	"forecast":   calcForecast,
}

// Slow reports whether a kind may take longer than some milliseconds. A slow one ends with its context.
func Slow(kind string) bool { return kind == "batches" || kind == "forecast" }

// quick adapts a calculation that is too short to be worth cancelling.
func quick(f func(v say.Voice, body []byte) (any, error)) func(context.Context, say.Voice, []byte) (any, error) {
	return func(_ context.Context, v say.Voice, body []byte) (any, error) { return f(v, body) }
}

// Run does one calculation: from a JSON document to a value to be written as JSON, as `hotday calc KIND` and POST /v1/calc/KIND
// answer. The sentences beside the numbers are v's. Errors are *models.Error: CodeNotFound for a kind that does not exist, CodeMalformed for a document that cannot be read,
// CodeInvalid for one that is not valid, with the field and what would be accepted. Only the slow ones notice
// that ctx has ended; its error is then returned.
func Run(ctx context.Context, v say.Voice, kind string, body []byte) (any, error) {
	f, ok := calculations[kind]
	if !ok {
		return nil, NoCalculation(kind)
	}
	return f(ctx, v, body)
}

// Kinds lists the kinds of calculation in alphabetical order.
func Kinds() []string {
	kinds := make([]string, 0, len(calculations))
	for k := range calculations {
		kinds = append(kinds, k)
	}
	slices.Sort(kinds)
	return kinds
}

// remarks are the sentences beside a calculation's numbers: the result in words, and cautions. A calculation belongs to no site, so
// they are in the units of its fields.
type remarks struct {
	voice    say.Voice
	Say      []string `json:"say"`
	Cautions []string `json:"cautions"`
}

func newRemarks(v say.Voice) remarks { return remarks{voice: v, Say: []string{}, Cautions: []string{}} }

// say adds a sentence of the catalogue, with its arguments as in [words.Catalogue.Say].
func (r *remarks) say(key string, args ...any) { r.Say = appendNew(r.Say, r.voice.Say(key, args...)) }

// warn adds a caution that this calculation alone gives.
func (r *remarks) warn(key string, args ...any) {
	r.Cautions = appendNew(r.Cautions, r.voice.Say(key, args...))
}

// caution adds cautions that sheets give too.
func (r *remarks) caution(codes ...models.Caution) {
	r.Cautions = appendNew(r.Cautions, r.voice.Cautions(codes)...)
}

func appendNew(list []string, sentences ...string) []string {
	for _, s := range sentences {
		if !slices.Contains(list, s) {
			list = append(list, s)
		}
	}
	return list
}

// rangeCheck collects the faults of a calculation's input, so that one error names them all.
type rangeCheck struct{ errs []models.FieldError }

func (r *rangeCheck) add(pointer, accepted, format string, args ...any) {
	r.errs = append(r.errs, models.FieldError{Pointer: pointer, Detail: fmt.Sprintf(format, args...), Accepted: accepted})
}

// within requires lo ≤ x ≤ hi.
func (r *rangeCheck) within(pointer string, x, lo, hi float64, unit string) {
	if !(x >= lo && x <= hi) {
		r.add(pointer, fmt.Sprintf("%s to %s%s", decimal(lo), decimal(hi), unit), "is %s", decimal(x))
	}
}

func (r *rangeCheck) err() error {
	if len(r.errs) == 0 {
		return nil
	}
	return &models.Error{Code: models.CodeInvalid, Message: "the document is not valid", Fields: r.errs}
}

// typed writes an input as it was typed, with the decimal sign of the language.
func typed(v say.Voice, x float64) string { return v.Typed(decimal(x)) }

// decimal writes a number with up to four decimals, without trailing zeros, and with an exponent only from a billion on.
func decimal(x float64) string {
	if a := math.Abs(x); a < 1e9 && a >= 1e-4 || a == 0 {
		s := strings.TrimRight(fmt.Sprintf("%.4f", x), "0")
		return strings.TrimRight(s, ".")
	}
	return fmt.Sprintf("%g", x)
}

// givenOr is the value of an optional number, other if it is not given.
func givenOr(x *float64, other float64) float64 {
	if x == nil {
		return other
	}
	return *x
}

// orNull is a pointer to x; nil if x is NaN or infinite, which JSON cannot hold.
func orNull(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

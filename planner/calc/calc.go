package calc

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"hotday/models"
	"hotday/planner/demand/forecast"
	"hotday/planner/say"
)

// calculations are the kinds that answer, by name.
var calculations = map[string]func(ctx context.Context, body []byte) (any, error){
	"extraction": quick(calcExtraction),
	"fit":        quick(calcFit),
	"ratio":      quick(calcRatio),
	"scale":      quick(calcScale),
	"chill":      quick(calcChill),
	"ice-split":  quick(calcIceSplit),
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
	"forecast":   quick(forecast.Calc),
}

// quick is a calculation that is over before anybody could give it up.
func quick(f func(body []byte) (any, error)) func(context.Context, []byte) (any, error) {
	return func(_ context.Context, body []byte) (any, error) { return f(body) }
}

// Calc does one calculation: a JSON document in, a value to be written as JSON out. It is what `hotday calc KIND` and POST
// /v1/calc/KIND answer with. Errors are *models.Error: CodeNotFound for a kind that does not exist, CodeMalformed for a
// document that cannot be read, CodeInvalid for one that breaks a rule, with the field and what would be right. When ctx ends first, which only the batch search takes long enough to notice, its
// error is returned.
func Calc(ctx context.Context, kind string, body []byte) (any, error) {
	f, ok := calculations[kind]
	if !ok {
		return nil, NoCalculation(kind)
	}
	return f(ctx, body)
}

// CalcKinds lists the kinds that Calc answers, in order of the alphabet.
func CalcKinds() []string {
	kinds := make([]string, 0, len(calculations))
	for k := range calculations {
		kinds = append(kinds, k)
	}
	slices.Sort(kinds)
	return kinds
}

// remarks are the words beside a calculation's numbers: what they say, and what to take care of.
type remarks struct {
	Say      []string `json:"say"`
	Cautions []string `json:"cautions"`
}

func newRemarks() remarks { return remarks{Say: []string{}, Cautions: []string{}} }

func (r *remarks) say(sentences ...string) { r.Say = appendSaid(r.Say, sentences) }
func (r *remarks) caution(codes ...models.Caution) {
	r.Cautions = appendSaid(r.Cautions, say.Plain().Cautions(codes))
}

// warn adds cautions that no code stands for.
func (r *remarks) warn(sentences ...string) { r.Cautions = appendSaid(r.Cautions, sentences) }

func appendSaid(list, sentences []string) []string {
	for _, s := range sentences {
		if s != "" && !slices.Contains(list, s) {
			list = append(list, s)
		}
	}
	return list
}

// rangeCheck gathers what is out of range in a calculation's input, so that one answer names all of it.
type rangeCheck struct{ errs []models.FieldError }

func (r *rangeCheck) add(pointer, accepted, format string, args ...any) {
	r.errs = append(r.errs, models.FieldError{Pointer: pointer, Detail: fmt.Sprintf(format, args...), Accepted: accepted})
}

// within wants lo ≤ x ≤ hi.
func (r *rangeCheck) within(pointer string, x, lo, hi float64, unit string) {
	if !(x >= lo && x <= hi) {
		r.add(pointer, fmt.Sprintf("%s to %s%s", inWords(lo), inWords(hi), unit), "is %s", inWords(x))
	}
}

func (r *rangeCheck) err() error {
	if len(r.errs) == 0 {
		return nil
	}
	return &models.Error{Code: models.CodeInvalid, Message: "the document breaks a rule", Fields: r.errs}
}

// inWords writes a number as a person would, without an exponent up to a billion.
func inWords(x float64) string {
	if a := math.Abs(x); a < 1e9 && a >= 1e-4 || a == 0 {
		s := strings.TrimRight(fmt.Sprintf("%.4f", x), "0")
		return strings.TrimRight(s, ".")
	}
	return fmt.Sprintf("%g", x)
}

// givenOr is the value of an optional number.
func givenOr(x *float64, other float64) float64 {
	if x == nil {
		return other
	}
	return *x
}

// orNull is a pointer to x, nil where x is not a number that JSON can say.
func orNull(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

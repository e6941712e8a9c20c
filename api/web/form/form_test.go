package form_test

import (
	"encoding/json"
	"net/url"
	"os"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/api/web/form"
	"hotday/models"
	"hotday/planner/say"
)

var whole = reflect.TypeFor[models.Setup]()

func document(t *testing.T) map[string]any {
	t.Helper()
	b, err := os.ReadFile("../../../deploy/demo/setup.json")
	require.NoError(t, err)
	var s models.Setup
	require.NoError(t, models.DecodeStrict(b, &s))
	b, err = json.Marshal(s)
	require.NoError(t, err)
	var doc map[string]any
	require.NoError(t, json.Unmarshal(b, &doc))
	return doc
}

// typedBack collects what a browser submits for untouched fields.
func typedBack(f form.Field, out url.Values) {
	for _, x := range f.Fields {
		typedBack(x, out)
	}
	switch f.Kind {
	case form.Group, form.Rows:
	case form.Checkbox:
		if f.On {
			out.Set(f.Pointer, "yes")
		}
	case form.Choice, form.Multi:
		for _, o := range f.Options {
			if o.On {
				out.Add(f.Pointer, o.Value)
			}
		}
	default:
		out.Set(f.Pointer, f.Value)
	}
}

var american = models.Site{Units: &models.Units{Temperature: models.Fahrenheit, Mass: models.OuncesPounds, Volume: models.FluidOuncesGallons}}

// Opening and saving a page changes nothing, in any units.
func TestRoundTripChangesNothing(t *testing.T) {
	t.Parallel()
	for name, site := range map[string]models.Site{"metric": {}, "American": american} {
		w := form.Config{Writer: say.WriterFor(site), Currency: "EUR", Decimals: 2}
		for _, part := range []string{"/site", "/coffees", "/beverages", "/drinks", "/brewers", "/ice", "/water", "/costs"} {
			doc := document(t)
			typed := url.Values{}
			typedBack(w.Build(whole, part, form.At(doc, part), nil, nil), typed)
			got, _, wrong := w.Read(whole, part, typed, form.At(doc, part))
			require.Empty(t, wrong, "%s %s", name, part)
			assert.Equal(t, setupWith(t, document(t), part, form.At(doc, part)), setupWith(t, document(t), part, got), "%s %s", name, part)
		}
	}
}

// setupWith decodes a document with one part replaced, which makes null and missing fields equal.
func setupWith(t *testing.T, doc map[string]any, part string, value any) models.Setup {
	t.Helper()
	form.Put(doc, part, value)
	b, err := json.Marshal(doc)
	require.NoError(t, err)
	var s models.Setup
	require.NoError(t, models.DecodeStrict(b, &s))
	s.Site.Units = nil // the page submits the defaults
	return s
}

func TestQuantitiesAreReadInTheSitesUnits(t *testing.T) {
	t.Parallel()
	w := form.Config{Writer: say.WriterFor(american), Currency: "USD", Decimals: 2}
	typed := url.Values{"/beverages/0/target_temp_c": {"41"}, "/beverages/0/ice_share": {"25"}, "/beverages/0/disposal_cost_per_kg": {"0.10"}, "/beverages/0/ratio": {"15,5"}}
	got, _, wrong := w.Read(whole, "/beverages", typed, nil)
	require.Empty(t, wrong)
	row := got.([]any)[0].(map[string]any)
	assert.InDelta(t, 5, row["target_temp_c"], 1e-9)
	assert.InDelta(t, 0.25, row["ice_share"], 1e-9)
	assert.InDelta(t, 22.0462, row["disposal_cost_per_kg"], 1e-4, "10 cents per pound")
	assert.InDelta(t, 15.5, row["ratio"], 1e-9)
}

func TestUnparsableValuesAreShownAgainWithAnError(t *testing.T) {
	t.Parallel()
	w := form.Config{Writer: say.WriterFor(models.Site{}), Currency: "EUR", Decimals: 2}
	got, raw, wrong := w.Read(whole, "/beverages", url.Values{"/beverages/0/target_temp_c": {"cold"}, "/beverages/0/code": {"x"}}, nil)
	require.Len(t, wrong, 1)
	assert.Equal(t, models.FieldError{Pointer: "/beverages/0/target_temp_c", Detail: `"cold" cannot be read`, Accepted: "a number in °C", Rule: form.RuleNumber, Limit: "°C"}, wrong[0])
	f := w.Build(whole, "/beverages", got, raw, wrong)
	for _, x := range f.Fields[0].Fields {
		if x.Pointer == "/beverages/0/target_temp_c" {
			assert.Equal(t, "cold", x.Value)
			assert.Equal(t, wrong, x.Wrong)
		}
	}
}

func TestRowsAreAddedCopiedAndRemoved(t *testing.T) {
	t.Parallel()
	codes := func(doc map[string]any) (out []any) {
		for _, x := range doc["brewers"].([]any) {
			out = append(out, x.(map[string]any)["code"])
		}
		return out
	}
	doc := document(t)
	before := codes(doc)
	form.Copy(doc, "/brewers/0")
	assert.Equal(t, []any{before[0], "Left-2", before[1], before[2]}, codes(doc))
	form.Remove(doc, "/brewers/1")
	assert.Equal(t, before, codes(doc))
	form.Add(doc, "/brewers", map[string]any{"code": "new"})
	assert.Equal(t, append(before, "new"), codes(doc))
	form.Remove(doc, "/brewers/9")
	form.Remove(doc, "/nothing/0")
	assert.Equal(t, append(before, "new"), codes(doc))
}

package openapi_test

import (
	"bytes"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the schemas of the contract anew from the Go types")

const (
	contractFile = "openapi.yaml"
	startMark    = "    # Schemas below are written from the Go types: go test ./openapi -update\n"
)

// The contract's schemas say what the decoder and the validator hold: names, what may be left out, defaults and ranges. They are
// written from the very tags that the decoder and the validator read, so that the contract cannot promise anything else.
func TestSchemasAreThoseOfTheTypes(t *testing.T) {
	t.Parallel()
	w := newSchemaWriter(t)
	for _, r := range requestRoots {
		w.add(r, true)
	}
	for _, r := range responseRoots {
		w.add(r, false)
	}
	want := w.text()
	file, err := os.ReadFile(contractFile)
	require.NoError(t, err)
	head, have, found := bytes.Cut(file, []byte(startMark))
	require.True(t, found, "the contract has lost its mark %q", startMark)
	if *update {
		require.NoError(t, os.WriteFile(contractFile, slices.Concat(head, []byte(startMark), []byte(want)), 0o644))
		return
	}
	require.Equal(t, string(have), want, "the types have changed: run go test ./openapi -update, and look at what the contract now says")
}

// requestRoots are the bodies that are read, responseRoots those that are only answered.
var requestRoots = []string{
	"models.Setup", "models.PlanRequest", "models.SalesPost", "models.WeatherPost", "models.StockCount", "models.TaskMark",
	"api.mappingsBody", "api.expectedBody", "api.eventsBody", "api.offSaleBody", "api.outagesBody", "api.attentionBody",
	"api.stockChangesBody", "api.planBody", "api.replayBody", "api.tokenBody", "api.sessionBody", "api.claimBody", "api.screenBody", "api.personBody", "api.welcomeBody",
	"api.passwordBody", "api.screenChange", "api.webhookBody",
	"planner.extractionIn", "planner.fitIn", "planner.ratioIn", "planner.scaleIn", "planner.chillIn", "planner.iceSplitIn",
	"planner.coolTimeIn", "planner.glassIn", "planner.freezeIn", "planner.iceStoreIn", "planner.makerIn", "planner.waterIn",
	"planner.lsiIn", "planner.heatIndexIn", "planner.lotSizeIn", "batch.Instance", "forecast.Document",
}

var responseRoots = []string{
	"models.Problem", "models.Plan", "models.PlanHead", "models.PrepSheet", "models.SalesResult", "models.SalesRow",
	"models.UnmappedItem", "models.WeatherRow", "models.OpenWarning", "models.LiveEvent", "models.Token", "models.Change",
	"api.mappingsAnswer", "api.stored", "api.ordered", "api.planChanges", "api.published", "api.marked", "api.newToken",
	"api.sessionAnswer", "api.pairingAnswer", "api.claimAnswer", "models.Screen", "models.CalendarKey", "api.newCalendarKey",
	"api.salesFilePreview", "api.siteHead", "api.health", "api.forecastPage", "api.replayOrdered", "models.Review", "models.Replay", "models.Progress",
	"models.Person", "models.Session", "models.AuditEntry", "models.Webhook", "models.Delivery", "models.HookBody",
	"api.newPerson", "api.setUpLink", "api.welcomeAnswer", "api.newWebhook",
	"planner.extractionOut", "planner.fitOut", "planner.ratioOut", "planner.scaleOut", "planner.chillOut", "planner.iceSplitOut",
	"planner.coolTimeOut", "planner.glassOut", "planner.freezeOut", "planner.iceStoreOut", "planner.makerOut", "planner.waterOut",
	"planner.lsiOut", "planner.heatIndexOut", "planner.lotSizeOut", "batch.Result", "forecast.Answer",
}

var sources = map[string]string{"models": "../models", "api": "../api", "planner": "../planner", "batch": "../planner/batch",
	"forecast": "../planner/demand/forecast", "salesfile": "../api/salesfile"}

type goType struct {
	pkg, doc string
	expr     ast.Expr
}

type schemaWriter struct {
	t     *testing.T
	types map[string]goType // "models.Setup"
	out   map[string]string // schema name → text
}

func newSchemaWriter(t *testing.T) *schemaWriter {
	w := &schemaWriter{t: t, types: map[string]goType{}, out: map[string]string{}}
	for pkg, dir := range sources {
		files, err := filepath.Glob(dir + "/*.go")
		require.NoError(t, err)
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments)
			require.NoError(t, err)
			for _, d := range f.Decls {
				w.index(pkg, d)
			}
		}
	}
	return w
}

func (w *schemaWriter) index(pkg string, d ast.Decl) {
	g, ok := d.(*ast.GenDecl)
	if !ok || g.Tok != token.TYPE {
		return
	}
	for _, s := range g.Specs {
		ts := s.(*ast.TypeSpec)
		doc := ts.Doc.Text()
		if doc == "" {
			doc = g.Doc.Text()
		}
		w.types[pkg+"."+ts.Name.Name] = goType{pkg: pkg, doc: sentence(doc), expr: ts.Type}
	}
}

// sentence makes one line of a comment.
func sentence(doc string) string { return strings.Join(strings.Fields(doc), " ") }

// schemaName keeps the names of packages apart.
func schemaName(full string) string {
	pkg, name, _ := strings.Cut(full, ".")
	name = strings.ToUpper(name[:1]) + name[1:]
	switch {
	case full == "batch.Instance":
		return "BatchInstance"
	case pkg == "batch":
		return "Batch" + name
	case pkg == "salesfile":
		return "SalesFile" + name
	case pkg == "forecast":
		return "Forecast" + name
	}
	return name
}

func (w *schemaWriter) add(full string, request bool) {
	name := schemaName(full)
	if _, done := w.out[name]; done {
		return
	}
	typ, ok := w.types[full]
	require.True(w.t, ok, "there is no type %s", full)
	st, ok := typ.expr.(*ast.StructType)
	require.True(w.t, ok, "%s is no struct", full)
	w.out[name] = "" // in work: types may refer to themselves
	var props, required []string
	w.fields(typ.pkg, st, request, &props, &required)
	var b strings.Builder
	fmt.Fprintf(&b, "    %s:\n", name)
	if typ.doc != "" {
		fmt.Fprintf(&b, "      description: %s\n", quote(typ.doc))
	}
	b.WriteString("      type: object\n")
	if request {
		b.WriteString("      additionalProperties: false\n")
	}
	if len(required) > 0 {
		fmt.Fprintf(&b, "      required: [%s]\n", strings.Join(required, ", "))
	}
	b.WriteString("      properties:\n" + strings.Join(props, ""))
	w.out[name] = b.String()
}

func (w *schemaWriter) fields(pkg string, st *ast.StructType, request bool, props, required *[]string) {
	for _, f := range st.Fields.List {
		if len(f.Names) == 0 {
			embedded := w.types[w.fullName(pkg, f.Type)]
			w.fields(embedded.pkg, embedded.expr.(*ast.StructType), request, props, required)
			continue
		}
		if f.Tag == nil {
			continue
		}
		raw, err := strconv.Unquote(f.Tag.Value)
		require.NoError(w.t, err)
		tag := reflect.StructTag(raw)
		name, opts, _ := strings.Cut(tag.Get("json"), ",")
		if name == "" || name == "-" {
			continue
		}
		preset, hasPreset := tag.Lookup("default")
		optional := w.optional(pkg, f.Type, tag) || hasPreset
		s := w.schema(pkg, f.Type, request)
		s.rules(tag.Get("validate"))
		if request {
			s.null = optional
			if hasPreset {
				s.set("default", s.literal(preset))
			}
		} else {
			optional = strings.Contains(opts, "omit")
		}
		if !optional {
			*required = append(*required, name)
		}
		comment := sentence(f.Comment.Text())
		if words, ok := meanings[name]; ok && comment == "" {
			comment = words
		}
		if comment != "" {
			s.set("description", quote(comment))
		}
		*props = append(*props, fmt.Sprintf("        %s: %s\n", name, s.flow()))
	}
}

// optional is the decoder's rule: pointers, lists, maps and what the tag says.
func (w *schemaWriter) optional(pkg string, e ast.Expr, tag reflect.StructTag) bool {
	switch tag.Get("opt") {
	case "true":
		return true
	case "false":
		return false
	}
	switch e.(type) {
	case *ast.StarExpr, *ast.ArrayType, *ast.MapType, *ast.InterfaceType:
		return true
	}
	return w.fullName(pkg, e) == "json.RawMessage"
}

func (w *schemaWriter) fullName(pkg string, e ast.Expr) string {
	switch x := e.(type) {
	case *ast.Ident:
		return pkg + "." + x.Name
	case *ast.SelectorExpr:
		return x.X.(*ast.Ident).Name + "." + x.Sel.Name
	}
	return ""
}

// schema is one property: its keywords in order.
type schema struct {
	keys  []string
	vals  map[string]string
	null  bool
	items *schema
}

func newSchema(kv ...string) *schema {
	s := &schema{vals: map[string]string{}}
	for i := 0; i < len(kv); i += 2 {
		s.set(kv[i], kv[i+1])
	}
	return s
}

func (s *schema) set(key, val string) {
	if _, ok := s.vals[key]; !ok {
		s.keys = append(s.keys, key)
	}
	s.vals[key] = val
}

func (w *schemaWriter) schema(pkg string, e ast.Expr, request bool) *schema {
	switch x := e.(type) {
	case *ast.StarExpr:
		s := w.schema(pkg, x.X, request)
		s.null = true
		return s
	case *ast.ArrayType:
		s := newSchema("type", "array")
		s.items = w.schema(pkg, x.Elt, request)
		return s
	case *ast.MapType:
		return newSchema("type", "object")
	case *ast.StructType:
		return w.inline(pkg, x, request)
	case *ast.InterfaceType:
		return newSchema()
	}
	full := w.fullName(pkg, e)
	require.NotEmpty(w.t, full, "%T in package %s has no name", e, pkg)
	switch full {
	case "time.Time":
		return newSchema("type", "string", "format", "date-time")
	case "models.Date":
		return newSchema("type", "string", "format", "date")
	case "models.Clock":
		return newSchema("type", "string", "pattern", quote("^([01][0-9]|2[0-3]):[0-5][0-9]$|^24:00$"))
	case "json.RawMessage":
		return newSchema()
	}
	switch full[strings.Index(full, ".")+1:] {
	case "string":
		return newSchema("type", "string")
	case "bool":
		return newSchema("type", "boolean")
	case "float64":
		return newSchema("type", "number")
	case "int", "int64":
		return newSchema("type", "integer")
	case "any":
		return newSchema()
	}
	typ, ok := w.types[full]
	require.True(w.t, ok, "there is no type %s", full)
	if _, isStruct := typ.expr.(*ast.StructType); !isStruct {
		return w.schema(typ.pkg, typ.expr, request)
	}
	w.add(full, request)
	return newSchema("$ref", quote("#/components/schemas/"+schemaName(full)))
}

// inline is a struct without a name of its own.
func (w *schemaWriter) inline(pkg string, st *ast.StructType, request bool) *schema {
	var props, required []string
	w.fields(pkg, st, request, &props, &required)
	for i, p := range props {
		props[i] = strings.TrimSpace(p)
	}
	s := newSchema("type", "object", "required", "["+strings.Join(required, ", ")+"]", "properties", "{"+strings.Join(props, ", ")+"}")
	if request {
		s.set("additionalProperties", "false")
	}
	return s
}

// rules turns validator tags into keywords; after dive they hold for the list's entries.
func (s *schema) rules(tags string) {
	for tag := range strings.SplitSeq(tags, ",") {
		name, param, _ := strings.Cut(tag, "=")
		kind := s.vals["type"]
		switch name {
		case "dive":
			s = s.items
		case "gte", "min":
			s.set(map[string]string{"number": "minimum", "integer": "minimum", "string": "minLength", "array": "minItems"}[kind], number(param))
		case "lte", "max":
			s.set(map[string]string{"number": "maximum", "integer": "maximum", "string": "maxLength", "array": "maxItems"}[kind], number(param))
		case "gt":
			s.set("exclusiveMinimum", number(param))
		case "lt":
			s.set("exclusiveMaximum", number(param))
		case "oneof":
			s.set("enum", "["+strings.Join(strings.Fields(param), ", ")+"]")
		case "code":
			s.set("minLength", "1")
			s.set("maxLength", "60")
			s.set("pattern", quote("^[^/]+$"))
		case "currency":
			s.set("pattern", quote("^[A-Z]{3}$"))
		case "zone":
			s.set("description", quote("IANA time zone such as Europe/Berlin"))
		}
	}
}

func number(s string) string {
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic(err) // a tag that the validator itself would refuse
	}
	return strconv.FormatFloat(f, 'f', -1, 64)
}

func (s *schema) literal(preset string) string {
	if s.vals["type"] == "string" {
		return quote(preset)
	}
	return preset
}

func (s *schema) flow() string {
	if ref, ok := s.vals["$ref"]; ok && s.null {
		rest := ""
		if d, ok := s.vals["description"]; ok {
			rest = ", description: " + d
		}
		return "{anyOf: [{$ref: " + ref + "}, {type: \"null\"}]" + rest + "}"
	}
	var parts []string
	for _, k := range s.keys {
		v := s.vals[k]
		if k == "type" && s.null {
			v = "[" + v + ", \"null\"]"
		}
		if k == "enum" && s.null {
			v = strings.TrimSuffix(v, "]") + ", null]"
		}
		parts = append(parts, k+": "+v)
		if k == "type" && s.items != nil {
			parts = append(parts, "items: "+s.items.flow())
		}
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

func (w *schemaWriter) text() string {
	names := make([]string, 0, len(w.out))
	for n := range w.out {
		names = append(names, n)
	}
	slices.Sort(names)
	var b strings.Builder
	for _, n := range names {
		b.WriteString(w.out[n])
	}
	return b.String()
}

var control = regexp.MustCompile(`[\x00-\x1f]`)

func quote(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(control.ReplaceAllString(s, " ")) + `"`
}

// meanings are the words of fields whose name and unit do not say it all; a comment in the Go type wins.
var meanings = map[string]string{
	"ratio":                     "all the water of the recipe (brew water and stirred-in ice), g per g of dose",
	"ice_share":                 "the part of all the water that is stirred in as ice",
	"retained_ratio":            "liquid that the spent grounds keep, g per g of dose",
	"max_yield_pct":             "the most that can be dissolved out of the dose, %",
	"brewer_out_temp_c":         "the liquid as it leaves the brewer, °C",
	"rest_temp_c":               "left to cool to this before the ice goes in, °C; null: no rest",
	"bath":                      "can be cooled from outside before the ice goes in, as far as the target needs",
	"cooling_ua_w_per_k":        "heat given off while cooling, W/K; null: the minutes of cooling are not known",
	"ready_min":                 "minutes from start (steeped: from straining) to ready, at least",
	"hold_h":                    "thrown away this long after it was ready, h",
	"max_hold_h":                "the shop's longest hold for any beverage, h",
	"busy_min":                  "how long one batch occupies the brewer, min",
	"available":                 "local clock spans in which the busy span must lie; left out: always",
	"setup_min":                 "people may start batches this long before opening and after closing, min",
	"starts_per_slot":           "batches that people can start in one slot, over all brewers",
	"store_g":                   "what the cold store holds, g over all beverages",
	"kg_per_day_rated":          "output at the rating conditions, kg a day",
	"mineral_share":             "of the treated water's minerals, the part that the ice keeps",
	"wet_share":                 "liquid water in the ice as scooped, which has no cold to give",
	"treated":                   "made of treated water, fit to eat",
	"bath_ice_kg_per_kg_cooled": "null: follows from the heat taken out",
	"expected":                  "servings",
	"p10":                       "one day in ten stays at or below, servings; with p90 or not at all",
	"p90":                       "nine days in ten stay at or below, servings",
	"levels":                    "rising probabilities, 0 to 1",
	"quantiles":                 "one for each level, never falling",
	"now":                       "the plan's clock",
	"seed":                      "of the simulated days; same request and seed, same plan",
	"service_level_pct":         "overrides the level that follows from costs, %",
	"short_factor":              "weighs one serving short against its lost contribution",
	"price":                     "minor units of the currency",
	"other_cost":                "of one serving besides beverages and coffee, minor units",
	"key":                       "the same key again changes nothing",
	"window_start":              "inclusive",
	"window_end":                "exclusive; after window_start, at most 25 h later",
	"drink":                     "code of a drink",
	"beverage":                  "code of a beverage",
	"closed":                    "nothing is served while it lasts",
	"factor":                    "multiplies what it concerns",
	"mg_share":                  "magnesium's part of the hardness, as CaCO3",
	"recovery_pct":              "treated water out of the water that the treatment takes in, %",
	"prepare":                   "servings made for this row",
	"gap_pct":                   "how far above the lower bound the cost can be, %",
	"lower_bound":               "no plan for this demand can cost less",
	"next":                      "cursor of the next page; null on the last",
	"secret":                    "shown this once; only its hash is kept",
	"status":                    "the HTTP status, or the state of what was asked for",
}

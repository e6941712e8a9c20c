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
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "regenerate the contract's schemas from the Go types")

const (
	contractFile = "openapi.yaml"
	startMark    = "    # Generated from the Go types; do not edit below: go test ./openapi -update\n"
)

// The contract's schemas are generated from the struct tags that the decoder and the validator read, so that names, optional fields,
// defaults and ranges cannot differ from the implementation.
func TestSchemasMatchTheGoTypes(t *testing.T) {
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
	require.True(t, found, "the contract lacks the line %q", startMark)
	if *update {
		require.NoError(t, os.WriteFile(contractFile, slices.Concat(head, []byte(startMark), []byte(want)), 0o644))
		return
	}
	require.Equal(t, string(have), want, "the types have changed: run go test ./openapi -update and review the diff")
}

// requestRoots are request bodies; responseRoots appear in responses only. The types they refer to are added automatically.
var requestRoots = []string{
	"models.Setup", "models.PlanRequest", "models.SalesPost", "models.WeatherPost", "models.StockCount", "models.TaskMark",
	"api.mappingsBody", "api.expectedBody", "api.eventsBody", "api.offSaleBody", "api.outagesBody", "api.attentionBody", "api.measuredBrewsBody", "api.holidaysBody",
	"api.stockChangesBody", "api.planBody", "api.replayBody", "api.tokenBody", "api.delayBody", "api.sessionBody", "api.claimBody", "api.screenBody", "api.personBody", "api.groupBody", "api.welcomeBody",
	"api.passwordBody", "api.screenChange", "api.highsBody", "api.outageNowBody", "api.webhookBody", "api.mailBody", "api.pushBody", "api.pushDeviceBody", "api.signOffBody", "api.useBody",
	"calc.extractionIn", "calc.fitIn", "calc.ratioIn", "calc.scaleIn", "calc.chillIn", "calc.iceSplitIn", "calc.iceSharesIn",
	"calc.coolTimeIn", "calc.glassIn", "calc.freezeIn", "calc.iceStoreIn", "calc.makerIn", "calc.waterIn",
	"calc.lsiIn", "calc.heatIndexIn", "calc.lotSizeIn", "batch.Instance", "forecast.Document",
}

var responseRoots = []string{
	"models.Problem", "models.Plan", "models.PlanHead", "models.PrepSheet", "models.SalesResult", "models.SalesRow",
	"models.UnmappedItem", "models.WeatherRow", "models.OpenWarning", "models.LiveEvent", "models.Token", "models.Change",
	"api.mappingsResponse", "api.storedRows", "api.queuedPlan", "api.planChanges", "api.publishResult", "api.markResult", "api.newToken",
	"api.sessionResponse", "api.pairingResponse", "api.claimResponse", "models.Screen", "models.CalendarKey", "api.newCalendarKey",
	"api.salesFilePreview", "models.SiteSummary", "models.Group", "models.SiteState", "models.Orders", "models.LotRecall", "models.GroupHead", "api.health", "api.readiness", "api.forecastPage", "api.queuedReplay", "api.holidayList", "models.Review", "models.Learnt", "models.Replay", "models.Progress",
	"models.Person", "models.Session", "models.AuditEntry", "models.Webhook", "models.Delivery", "models.MailSettings", "models.Mail", "models.PushSettings", "models.Push", "api.pushKeyResponse",
	"models.WeatherHigh", "api.weatherSourceState", "api.newPerson", "api.passwordLink", "api.welcomeResponse", "api.newWebhook",
	"calc.extractionOut", "calc.fitOut", "calc.ratioOut", "calc.scaleOut", "calc.chillOut", "calc.iceSplitOut", "calc.iceSharesOut", "calc.iceShareRow",
	"calc.coolTimeOut", "calc.glassOut", "calc.freezeOut", "calc.iceStoreOut", "calc.makerOut", "calc.waterOut",
	"calc.lsiOut", "calc.heatIndexOut", "calc.lotSizeOut", "batch.Result", "calc.forecastOut",
}

var sources = map[string]string{"models": "../models", "api": "../api", "calc": "../planner/calc", "batch": "../planner/batch",
	"forecast": "../planner/demand/forecast", "holidays": "../planner/holidays", "salesfile": "../api/salesfile"}

type goType struct {
	pkg, doc string
	expr     ast.Expr
}

type schemaWriter struct {
	t     *testing.T
	types map[string]goType // "models.Setup"
	out   map[string]string // schema name → YAML
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
		w.types[pkg+"."+ts.Name.Name] = goType{pkg: pkg, doc: describe(ts.Name.Name, doc), expr: ts.Type}
	}
}

// describe turns a type's doc comment into a description: one line without the leading "Name is the".
func describe(name, doc string) string {
	text, named := strings.CutPrefix(oneLine(doc), name+" ")
	if !named {
		return text
	}
	if rest, is := strings.CutPrefix(text, "is "); is {
		text = rest
	} else if rest, are := strings.CutPrefix(text, "are "); are {
		text = rest
	}
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first)) + text[size:]
}

func oneLine(comment string) string { return strings.Join(strings.Fields(comment), " ") }

// schemaName prefixes the names of some packages to keep them unique.
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
	require.True(w.t, ok, "%s is not a struct", full)
	w.out[name] = "" // in progress: types may refer to themselves
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
	require.NotEmpty(w.t, props, "%s has no fields", full)
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
		if one, ok := tag.Lookup("schema"); ok { // of raw JSON: the types that it can be of
			s = w.oneOf(pkg, strings.Split(one, "|"), request)
		}
		s.rules(tag.Get("validate"))
		if request {
			s.null = optional || tag.Get("opt") == "null"
			if hasPreset {
				s.set("default", s.literal(preset))
			}
		} else {
			optional = strings.Contains(opts, "omit")
		}
		if !optional {
			*required = append(*required, name)
		}
		comment := oneLine(f.Comment.Text())
		if text, ok := descriptions[name]; ok && comment == "" {
			comment = text
		}
		if comment != "" {
			s.set("description", quote(comment))
		}
		*props = append(*props, fmt.Sprintf("        %s: %s\n", name, s.flow()))
	}
}

// optional repeats the decoder's rule: pointers, lists and maps, unless the opt tag says otherwise.
func (w *schemaWriter) optional(pkg string, e ast.Expr, tag reflect.StructTag) bool {
	switch tag.Get("opt") {
	case "true":
		return true
	case "false", "null":
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

// schema is a property's keywords in order.
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
		return newSchema("type", "number", "format", "double") // without it many generators take 32 bits
	case "int":
		return newSchema("type", "integer")
	case "int64":
		return newSchema("type", "integer", "format", "int64")
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

// oneOf is the schema of JSON that is of one of some types.
func (w *schemaWriter) oneOf(pkg string, names []string, request bool) *schema {
	var refs []string
	for _, name := range names {
		w.add(pkg+"."+name, request)
		refs = append(refs, "{$ref: "+quote("#/components/schemas/"+schemaName(pkg+"."+name))+"}")
	}
	if len(refs) == 1 {
		return newSchema("$ref", quote("#/components/schemas/"+schemaName(pkg+"."+names[0])))
	}
	return newSchema("anyOf", "["+strings.Join(refs, ", ")+"]")
}

// inline is the schema of an anonymous struct.
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

// rules converts validator tags to keywords; after dive they apply to the list's items.
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
		case "name":
			s.set("pattern", `"^[^\\x00-\\x1f\\x7f-\\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]*$"`) // YAML decodes \u
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
		panic(err) // an invalid validator tag
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
	if values, ok := s.vals["enum"]; ok && s.null { // null among the values stops generators
		rest := ""
		for _, k := range s.keys {
			if k != "type" && k != "enum" {
				rest += ", " + k + ": " + s.vals[k]
			}
		}
		return "{anyOf: [{type: " + s.vals["type"] + ", enum: " + values + "}, {type: \"null\"}]" + rest + "}"
	}
	var parts []string
	for _, k := range s.keys {
		v := s.vals[k]
		if k == "type" && s.null {
			v = "[" + v + ", \"null\"]"
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

// descriptions of fields whose Go type has no comment on them.
var descriptions = map[string]string{
	"ratio":                     "total water in the recipe (brew water and stirred-in ice), g per g of dose",
	"ice_share":                 "share of the total water that is stirred in as ice",
	"retained_ratio":            "liquid retained by the spent grounds, g per g of dose",
	"max_yield_pct":             "maximum extraction yield, % of the dose",
	"brewer_out_temp_c":         "temperature of the coffee as it leaves the brewer, °C",
	"rest_temp_c":               "temperature to cool to before the ice is stirred in, °C; null: no rest",
	"bath":                      "whether the coffee can be cooled in an ice bath before the ice is stirred in, if the target needs it",
	"cooling_ua_w_per_k":        "heat transfer coefficient times area while cooling, W/K; null: cooling time is unknown",
	"ready_min":                 "minimum time from start (steeped: from straining) to ready, min",
	"hold_h":                    "hold time after ready, h",
	"max_hold_h":                "the shop's maximum hold time for any beverage, h",
	"busy_min":                  "time that a batch occupies the brewer, min",
	"available":                 "local time ranges in which a batch may occupy the brewer; left out: always",
	"setup_min":                 "batches may be started this long before opening and after closing, min",
	"starts_per_slot":           "number of batches that people can start in one slot, over all brewers",
	"store_g":                   "capacity of the cold store, g over all beverages",
	"kg_per_day_rated":          "output at rating conditions, kg per day",
	"mineral_share":             "share of the treated water's minerals that remains in the ice",
	"wet_share":                 "share of liquid water in the ice as scooped, which does not cool by melting",
	"treated":                   "made from treated water, fit to eat",
	"bath_ice_kg_per_kg_cooled": "bath ice, kg per kg cooled; null: computed from the heat removed",
	"expected":                  "servings",
	"p10":                       "10th percentile, servings",
	"p90":                       "90th percentile, servings",
	"levels":                    "increasing probabilities, 0 to 1",
	"quantiles":                 "one per level, non-decreasing",
	"now":                       "current time that the plan assumes",
	"seed":                      "random seed of the simulation; the same request and seed give the same plan",
	"service_level_pct":         "overrides the service level that follows from the costs, %",
	"short_factor":              "cost of a missed sale, in multiples of its contribution margin",
	"price":                     "minor units of the currency",
	"other_cost":                "cost of a serving besides beverages and coffee, minor units",
	"key":                       "idempotency key",
	"window_start":              "inclusive",
	"window_end":                "exclusive; after window_start, at most 25 h later",
	"drink":                     "code of a drink",
	"beverage":                  "code of a beverage",
	"closed":                    "the site is closed during the event",
	"factor":                    "multiplier",
	"mg_share":                  "magnesium's share of the hardness, as CaCO3",
	"recovery_pct":              "treated water, % of the water fed to the treatment",
	"prepare":                   "servings to prepare for this row",
	"gap_pct":                   "optimality gap: maximum excess of the cost over lower_bound, %",
	"lower_bound":               "lower bound on the cost of any plan for this demand",
	"next":                      "cursor of the next page; null on the last one",
	"secret":                    "shown only in this response; only its hash is stored",
	"status":                    "HTTP status, or the state of the request",
}

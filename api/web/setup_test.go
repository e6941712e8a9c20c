package web_test

import (
	"bytes"
	"context"
	"html"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"hotday/models"
)

var field = regexp.MustCompile(`<input type="hidden" name="(\w+)" value="([^"]*)"`)

// visitor is a browser without scripts.
type visitor struct {
	t    *testing.T
	s    *shop
	http *http.Client
	csrf string
}

func (s *shop) visit(t *testing.T) *visitor {
	t.Helper()
	v := &visitor{t: t, s: s, http: &http.Client{Jar: jar(t)}}
	v.csrf = hidden(v.get("/sign-in"), "csrf")
	v.post("/sign-in", url.Values{"key": {s.key}})
	v.csrf = hidden(v.get("/s/lido/setup/shop"), "csrf")
	return v
}

func jar(t *testing.T) http.CookieJar {
	t.Helper()
	j, err := cookiejar.New(nil)
	require.NoError(t, err)
	return j
}

func hidden(page, name string) string {
	for _, m := range field.FindAllStringSubmatch(page, -1) {
		if m[1] == name {
			return m[2]
		}
	}
	return ""
}

func (v *visitor) get(path string) string {
	v.t.Helper()
	r, err := v.http.Get(v.s.base + path)
	require.NoError(v.t, err)
	defer func() { _ = r.Body.Close() }()
	require.Equal(v.t, http.StatusOK, r.StatusCode, path)
	return body(v.t, r)
}

func (v *visitor) post(path string, form url.Values) (int, string) {
	v.t.Helper()
	form.Set("csrf", v.csrf)
	r, err := v.http.PostForm(v.s.base+path, form)
	require.NoError(v.t, err)
	defer func() { _ = r.Body.Close() }()
	return r.StatusCode, body(v.t, r)
}

var (
	inputs = regexp.MustCompile(`<input([^>]*)>`)
	attr   = regexp.MustCompile(`(\w[\w-]*)="([^"]*)"`)
	choice = regexp.MustCompile(`(?s)<select[^>]* name="([^"]+)"[^>]*>(.*?)</select>`)
	chosen = regexp.MustCompile(`<option value="([^"]*)" selected`)
	fields = regexp.MustCompile(`(?s)<form[^>]*id="fields".*?</form>`)
)

// typed is what a browser would submit for the page's form.
func typed(page string) url.Values {
	out := url.Values{}
	form := fields.FindString(page)
	for _, m := range inputs.FindAllStringSubmatch(form, -1) {
		a := map[string]string{}
		for _, x := range attr.FindAllStringSubmatch(m[1], -1) {
			a[x[1]] = html.UnescapeString(x[2])
		}
		if a["type"] == "checkbox" && !strings.Contains(m[1], " checked") || a["name"] == "" {
			continue
		}
		out.Add(a["name"], a["value"])
	}
	for _, m := range choice.FindAllStringSubmatch(form, -1) {
		if c := chosen.FindStringSubmatch(m[2]); c != nil {
			out.Set(m[1], c[1])
		}
	}
	return out
}

func (s *shop) setup(t *testing.T) (models.Setup, string) {
	t.Helper()
	setup, etag, err := s.store.Setup(context.Background(), site)
	require.NoError(t, err)
	return setup, etag
}

func TestSavingAnUntouchedStepChangesNothing(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	v := s.visit(t)
	_, before := s.setup(t)
	for _, step := range []string{"hours", "coffees", "beverages", "drinks", "brewers", "ice", "water", "costs"} {
		status, page := v.post("/s/lido/setup/"+step, typed(v.get("/s/lido/setup/"+step)))
		assert.Equal(t, http.StatusOK, status, step)
		assert.Contains(t, page, "Saved.", step)
	}
	_, after := s.setup(t)
	assert.Equal(t, before, after)
}

// Settings says which prices are unset, until they are entered.
func TestSettingsSayWhichPricesAreUnset(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	v := s.visit(t)
	unset := []string{"No sales tax: prices count as net.", "A sale missed for want of ice counts 1."}
	page := html.UnescapeString(v.get("/s/lido/setup"))
	for _, want := range unset {
		assert.Contains(t, page, want)
	}
	form := typed(v.get("/s/lido/setup/costs"))
	form.Set("/costs/short_factor", "0.5")
	form.Set("/costs/ice_short_factor", "0.9")
	form.Set("/costs/tax_pct", "0")
	status, _ := v.post("/s/lido/setup/costs", form)
	require.Equal(t, http.StatusOK, status)
	setup, _ := s.setup(t)
	assert.InDelta(t, 0.5, setup.Costs.ShortFactor, 0)
	assert.InDelta(t, 0.9, setup.Costs.IceFactor(), 0)
	require.NotNil(t, setup.Costs.TaxPct, "0 is entered, not left out")
	page = html.UnescapeString(v.get("/s/lido/setup"))
	for _, gone := range unset {
		assert.NotContains(t, page, gone)
	}
	form.Set("/costs/tax_pct", "120")
	status, _ = v.post("/s/lido/setup/costs", form)
	assert.Equal(t, http.StatusUnprocessableEntity, status)
}

func TestInvalidStepIsNotStored(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	v := s.visit(t)
	_, before := s.setup(t)
	form := typed(v.get("/s/lido/setup/beverages"))
	form.Set("/beverages/0/ice_share", "120")
	form.Set("/beverages/0/ratio", "much")
	form.Set("/beverages/0/hold_h", "")
	status, page := v.post("/s/lido/setup/beverages", form)
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, page, `value="120"`, "the input is kept")
	assert.Contains(t, page, `value="much"`)
	assert.Contains(t, page, "Enter a number.", "in the page's words")
	assert.Contains(t, page, "Fill this in.")
	assert.NotContains(t, html.UnescapeString(page), "this field is missing")
	assert.Contains(t, page, `href="#f%2fbeverages%2f0%2fhold_h"`, "a link to the field")
	_, after := s.setup(t)
	assert.Equal(t, before, after)

	status, errors := v.post("/s/lido/setup/beverages?check=1", form)
	assert.Equal(t, http.StatusOK, status)
	assert.Contains(t, errors, `"pointer":"/beverages/0/hold_h"`)
}

func TestConcurrentChangesAreNotOverwritten(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	v := s.visit(t)
	mine, theirs := typed(v.get("/s/lido/setup/shop")), typed(v.get("/s/lido/setup/costs"))
	theirs.Set("/service_level_pct", "95")
	_, page := v.post("/s/lido/setup/costs", theirs)
	require.Contains(t, page, "Saved.")
	mine.Set("/site/name", "Mine")
	status, page := v.post("/s/lido/setup/shop", mine)
	assert.Equal(t, http.StatusPreconditionFailed, status)
	assert.Contains(t, page, "Somebody changed the settings")
	assert.Contains(t, page, `value="Mine"`)
	setup, _ := s.setup(t)
	assert.NotEqual(t, "Mine", setup.Site.Name)
	require.NotNil(t, setup.ServiceLevelPct)
	assert.InDelta(t, 95, *setup.ServiceLevelPct, 0)
}

func TestRowsAreCopiedAndRemovedWithoutScripts(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	v := s.visit(t)
	setup, _ := s.setup(t)
	n := len(setup.Brewers)
	form := typed(v.get("/s/lido/setup/brewers"))
	form.Set("copy", "/brewers/0")
	status, page := v.post("/s/lido/setup/brewers", form)
	require.Equal(t, http.StatusOK, status)
	again := typed(page)
	assert.Equal(t, setup.Brewers[0].Code+"-2", again.Get("/brewers/1/code"))
	_, page = v.post("/s/lido/setup/brewers", again)
	require.Contains(t, page, "Saved.")
	setup, _ = s.setup(t)
	assert.Len(t, setup.Brewers, n+1)
	form = typed(page)
	form.Set("remove", "/brewers/1")
	_, page = v.post("/s/lido/setup/brewers", form)
	_, page = v.post("/s/lido/setup/brewers", typed(page))
	require.Contains(t, page, "Saved.")
	setup, _ = s.setup(t)
	assert.Len(t, setup.Brewers, n)
}

// emptyShop adds a shop with opening hours only, and returns a key for all shops.
func (s *shop) emptyShop(t *testing.T, code string) {
	t.Helper()
	setup := models.NewShop()
	setup.Site.Code, setup.Site.Name, setup.Site.Timezone, setup.Site.Currency = code, "Kiosk", "Europe/Berlin", "EUR"
	_, _, err := s.store.PutSetup(context.Background(), setup, "", s.clock())
	require.NoError(t, err)
	_, s.key, err = s.store.AddToken(context.Background(), models.Token{Name: "owner", Scopes: []string{models.ScopeManage}}, s.clock())
	require.NoError(t, err)
}

// A list that the stored set-up doesn't have yet takes rows like any other.
func TestRowsAreAddedToMissingLists(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.emptyShop(t, "kiosk")
	v := s.visit(t)
	for _, list := range []string{"/coffees", "/beverages?flash", "/drinks", "/supplies", "/brewers", "/ice/makers", "/ice/moulds", "/site/people", "/site/ice_wells"} {
		step := map[string]string{"supplies": "drinks", "site": "people"}[strings.Split(list, "/")[1]]
		if step == "" {
			step, _, _ = strings.Cut(strings.Split(list, "/")[1], "?")
		}
		if list == "/site/ice_wells" {
			step = "shop"
		}
		form := typed(v.get("/s/kiosk/setup/" + step))
		rows := func(form url.Values) int {
			at, _, _ := strings.Cut(list, "?")
			seen := map[string]bool{}
			for name := range form {
				if rest, ok := strings.CutPrefix(name, at+"/"); ok {
					seen[strings.Split(rest, "/")[0]] = true
				}
			}
			return len(seen)
		}
		before := rows(form)
		form.Set("add", list)
		status, page := v.post("/s/kiosk/setup/"+step, form)
		assert.Equal(t, http.StatusOK, status, list)
		assert.NotContains(t, page, "Saved.", list)
		assert.Equal(t, before+1, rows(typed(page)), list)
	}
	// And so do lists inside a row.
	form := typed(v.get("/s/kiosk/setup/drinks"))
	form.Set("add", "/drinks")
	_, page := v.post("/s/kiosk/setup/drinks", form)
	for _, list := range []string{"/drinks/0/uses", "/drinks/0/doses", "/drinks/0/extras"} {
		form = typed(page)
		form.Set("add", list)
		_, page = v.post("/s/kiosk/setup/drinks", form)
	}
	form = typed(page)
	for _, name := range []string{"/drinks/0/uses/1/g", "/drinks/0/doses/0/dose_g", "/drinks/0/extras/0/amount"} {
		assert.Contains(t, form, name)
	}
}

// A new row is called by what it is, not by its first number.
func TestNewRowsAreCalledByWhatTheyAre(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.emptyShop(t, "kiosk")
	v := s.visit(t)
	for add, want := range map[string]string{"coffees /coffees": "New coffee", "beverages /beverages?steeped": "New beverage", "drinks /drinks": "New drink",
		"brewers /brewers": "New brewer", "ice /ice/makers": "New ice machine", "ice /ice/moulds": "New trays"} {
		step, list, _ := strings.Cut(add, " ")
		form := typed(v.get("/s/kiosk/setup/" + step))
		form.Set("add", list)
		_, page := v.post("/s/kiosk/setup/"+step, form)
		assert.Contains(t, page, "<summary>"+want+"</summary>", add)
		for name := range form {
			if strings.HasSuffix(name, "/0/code") || strings.HasSuffix(name, "/0/name") {
				form.Set(name, "Yard")
			}
		}
		form.Set(strings.Split(list, "?")[0]+"/0/code", "Yard")
		_, page = v.post("/s/kiosk/setup/"+step, form)
		assert.Contains(t, page, "<summary>Yard</summary>", add)
	}
}

// A new row's fields under "More" may be left as they are.
func TestNothingUnderMoreMustBeFilledIn(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	s.emptyShop(t, "kiosk")
	v := s.visit(t)
	for step, lists := range map[string][]string{"shop": {""}, "people": {"/site/people"}, "coffees": {"/coffees"}, "beverages": {"/beverages?flash", "/beverages?hot_chilled", "/beverages?steeped"},
		"drinks": {"/drinks", "/supplies"}, "brewers": {"/brewers"}, "ice": {"/ice/makers", "/ice/moulds"}, "water": {""}, "costs": {""}} {
		for _, list := range lists {
			page := v.get("/s/kiosk/setup/" + step)
			if list != "" {
				form := typed(page)
				form.Set("add", list)
				_, page = v.post("/s/kiosk/setup/"+step, form)
			}
			for _, more := range regexp.MustCompile(`(?s)<details class="more".*?</details>`).FindAllString(page, -1) {
				for _, input := range inputs.FindAllString(more, -1) {
					madeUp := strings.HasSuffix(attribute(input, "name"), "/code") // from a name or a date
					if strings.Contains(input, `aria-required`) && !madeUp {
						assert.NotEmpty(t, attribute(input, "value"), "%s %s: %s", step, list, input)
					}
				}
			}
		}
	}
}

func attribute(tag, name string) string {
	for _, m := range attr.FindAllStringSubmatch(tag, -1) {
		if m[1] == name {
			return html.UnescapeString(m[2])
		}
	}
	return ""
}

func TestQuantitiesAreInTheUnitsPeopleUse(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	v := s.visit(t)
	form := typed(v.get("/s/lido/setup/ice"))
	form.Set("/ice/bin_g", "34")
	status, page := v.post("/s/lido/setup/ice", form)
	require.Equal(t, http.StatusOK, status)
	setup, _ := s.setup(t)
	assert.InDelta(t, 34000, setup.Ice.BinG, 0)
	assert.Equal(t, "34", typed(page).Get("/ice/bin_g"))
	form = typed(page)
	form.Set("/ice/bin_g", "33500 g")
	v.post("/s/lido/setup/ice", form)
	setup, _ = s.setup(t)
	assert.InDelta(t, 33500, setup.Ice.BinG, 0)
	assert.Contains(t, typed(v.get("/s/lido/setup/drinks")), "/drinks/0/serving_ice_g")
	assert.Equal(t, strconv.FormatFloat(setup.Drinks[0].ServingIceG, 'f', -1, 64), typed(v.get("/s/lido/setup/drinks")).Get("/drinks/0/serving_ice_g"), "a glass is still in grams")
}

// A new drink without a beverage is refused; one that was stored so is left alone.
func TestDrinkWithoutBeverageIsRefused(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	v := s.visit(t)
	form := typed(v.get("/s/lido/setup/drinks"))
	form.Set("add", "/drinks")
	_, page := v.post("/s/lido/setup/drinks", form)
	setup, _ := s.setup(t)
	n := strconv.Itoa(len(setup.Drinks))
	form = typed(page)
	form.Set("remove", "/drinks/"+n+"/uses/0")
	_, page = v.post("/s/lido/setup/drinks", form)
	form = typed(page)
	form.Set("/drinks/"+n+"/name", "Lemonade")
	form.Set("/drinks/"+n+"/price", "4")
	form.Set("/drinks/"+n+"/serving_ice_g", "150")
	status, page := v.post("/s/lido/setup/drinks", form)
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, page, "Add a beverage or a dose of coffee.")

	setup, etag := s.setup(t)
	setup.Drinks = append(setup.Drinks, models.Drink{Code: "lemonade", Name: "Lemonade", Price: 400, ServingIceG: 150})
	_, _, err := s.store.PutSetup(context.Background(), setup, etag, s.clock())
	require.NoError(t, err)
	status, page = v.post("/s/lido/setup/drinks", typed(v.get("/s/lido/setup/drinks")))
	assert.Equal(t, http.StatusOK, status)
	assert.Contains(t, page, "Saved.")
}

func TestSetupWorkbookIsExportedPreviewedAndImported(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	v := s.visit(t)
	data := v.get("/s/lido/setup-book")
	status, page := v.upload("/s/lido/setup-book", []byte(data))
	assert.Equal(t, http.StatusOK, status)
	assert.Contains(t, page, "No changes.")

	changed := func(sheet, cell string, value any) []byte {
		f, err := excelize.OpenReader(strings.NewReader(data))
		require.NoError(t, err)
		require.NoError(t, f.SetCellValue(sheet, cell, value))
		var out bytes.Buffer
		require.NoError(t, f.Write(&out))
		return out.Bytes()
	}
	status, page = v.upload("/s/lido/setup-book", changed("drinks", "C2", "dear"))
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, page, "drinks C2")

	_, page = v.upload("/s/lido/setup-book", changed("drinks", "C2", 777))
	assert.Contains(t, page, "Changes:")
	before, _ := s.setup(t)
	assert.NotEqual(t, 777.0, before.Drinks[0].Price, "the preview stores nothing")
	document := regexp.MustCompile(`name="document" value="([^"]*)"`).FindStringSubmatch(page)[1]
	form := url.Values{"etag": {hidden(page, "etag")}, "document": {html.UnescapeString(document)}}
	_, page = v.post("/s/lido/setup-book/take", form)
	assert.Contains(t, page, "Saved.")
	after, _ := s.setup(t)
	assert.InDelta(t, 777, after.Drinks[0].Price, 0)
}

func (v *visitor) upload(path string, data []byte) (int, string) {
	v.t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	require.NoError(v.t, w.WriteField("csrf", v.csrf))
	part, err := w.CreateFormFile("book", "setup.xlsx")
	require.NoError(v.t, err)
	_, err = io.Copy(part, bytes.NewReader(data))
	require.NoError(v.t, err)
	require.NoError(v.t, w.Close())
	r, err := v.http.Post(v.s.base+path, w.FormDataContentType(), &b)
	require.NoError(v.t, err)
	defer func() { _ = r.Body.Close() }()
	return r.StatusCode, body(v.t, r)
}

func TestUnmappedTillItemsComeFirst(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	setup, _ := s.setup(t)
	ctx, at := context.Background(), s.clock()
	count := func(item string, n float64) models.SalesCount {
		return models.SalesCount{Item: item, WindowStart: at.AddDate(0, 0, -1), WindowEnd: at.AddDate(0, 0, -1).Add(900e9), Count: n}
	}
	_, err := s.store.PutCounts(ctx, site, models.SalesPost{Source: "till", Counts: []models.SalesCount{count("rare", 1), count("often", 40)}}, at, "", "")
	require.NoError(t, err)
	v := s.visit(t)
	page := v.get("/s/lido/till-items")
	assert.Contains(t, page, "2 to match")
	assert.Less(t, strings.Index(page, "often"), strings.Index(page, "rare"))
	status, page := v.post("/s/lido/till-items", url.Values{"source0": {"till"}, "item0": {"often"}, "drink0": {setup.Drinks[0].Code}, "factor0": {"x"}})
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, page, "“x” isn’t valid. Enter a number above 0")
	_, page = v.post("/s/lido/till-items", url.Values{"source0": {"till"}, "item0": {"often"}, "drink0": {setup.Drinks[0].Code}, "factor0": {"1,5"}, "source1": {"till"}, "item1": {"rare"}, "drink1": {""}})
	assert.Contains(t, page, "One to match")
	mapped, err := s.store.Mappings(ctx, site)
	require.NoError(t, err)
	require.Len(t, mapped, 1)
	assert.Equal(t, models.ItemMapping{Source: "till", Item: "often", Drink: new(setup.Drinks[0].Code), Factor: 1.5}, mapped[0])
}

func TestTillItemsAreIgnoredUnmatchedAndMatchedFromADay(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	setup, _ := s.setup(t)
	ctx, at := context.Background(), s.clock()
	start := at.AddDate(0, 0, -1)
	_, err := s.store.PutCounts(ctx, site, models.SalesPost{Source: "till", Counts: []models.SalesCount{
		{Item: "cake", WindowStart: start, WindowEnd: start.Add(900e9), Count: 40}, {Item: "iced", WindowStart: start, WindowEnd: start.Add(900e9), Count: 3}}}, at, "", "")
	require.NoError(t, err)
	v := s.visit(t)
	iced, other := setup.Drinks[0].Code, setup.Drinks[len(setup.Drinks)-1].Code
	_, page := v.post("/s/lido/till-items", url.Values{"source0": {"till"}, "item0": {"cake"}, "drink0": {"/"}, "source1": {"till"}, "item1": {"iced"}, "drink1": {iced}, "factor1": {"1"}})
	assert.Contains(t, page, "Nothing to match")
	assert.Contains(t, page, "One ignored")
	assert.NotRegexp(t, `Match \d+ till item`, v.get("/s/lido/setup"))

	// From Saturday on the item is another drink.
	_, page = v.post("/s/lido/till-items", url.Values{"source0": {"till"}, "item0": {"iced"}, "mapped0": {"yes"}, "since0": {""}, "drink0": {other}, "factor0": {"2"}, "from0": {string(saturday)}})
	assert.Contains(t, page, "before Saturday 11 July: ")
	mapped, err := s.store.Mappings(ctx, site)
	require.NoError(t, err)
	require.Len(t, mapped, 3, "cake, and two for iced")
	counts, err := s.store.Counts(ctx, site, models.SalesFilter{Item: "iced"}, models.Page{})
	require.NoError(t, err)
	assert.Equal(t, iced, *counts.Rows[0].Drink, "counted on Friday")

	status, page := v.post("/s/lido/till-items", url.Values{"source0": {"till"}, "item0": {"iced"}, "mapped0": {"yes"}, "drink0": {other}, "from0": {"soon"}})
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, page, "Choose a date.")

	_, page = v.post("/s/lido/till-items", url.Values{"source0": {"till"}, "item0": {"iced"}, "mapped0": {"yes"}, "drink0": {""}})
	assert.Contains(t, page, "One to match")
	mapped, err = s.store.Mappings(ctx, site)
	require.NoError(t, err)
	require.Equal(t, []models.ItemMapping{{Source: "till", Item: "cake", Factor: 1}}, mapped)
}

func TestInvalidNewShop(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	v := s.visit(t)
	status, page := v.post("/setup/new", url.Values{"name": {"Kiosk"}, "code": {"kiosk"}})
	assert.Equal(t, http.StatusForbidden, status, "a key for one site cannot create another")
	assert.Contains(t, page, "key for all shops")

	_, s.key, _ = s.store.AddToken(context.Background(), models.Token{Name: "owner", Scopes: []string{models.ScopeManage}}, s.clock())
	v = s.visit(t)
	status, page = v.post("/setup/new", url.Values{"name": {"Kiosk"}, "code": {"a/kiosk"}, "timezone": {"Mars/North"}, "currency": {"eur"}, "from": {"empty"}})
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, page, `value="Mars/North"`, "the input is kept")
	assert.Equal(t, 2, strings.Count(page, `class="wrong"`), "the short name and the zone")
	assert.Contains(t, page, "At most 60 characters, no slash.")
	assert.Contains(t, page, "Enter a time zone such as Europe/Berlin.")
	status, page = v.post("/setup/new", url.Values{"name": {"Lido"}, "code": {"lido"}, "timezone": {"Europe/Berlin"}, "currency": {"eur"}, "from": {"empty"}})
	assert.Equal(t, http.StatusPreconditionFailed, status)
	assert.Contains(t, page, "Another shop has this short name")
}

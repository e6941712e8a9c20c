package web

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"html/template"
	"net/http"
	"net/url"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner/say"
)

// shopsShown is how many shops a page of the list has.
const shopsShown = 100

// shopsView is the list of all shops that the caller may see, and the pages beside it.
type shopsView struct {
	head
	Part   string // of the navigation: shops, orders, recall
	Query  shopsQuery
	Groups []models.GroupHead
	Rows   []shopLine
	Next   string // address of the next page; "": this is the last
	First  string // address of the first page; "": this is it
	Orders *ordersView
	Recall *recallView
}

// shopsQuery is what the list is filtered by.
type shopsQuery struct{ Group, Text, Cursor, Lot string }

func (q shopsQuery) address(path string, more ...string) string {
	v := url.Values{}
	for i := 0; i+1 < len(more); i += 2 {
		v.Set(more[i], more[i+1])
	}
	if q.Group != "" {
		v.Set("group", q.Group)
	}
	if q.Text != "" {
		v.Set("search", q.Text)
	}
	if len(v) == 0 {
		return path
	}
	return path + "?" + v.Encode()
}

// shopLine is a shop in the list: what is wrong first, in a sentence, then how it stands.
type shopLine struct {
	Code, Name, Address string
	Sentence            string
	Trouble             bool
	Urgent              bool // to act on now
	Facts               []string
}

// enterShops is enter for the pages across shops. The words are in the browser's language.
func (p *pages) enterShops(c *gin.Context, part string) (v shopsView, f models.SiteStateFilter, ok bool) {
	token, signedIn := p.Current(c)
	if !signedIn {
		c.Redirect(http.StatusSeeOther, "/sign-in")
		return v, f, false
	}
	v.head, v.Part = p.publicHead(c, "shops.title."+part), part
	if !token.Has(models.ScopeRead) {
		p.renderError(c, models.Errorf(models.CodeForbidden, "this page needs scope read"))
		return v, f, false
	}
	v.Query = shopsQuery{Group: c.Query("group"), Text: strings.TrimSpace(c.Query("search")), Cursor: c.Query("cursor"), Lot: strings.TrimSpace(c.Query("lot"))}
	v.MayManage = token.Has(models.ScopeManage)
	var among []string
	if !token.Everywhere() {
		among = append([]string{}, token.Groups...)
	}
	groups, err := p.Store.Groups(c.Request.Context(), among, models.Page{Limit: models.MaxLimit})
	if err != nil {
		p.renderError(c, err)
		return v, f, false
	}
	v.Groups = groups.Rows
	known := v.Query.Group == ""
	for _, g := range v.Groups {
		known = known || g.Code == v.Query.Group
	}
	if !known {
		p.renderError(c, models.Errorf(models.CodeNotFound, "there is no group %q", v.Query.Group))
		return v, f, false
	}
	return v, models.SiteStateFilter{Among: token.Sites(), Group: v.Query.Group, Text: v.Query.Text}, true
}

// shops lists the shops, the one with the worst trouble first. ?part=list is the list alone, which the page's script asks for again.
func (p *pages) shops(c *gin.Context) {
	v, f, ok := p.enterShops(c, "shops")
	if !ok {
		return
	}
	v.Scripts = []string{"shops.js"}
	rows, err := p.Store.SiteStates(c.Request.Context(), f, models.Page{Limit: shopsShown, Cursor: v.Query.Cursor})
	if err != nil {
		p.renderError(c, err)
		return
	}
	for _, s := range rows.Rows {
		v.Rows = append(v.Rows, v.line(s, p.Now()))
	}
	if rows.Next != nil {
		v.Next = v.Query.address("/shops", "cursor", *rows.Next)
	}
	if v.Query.Cursor != "" {
		v.First = v.Query.address("/shops")
	}
	if c.Query("part") != "list" {
		p.render(c, http.StatusOK, "shops", v)
		return
	}
	var b strings.Builder
	if err := templates[v.language()].ExecuteTemplate(&b, "shops-list", v); err != nil {
		p.renderError(c, err)
		return
	}
	sum := sha256.Sum256([]byte(b.String()))
	tag := `"` + hex.EncodeToString(sum[:12]) + `"`
	c.Header("ETag", tag)
	c.Header("Cache-Control", "private, no-cache")
	if strings.Contains(c.GetHeader("If-None-Match"), tag) {
		c.Status(http.StatusNotModified)
		return
	}
	c.Data(http.StatusOK, "text/html; charset=utf-8", []byte(b.String()))
}

// of is the voice for a shop: the words of the page, the shop's units and clock.
func (v shopsView) of(s models.SiteState) voice {
	return voice{v.voice.Catalogue, say.WriterFor(models.Site{Timezone: s.Timezone, Units: &s.Units, Language: v.language()})}
}

func (v shopsView) line(s models.SiteState, now time.Time) shopLine {
	w, page := v.of(s), "kitchen"
	if v.MayManage {
		page = "weekend"
	}
	l := shopLine{Code: s.Site, Name: s.Name, Address: "/s/" + url.PathEscape(s.Site) + "/" + page}
	add := func(key string, args ...any) { l.Facts = append(l.Facts, w.Say(key, args...)) }
	switch {
	case len(s.Troubles) > 0:
		l.Trouble, l.Urgent = true, s.Troubles[0].Kind == models.TroubleActNow
		l.Sentence = troubleSentence(w, s, s.Troubles[0], now)
	case s.NextDay == "":
		l.Sentence = w.Say("shops.closed")
	default:
		l.Sentence = w.Say("shops.fine")
	}
	for _, t := range s.Troubles[min(1, len(s.Troubles)):] {
		l.Facts = append(l.Facts, troubleSentence(w, s, t, now))
	}
	if s.NextDay != "" {
		high, drinks := w.Say("shops.unknown"), w.Say("shops.drinks.unknown")
		if s.HighC != nil {
			high = w.WholeTemp(*s.HighC)
		}
		if s.Drinks != nil {
			drinks = w.Say("shops.drinks", "drinks", w.Servings(*s.Drinks))
		}
		add("shops.forecast", "day", w.DayName(s.NextDay), "high", high, "drinks", drinks)
	}
	switch {
	case s.Plan == models.PlanStale:
		add("shops.plan.stale", "at", w.Near(*s.PlannedAt, now))
	case s.Plan == models.PlanMade:
		add("shops.plan.made", "at", w.Near(*s.PlannedAt, now))
	}
	if s.Published != nil {
		add("shops.published", "at", w.Near(*s.Published, now))
	} else if s.PublishDue != nil && s.PublishDue.After(now) {
		add("shops.due", "at", w.Near(*s.PublishDue, now))
	}
	switch {
	case s.IceG != nil && s.IceOutAt != nil:
		add("shops.ice.out", "mass", w.GlanceMass(*s.IceG), "at", w.Near(*s.IceOutAt, now), "chance", w.AboutChance(s.IceOutChancePct))
	case s.IceG != nil:
		add("shops.ice", "mass", w.GlanceMass(*s.IceG))
	case s.IceOutAt != nil:
		add("shops.ice.later", "at", w.Near(*s.IceOutAt, now), "chance", w.AboutChance(s.IceOutChancePct))
	}
	if s.TasksDue > 0 {
		add("shops.followed", "done", s.TasksDone, "n", s.TasksDue)
	}
	for _, x := range []struct {
		key, never string
		at         *time.Time
	}{
		{"shops.counts", "shops.counts.never", s.CountsAt},
		{"shops.weather", "shops.weather.never", s.WeatherAt},
		{"shops.stock", "shops.stock.never", s.StockAt},
	} {
		if x.at == nil {
			add(x.never)
		} else {
			add(x.key, "at", w.Near(*x.at, now))
		}
	}
	return l
}

// troubleSentence says what is wrong.
func troubleSentence(w voice, s models.SiteState, t models.Trouble, now time.Time) string {
	at := ""
	if t.At != nil {
		at = w.Near(*t.At, now)
	}
	switch t.Kind {
	case models.TroubleActNow, models.TroubleActToday, models.TroubleNote:
		sentence := s.Warning.Cause
		if s.Warning.Acked {
			sentence += " " + w.Say("shops.acked")
		}
		return sentence
	case models.TroubleNotPublished:
		return w.Say("shops.trouble.not_published", "day", w.DayName(s.NextDay), "at", at)
	case models.TroubleNotFollowed:
		return w.Say("shops.trouble.not_followed", "n", t.N, "at", at)
	case models.TroubleNoWeather:
		if t.At == nil {
			return w.Say("shops.trouble.no_weather.never", "day", w.DayName(s.NextDay))
		}
	}
	return w.Say("shops.trouble."+t.Kind, "at", at)
}

// Address is a page of the same shops, for the navigation.
func (v shopsView) Address(path string) string { return v.Query.address(path) }

// Empty says why the list is empty.
func (v shopsView) Empty() string {
	if v.Query.Group != "" || v.Query.Text != "" {
		return v.voice.Say("shops.none.found")
	}
	return v.voice.Say("shops.none")
}

// ordersView is what the shops need over some days.
type ordersView struct {
	From, To string
	Totals   []orderLine
	Shops    []orderShop
	Missing  []string
	File     template.URL
}

type orderLine struct{ Item, Amount, Short, By string }

type orderShop struct {
	Name  string
	Lines []orderLine
}

// defaultOrderDays is how many days an order is for unless others are chosen.
const defaultOrderDays = 7

func (p *pages) shopOrders(c *gin.Context) {
	v, f, ok := p.enterShops(c, "orders")
	if !ok {
		return
	}
	today := models.DateOf(p.Now(), time.UTC)
	from, last := dateOr(c.Query("from"), today), models.Date("")
	if last = dateOr(c.Query("last"), from.AddDays(defaultOrderDays-1)); last < from || from.DaysUntil(last) > 13 {
		last = from.AddDays(defaultOrderDays - 1)
	}
	records, err := p.Store.SiteRecords(c.Request.Context(), f)
	if err != nil {
		p.renderError(c, err)
		return
	}
	orders := models.OrdersOf(records, from, last.AddDays(1))
	states := map[string]models.SiteState{}
	for _, r := range records {
		states[r.State.Site] = r.State
	}
	o := &ordersView{From: string(from), To: string(last), File: template.URL(v.Query.address("/v1/orders", "from", string(from), "to", string(last.AddDays(1)), "as", "csv"))}
	for _, t := range orders.Totals {
		o.Totals = append(o.Totals, v.orderLine(v.voice, t.Kind, t.Item, t.Unit, t.Amount, t.Short, nil, p.Now()))
	}
	shown := 0
	for i, r := range orders.Rows {
		if i == 0 || orders.Rows[i-1].Site != r.Site {
			if shown++; shown > shopsShown {
				break
			}
			o.Shops = append(o.Shops, orderShop{Name: r.Name})
		}
		s := &o.Shops[len(o.Shops)-1]
		s.Lines = append(s.Lines, v.orderLine(v.of(states[r.Site]), r.Kind, r.Item, r.Unit, r.Amount, r.Short, r.OrderBy, p.Now()))
	}
	for _, m := range orders.Missing {
		var days []string
		for _, d := range m.Days {
			days = append(days, v.voice.ShortDay(d))
		}
		o.Missing = append(o.Missing, v.voice.Say("shops.orders.missing.line", "shop", m.Name, "days", strings.Join(days, ", ")))
	}
	v.Orders = o
	p.render(c, http.StatusOK, "shops", v)
}

func dateOr(text string, fallback models.Date) models.Date {
	var d models.Date
	if d.UnmarshalText([]byte(text)) != nil {
		return fallback
	}
	return d
}

func (v shopsView) orderLine(w voice, kind, item, unit string, amount, short float64, by *time.Time, now time.Time) orderLine {
	l := orderLine{Item: item, Amount: w.SupplyAmount(amount, unit)}
	if kind == models.NeedIce {
		l.Item = w.Say("shops.orders.ice")
	}
	if short > 0 && kind != models.NeedIce {
		l.Short = w.Say("shops.orders.short", "amount", w.SupplyAmount(short, unit))
	}
	if by != nil {
		l.By = w.Say("shops.orders.by", "at", w.Near(*by, now))
	}
	return l
}

// recallView is which shops used a lot.
type recallView struct {
	Lot  string
	Rows []recallLine
	File template.URL
}

type recallLine struct{ Name, Address, Status, Facts string }

func (p *pages) shopRecall(c *gin.Context) {
	v, f, ok := p.enterShops(c, "recall")
	if !ok {
		return
	}
	v.Recall = &recallView{Lot: v.Query.Lot}
	if v.Query.Lot != "" && len(v.Query.Lot) <= 200 {
		out, err := p.Recall(c, f, v.Query.Lot)
		if err != nil {
			p.renderError(c, err)
			return
		}
		v.Recall.File = template.URL(v.Query.address("/v1/recalls", "lot", v.Query.Lot, "as", "csv"))
		states := map[string]models.SiteState{}
		records, err := p.Store.SiteRecords(c.Request.Context(), f)
		if err != nil {
			p.renderError(c, err)
			return
		}
		for _, r := range records {
			states[r.State.Site] = r.State
		}
		for _, r := range out.Rows {
			v.Recall.Rows = append(v.Recall.Rows, v.recallLine(r, states[r.Site], p.Now()))
		}
	}
	p.render(c, http.StatusOK, "shops", v)
}

func (v shopsView) recallLine(r models.RecallRow, s models.SiteState, now time.Time) recallLine {
	s.Timezone = cmp.Or(s.Timezone, "UTC")
	w := v.of(s)
	l := recallLine{Name: r.Name, Address: "/s/" + url.PathEscape(r.Site) + "/kitchen", Status: w.Say("shops.recall." + r.Reason)}
	var facts []string
	if r.PlannedAt != nil {
		facts = append(facts, w.Say("shops.recall.batch", "beverage", r.Beverage, "station", r.Station, "at", w.Near(cmp.Or(r.MadeAt, r.PlannedAt).UTC(), now)))
	}
	switch {
	case r.Status == models.RecallNot || r.UseBy == nil:
	case r.WithinHold:
		facts = append(facts, w.Say("shops.recall.within", "at", w.Near(*r.UseBy, now)))
	default:
		facts = append(facts, w.Say("shops.recall.over", "at", w.Near(*r.UseBy, now)))
	}
	l.Facts = strings.Join(facts, ". ")
	return l
}

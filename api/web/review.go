package web

import (
	"context"
	"html/template"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
	"golang.org/x/sync/errgroup"

	"hotday/api/web/picture"
	"hotday/models"
	"hotday/planner/say"

	"hotday/planner/facts"
)

// reviewSpans are the numbers of days offered for review.
var reviewSpans = []int{7, 14, 28, 56, 84, 184}

const defaultReviewSpan = 28

// reviewView is the Review page: one day, and the days up to it.
type reviewView struct {
	head
	Day, Last models.Date // last: yesterday
	Span      int
	From      models.Date // first day of the span
	Spans     []int
	Heading   string
	DayLead   []string
	DayBev    []beverageRow
	DayDrinks []drinkRow
	SpanName  string
	Lead      []string
	Notes     []string
	Bev       []beverageRow
	Drinks    []drinkRow
	Chart     template.HTML
	Days      []dayRow
	Record    []string
	Weeks     []weekRow
	Warned    []string
	SignOffs  []string
	Advice    []string
	Learnt    *learntView // nil: nothing to learn from
	Replay    *replayView
	Work      []workView
	Event     int64
}

// beverageRow is a beverage's balance.
type beverageRow struct {
	Name                                                  string
	Planned, Made, Sold, Poured, Left, Unexplained, Short string
}

type drinkRow struct{ Name, Forecast, Sold, OffSale, Missed string }

type dayRow struct{ Name, Day, Warmest, Forecast, Sold, Made, Poured, Ice string }

type weekRow struct{ Name, Days, Off, Inside, Manual string }

type replayView struct {
	Days, Demand string
	Rows         []replayRow
	Curve        bool   // whether there is a chart of it
	Version      string // cache key of the charts' URLs
}

type replayRow struct{ Name, Cost, Poured, Missed, IceShort, Inside string }

// review shows a past day and the days up to it. ?day defaults to yesterday; ?span is the number of days.
func (p *pages) review(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "review")
	if !ok {
		return
	}
	h.Scripts = []string{"review.js"}
	ctx, now := c.Request.Context(), p.Now()
	v := reviewView{head: h, Spans: reviewSpans, Span: defaultReviewSpan, Last: setup.Site.ServiceDayOf(now).AddDays(-1)}
	v.Day = v.Last
	if d, err := time.Parse(time.DateOnly, c.Query("day")); err == nil && d.Year() > 1999 {
		v.Day = min(v.Day, models.Date(c.Query("day")))
	}
	if n, err := strconv.Atoi(c.Query("span")); err == nil && n >= 1 && n <= facts.MaxReviewDays {
		v.Span = n
	}
	v.From = v.Day.AddDays(1 - v.Span)
	var shop models.Learnt
	both, within := errgroup.WithContext(ctx) // either takes a while
	both.Go(func() (err error) {
		shop, err = facts.LearntShop(within, p.Store, setup.Site.Code, now)
		return err
	})
	both.Go(func() error { return p.readReview(within, &v, setup, now) })
	if err := both.Wait(); err != nil {
		p.renderError(c, err)
		return
	}
	v.Learnt = learntOf(&shop, &setup, h.voice)
	p.render(c, http.StatusOK, "review", v)
}

// readReview fills in all but the learnt values.
func (p *pages) readReview(ctx context.Context, v *reviewView, setup models.Setup, now time.Time) error {
	return p.Store.Read(ctx, func(s models.Store) error {
		r, err := facts.Review(ctx, s, setup.Site.Code, v.From, v.Span, now)
		if err != nil {
			return err
		}
		v.fill(r, setup)
		if v.Event, err = s.LastEventID(ctx, setup.Site.Code); err != nil {
			return err
		}
		work, err := s.Progress(ctx, setup.Site.Code)
		if err != nil {
			return err
		}
		v.Work = workViews(work, v.voice, func(w models.Progress) bool { return w.Alive(now) && w.Kind == models.JobReplay })
		replay, err := s.PastReplay(ctx, setup.Site.Code)
		if err == nil {
			v.Replay = replayViewOf(replay, v.voice)
		} else if models.CodeOf(err) != models.CodeNotFound {
			return err
		}
		return nil
	})
}

// replayChart serves a chart of the latest replay, an SVG with its own inline style: the running cost, or coffee poured away against
// drinks missed.
func (p *pages) replayChart(c *gin.Context) {
	_, setup, ok := p.enter(c, models.ScopeManage, "review")
	if !ok {
		return
	}
	r, err := p.Store.PastReplay(c.Request.Context(), setup.Site.Code)
	if err != nil {
		p.renderError(c, err)
		return
	}
	svg := r.SVG
	if strings.HasSuffix(c.Request.URL.Path, "/curve.svg") {
		svg = r.CurveSVG
	}
	c.Header("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'")
	c.Data(http.StatusOK, "image/svg+xml", []byte(svg))
}

func noonOf(d models.Date, loc *time.Location) time.Time { return d.At(720, loc) }

func (v *reviewView) fill(r models.Review, setup models.Setup) {
	q, name := v.voice, drinkNames(setup.Drinks)
	bev := func(code string) string { return beverageName(setup.Beverages, code) }
	v.Heading = q.Say("review.heading", "day", q.Day(noonOf(v.Day, q.Location())))
	v.SpanName = q.Days(noonOf(v.From, q.Location()), noonOf(v.Day, q.Location()))
	v.Notes = r.Notes
	if n := len(r.ByDay); n > 0 && r.ByDay[n-1].Date == v.Day {
		d := &r.ByDay[n-1]
		v.DayLead = dayLead(d, q)
		if d.Open {
			v.DayBev, v.DayDrinks = beverageRows(d.Beverages, q, bev), drinkRows(d.Drinks, q, name)
		}
	}
	v.Lead = v.spanLead(&r)
	v.Bev, v.Drinks = beverageRows(r.Beverages, q, bev), drinkRows(r.Drinks, q, name)
	v.chart(&r)
	if r.Record != nil {
		v.Record = accuracyText(*r.Record, q, name)
		for _, w := range r.Record.Weeks {
			v.Weeks = append(v.Weeks, weekRow{Name: q.Day(noonOf(w.From, q.Location())), Days: say.Number(float64(w.Forecast.Days), 0), Off: pctOr(w.Forecast.DayOffPct, q),
				Inside: pctOr(w.Forecast.InsidePct, q), Manual: pctOr(w.Override.DayOffPct, q)})
		}
	}
	for _, x := range setup.Site.SignOffs {
		v.SignOffs = append(v.SignOffs, q.Say("review.signed_off.line", "what", q.Say("review.signed_off."+x.Rule, "of", x.Of), "by", x.By, "day", q.DayName(models.DateOf(x.At, setup.Site.Location())), "reason", x.Reason))
	}
	for _, w := range r.Warned {
		v.Warned = append(v.Warned, warnedText(w, q)...)
	}
	v.Advice = adviceText(r.Advice, &setup, q)
}

// dayLead summarises a day in a few sentences.
func dayLead(d *models.ReviewDay, q voice) []string {
	if !d.Open {
		return []string{q.Say("review.closed")}
	}
	sold, forecast, hasForecast := daySums(d)
	out := []string{q.Say("review.day_sold", "n", q.Servings(sold))}
	if hasForecast {
		out = append(out, q.Say("review.day_said", "n", q.Servings(forecast)))
	}
	if d.WarmestC != nil {
		out = append(out, q.Say("review.day_warmest", "temp", q.WholeTemp(*d.WarmestC)))
	}
	return append(out, iceText(d.Ice, q)...)
}

// daySums returns the servings sold and forecast on a day.
func daySums(d *models.ReviewDay) (sold, forecast float64, hasForecast bool) {
	for _, x := range d.Drinks {
		sold += x.Sold
		if x.Forecast != nil {
			forecast, hasForecast = forecast+*x.Forecast, true
		}
	}
	return sold, forecast, hasForecast
}

func iceText(i models.IceReview, q voice) []string {
	out := []string{q.Say("review.ice_asked", "mass", q.GlanceMass(i.DemandG))}
	if i.PlannedG != nil && *i.PlannedG > 0 {
		out = append(out, q.Say("review.ice_planned", "mass", q.GlanceMass(*i.PlannedG)))
	}
	if i.BoughtG > 0 {
		out = append(out, q.Say("review.ice_bought", "mass", q.GlanceMass(i.BoughtG)))
	}
	if i.ThrownG > 0 {
		out = append(out, q.Say("review.ice_thrown", "mass", q.GlanceMass(i.ThrownG)))
	}
	if i.LowestG != nil {
		out = append(out, q.Say("review.ice_lowest", "mass", q.GlanceMass(*i.LowestG)))
	}
	return out
}

func (v *reviewView) spanLead(r *models.Review) []string {
	if r.Open == 0 {
		return nil
	}
	sold := 0.0
	for _, d := range r.Drinks {
		sold += d.Sold
	}
	return append([]string{v.voice.Say("review.span_sold", "servings", v.voice.Servings(sold), "days", v.voice.Say("record.days", "n", r.Open))}, iceText(r.Ice, v.voice)...)
}

func massOr(g *float64, q voice) string {
	if g == nil {
		return "–"
	}
	return q.GlanceMass(*g)
}

func pctOr(p *float64, q voice) string {
	if p == nil {
		return "–"
	}
	return q.Percent(*p, 0)
}

func beverageRows(list []models.BeverageReview, q voice, name func(string) string) []beverageRow {
	var out []beverageRow
	for _, b := range list {
		out = append(out, beverageRow{Name: name(b.Beverage), Planned: massOr(b.PlannedG, q), Made: massOr(b.MadeG, q), Sold: q.GlanceMass(b.SoldG), Poured: massOr(b.PouredG, q),
			Left: massOr(b.LeftG, q), Unexplained: massOr(b.UnexplainedG, q), Short: massOr(b.ShortG, q)})
	}
	return out
}

func drinkRows(list []models.DrinkReview, q voice, name func(string) string) []drinkRow {
	var out []drinkRow
	for _, d := range list {
		r := drinkRow{Name: name(d.Drink), Forecast: "–", Sold: q.Servings(d.Sold), OffSale: "–", Missed: "–"}
		if d.Forecast != nil {
			r.Forecast = q.Servings(*d.Forecast)
		}
		if d.OffSaleH > 0 {
			r.OffSale = q.Span(time.Duration(d.OffSaleH * float64(time.Hour)))
		}
		if d.ShortOf != nil {
			r.Missed = q.Servings(*d.ShortOf)
		}
		out = append(out, r)
	}
	return out
}

// chart draws the days and fills their table.
func (v *reviewView) chart(r *models.Review) {
	q := v.voice
	var days []picture.ForecastDay
	for i := range r.ByDay {
		d := &r.ByDay[i]
		at := noonOf(d.Date, q.Location())
		sold, forecast, hasForecast := daySums(d)
		p := picture.ForecastDay{Label: q.ShortDate(at), Sold: sold, Open: d.Open}
		row := dayRow{Name: q.Day(at), Day: string(d.Date), Warmest: "–", Forecast: "–", Sold: q.Servings(sold), Made: "–", Poured: "–", Ice: q.GlanceMass(d.Ice.DemandG)}
		if hasForecast {
			p.Forecast, row.Forecast = &forecast, q.Servings(forecast)
		}
		if d.WarmestC != nil {
			row.Warmest = q.WholeTemp(*d.WarmestC)
		}
		var made, poured *float64
		for _, b := range d.Beverages {
			if b.Days > 0 {
				made, poured = plus(made, *b.MadeG), plus(poured, *b.PouredG)
			}
		}
		row.Made, row.Poured = massOr(made, q), massOr(poured, q)
		days = append(days, p)
		if d.Open {
			v.Days = append(v.Days, row)
		}
	}
	if len(v.Days) > 0 {
		v.Chart = picture.ForecastChart(days, q.Say("review.chart"))
	}
}

func plus(p *float64, x float64) *float64 {
	if p != nil {
		x += *p
	}
	return &x
}

func warnedText(w models.WarnedReview, q voice) []string {
	what := q.Say("review.kind." + w.Kind)
	out := []string{q.Say("review.not_warned", "what", what)}
	if w.Days > 0 {
		out = []string{q.Say("review.warned", "what", what, "days", q.Say("record.days", "n", w.Days))}
	}
	switch {
	case w.Came == nil:
		return append(out, q.Say("review.unknown"))
	case w.Days > 0:
		out = append(out, q.Say("review.came", "n", *w.Came))
	}
	if *w.Missed > 0 {
		out = append(out, q.Say("review.unwarned", "days", q.Say("record.days", "n", *w.Missed)))
	}
	return out
}

// adviceText words the suggested changes, with the money they would have saved.
func adviceText(list []models.Advice, setup *models.Setup, q voice) []string {
	var out []string
	for _, a := range list {
		kg := func(x float64) string { return q.GlanceMass(1000 * x) }
		days := q.Say("review.days_of", "n", a.Days, "of", a.Of)
		var text string
		switch a.Kind {
		case models.AdviceIceMaker:
			text = q.Say("review.advice.ice_maker", "days", days, "sum", kg(a.Sum), "worst", kg(a.Worst), "more", kg(a.Amount))
		case models.AdviceMould:
			text = q.Say("review.advice.ice_mould", "n", int(a.Amount), "mould", a.Subject)
		case models.AdvicePoured:
			text = q.Say("review.advice.poured", "beverage", beverageName(setup.Beverages, a.Subject), "days", days, "sum", kg(a.Sum), "mean", kg(a.Amount), "worst", kg(a.Worst))
		case models.AdviceBatch:
			text = q.Say("review.advice.batch_size", "brewer", a.Subject, "days", days, "half", kg(a.Amount), "sum", kg(a.Sum))
		case models.AdviceOffSale:
			text = q.Say("review.advice.off_sale", "drink", drinkNames(setup.Drinks)(a.Subject), "days", days, "servings", q.Servings(a.Sum))
		case models.AdviceHold, models.AdviceBath, models.AdviceIceBin:
			if a.Money == nil || a.MoneyLow == nil || a.MoneyHigh == nil {
				continue
			}
			money := func(x float64) string { return q.WholeMoney(x, setup.Site.Currency) }
			out = append(out, q.Say("review.advice."+a.Kind, "h", say.Number(a.Amount, 0), "kg", kg(a.Amount), "days", q.Say("record.days", "n", a.Of), "money", money(*a.Money), "low", money(*a.MoneyLow), "high", money(*a.MoneyHigh)))
			continue
		default:
			continue
		}
		if a.Money != nil && a.Kind != models.AdviceMould {
			text += " " + q.Say("review.advice.worth", "money", q.Money(*a.Money, setup.Site.Currency))
		}
		out = append(out, text)
	}
	return out
}

func replayViewOf(r models.Replay, q voice) *replayView {
	out := &replayView{Days: q.Days(noonOf(r.From, q.Location()), noonOf(r.To, q.Location())), Demand: q.Servings(r.Demand), Curve: r.CurveSVG != "", Version: strconv.FormatInt(r.MadeAt.UnixMilli(), 10)}
	for _, m := range r.Methods {
		out.Rows = append(out.Rows, replayRow{Name: m.Name, Cost: q.Money(m.Cost, r.Currency), Poured: q.GlanceMass(1000 * m.PouredKg), Missed: q.Servings(m.Missed),
			IceShort: q.Number(m.IceShortH, 1), Inside: pctOr(m.InsidePct, q)})
	}
	return out
}

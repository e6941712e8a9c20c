package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"

	"hotday/planner/demand"
	"hotday/planner/facts"
	"hotday/planner/say"
)

const maxForecastDays = 14

// getForecast lists the demand ranges per drink and day part that a plan of these days would start from, with their basis.
func (s *Server) getForecast(c *gin.Context) error {
	ctx, site := c.Request.Context(), c.Param("site")
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return err
	}
	q := params(c, "from", "days", "now", "limit", "cursor")
	now := q.time("now", setup.Site.Location(), s.Now())
	from := q.date("from", setup.Site.ServiceDayOf(now))
	days := q.integer("days", 1, 1, maxForecastDays)
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	request, err := facts.Gather(ctx, s.Store, facts.GatherQuery{Site: site, From: from, Days: days, Now: now})
	if err != nil {
		return err
	}
	page, err := paginate(forecastRows(&request), p)
	if err != nil {
		return err
	}
	out := forecastPage{Rows: page.Rows, Next: page.Next}
	if record, found, err := s.Store.TrackRecord(ctx, site); err != nil {
		return err
	} else if found {
		out.Record = &record
	}
	return writeJSON(c, http.StatusOK, out)
}

// forecastPage is a page of ranges, with the accuracy of past forecasts and of the manager's own numbers.
type forecastPage struct {
	Rows   []forecastRow       `json:"rows"`
	Next   *string             `json:"next"`   // cursor of the next page; null on the last one
	Record *models.TrackRecord `json:"record"` // of the last eight weeks; null before the first nightly evaluation
}

// forecastRow is the range a plan would start from: the manager's number if there is one, else the forecast. Expected and Forecast
// give the two separately.
type forecastRow struct {
	Date     models.Date      `json:"date"`
	DayPart  string           `json:"day_part"`
	Drink    string           `json:"drink"`
	Mean     float64          `json:"mean"`
	P10      float64          `json:"p10"`
	P50      float64          `json:"p50"`
	P90      float64          `json:"p90"`
	Basis    string           `json:"basis"`
	Expected *float64         `json:"expected"` // the manager's number; null: none
	Forecast *historyForecast `json:"forecast"` // from history; null: too little of it
}

type historyForecast struct {
	Mean      float64   `json:"mean"`
	Levels    []float64 `json:"levels"`
	Quantiles []float64 `json:"quantiles"`
	Basis     string    `json:"basis"`
}

// forecastRows returns one row per day, day part and drink that has a range, in that order.
func forecastRows(r *models.PlanRequest) []forecastRow {
	type key struct {
		date        models.Date
		part, drink string
	}
	manual, forecasts := map[key]*models.Demand{}, map[key]*models.Forecast{}
	for i, d := range r.Demand {
		manual[key{d.Date, d.DayPart, d.Drink}] = &r.Demand[i]
	}
	for i, f := range r.Forecast {
		forecasts[key{f.Date, f.DayPart, f.Drink}] = &r.Forecast[i]
	}
	v, rows := say.For(r.Site), []forecastRow{}
	for day := range r.Days {
		for _, part := range r.Site.DayParts {
			for _, drink := range r.Drinks {
				k := key{r.From.AddDays(day), part.Code, drink.Code}
				rng, ok := demand.FromRequest(manual[k], forecasts[k])
				if !ok {
					continue
				}
				row := forecastRow{Date: k.date, DayPart: k.part, Drink: k.drink, Mean: rng.Mean(), P10: rng.P10(), P50: rng.P50(), P90: rng.P90(), Basis: v.DemandBasis(rng, forecasts[k])}
				if w := manual[k]; w != nil {
					row.Expected = &w.Expected
				}
				if f := forecasts[k]; f != nil {
					row.Forecast = &historyForecast{f.Mean, f.Levels, f.Quantiles, f.Basis}
				}
				rows = append(rows, row)
			}
		}
	}
	return rows
}

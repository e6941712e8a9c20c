package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"hotday/models"

	"hotday/planner/demand"
	"hotday/planner/facts"
	"hotday/planner/say"
)

const maxDays = 14

// getForecast answers the ranges per drink and day part with their basis: what a plan of these days would start from.
func (s *Server) getForecast(c *gin.Context) error {
	ctx, site := c.Request.Context(), c.Param("site")
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return err
	}
	q := params(c, "from", "days", "now", "limit", "cursor")
	now := q.time("now", setup.Site.Location(), s.Now())
	from := q.date("from", setup.Site.ServiceDayOf(now))
	days := q.whole("days", 1, 1, maxDays)
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	request, err := facts.Gather(ctx, s.Store, facts.GatherQuery{Site: site, From: from, Days: days, Now: now})
	if err != nil {
		return err
	}
	page, err := part(forecastRows(&request), p)
	if err != nil {
		return err
	}
	out := forecastPage{Rows: page.Rows, Next: page.Next}
	if record, found, err := s.Store.TrackRecord(ctx, site); err != nil {
		return err
	} else if found {
		out.Record = &record
	}
	return answer(c, http.StatusOK, out)
}

// forecastPage is the ranges of the days asked for, and how well such ranges and the manager's word have done.
type forecastPage struct {
	Rows   []forecastRow       `json:"rows"`
	Next   *string             `json:"next"`   // cursor of the next page; null on the last
	Record *models.TrackRecord `json:"record"` // of the last eight weeks; null: no night has judged yet
}

// forecastRow is the range that a plan would start from, with where it comes from: the manager's word where there is one, else
// the forecast. Both are told apart beside it.
type forecastRow struct {
	Date     models.Date   `json:"date"`
	DayPart  string        `json:"day_part"`
	Drink    string        `json:"drink"`
	Mean     float64       `json:"mean"`
	P10      float64       `json:"p10"`
	P50      float64       `json:"p50"`
	P90      float64       `json:"p90"`
	Basis    string        `json:"basis"`
	Expected *float64      `json:"expected"` // the manager's word; null: none
	Forecast *forecastOnly `json:"forecast"` // what history gives; null: nothing
}

type forecastOnly struct {
	Mean      float64   `json:"mean"`
	Levels    []float64 `json:"levels"`
	Quantiles []float64 `json:"quantiles"`
	Basis     string    `json:"basis"`
}

// forecastRows puts the rows of a request in the order of its days, day parts and drinks.
func forecastRows(r *models.PlanRequest) []forecastRow {
	type key struct {
		date        models.Date
		part, drink string
	}
	words, casts := map[key]*models.Demand{}, map[key]*models.Forecast{}
	for i, d := range r.Demand {
		words[key{d.Date, d.DayPart, d.Drink}] = &r.Demand[i]
	}
	for i, f := range r.Forecast {
		casts[key{f.Date, f.DayPart, f.Drink}] = &r.Forecast[i]
	}
	v, rows := say.For(r.Site), []forecastRow{}
	for day := range r.Days {
		for _, part := range r.Site.DayParts {
			for _, drink := range r.Drinks {
				k := key{r.From.AddDays(day), part.Code, drink.Code}
				rng, ok := demand.FromRequest(words[k], casts[k])
				if !ok {
					continue
				}
				row := forecastRow{Date: k.date, DayPart: k.part, Drink: k.drink, Mean: rng.Mean(), P10: rng.P10(), P50: rng.P50(), P90: rng.P90(), Basis: v.DemandBasis(rng, casts[k])}
				if w := words[k]; w != nil {
					row.Expected = &w.Expected
				}
				if f := casts[k]; f != nil {
					row.Forecast = &forecastOnly{f.Mean, f.Levels, f.Quantiles, f.Basis}
				}
				rows = append(rows, row)
			}
		}
	}
	return rows
}

package api

import (
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner/holidays"
)

// holidayList is the public holidays of a country and region in a year.
type holidayList struct {
	Country string             `json:"country"`
	Region  string             `json:"region"`
	Year    int                `json:"year"`
	Rows    []holidays.Holiday `json:"rows"`
}

func (s *Server) getHolidays(c *gin.Context) error {
	setup, _, err := s.Store.Setup(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	q := params(c, "country", "region", "year")
	out := holidayList{Country: q.text("country"), Region: q.text("region"),
		Year: q.integer("year", s.Now().In(setup.Site.Location()).Year(), holidays.FirstYear, holidays.LastYear)}
	if err := q.err(); err != nil {
		return err
	}
	if out.Country == "" {
		out.Country = setup.Site.Country
	}
	if out.Region == "" && out.Country == setup.Site.Country {
		out.Region = setup.Site.Region
	}
	if out.Rows, err = holidays.In(out.Country, out.Region, out.Year); err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}

// holidaysBody is the body of POST …/holidays.
type holidaysBody struct {
	Year int `json:"year" validate:"gte=2000,lte=2100"`
}

func (s *Server) postHolidays(c *gin.Context) error {
	var body holidaysBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	setup, added, err := s.addHolidays(c, body.Year)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, holidayList{Country: setup.Site.Country, Region: setup.Site.Region, Year: body.Year, Rows: added})
}

// addHolidays stores a year's public holidays of the site's country and region as events, on days that have none yet, and returns those it
// added. The Events page uses it too.
func (s *Server) addHolidays(c *gin.Context, year int) (models.Setup, []holidays.Holiday, error) {
	ctx, code := c.Request.Context(), c.Param("site")
	setup, _, err := s.Store.Setup(ctx, code)
	if err != nil {
		return setup, nil, err
	}
	if setup.Site.Country == "" {
		return setup, nil, models.Invalid("/site/country", "a two-letter code such as DE (ISO 3166-1) in the set-up", "the site's country is not known")
	}
	list, err := holidays.In(setup.Site.Country, setup.Site.Region, year)
	if err != nil || len(list) == 0 {
		return setup, []holidays.Holiday{}, err
	}
	loc := setup.Site.Location()
	known, err := s.Store.Events(ctx, code, list[0].Date.At(0, loc), list[len(list)-1].Date.AddDays(1).At(0, loc))
	if err != nil {
		return setup, nil, err
	}
	added, events := []holidays.Holiday{}, []models.Event{}
	for _, h := range list {
		day := models.Span{From: h.Date.At(0, loc), To: h.Date.AddDays(1).At(0, loc)}
		if slices.ContainsFunc(known, func(e models.Event) bool {
			return e.Kind == models.HolidayKind && !day.Overlap(models.Span{From: e.From, To: e.To}).Empty()
		}) {
			continue
		}
		added = append(added, h)
		events = append(events, models.Event{From: day.From, To: day.To, Name: h.Name, Factor: 1, Kind: models.HolidayKind})
	}
	if len(events) == 0 {
		return setup, added, nil
	}
	return setup, added, s.saveSiteEvents(c, models.SiteEvents{}, models.SiteEvents{Events: events})
}

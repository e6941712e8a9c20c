package api

import (
	"context"
	"encoding/json"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner"
)

// reviewDays is how many days are looked back on where nobody says.
const reviewDays = 28

// getReview looks back on past days.
func (s *Server) getReview(c *gin.Context) error {
	ctx, site := c.Request.Context(), c.Param("site")
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return err
	}
	q := params(c, "from", "days", "now")
	now := q.time("now", setup.Site.Location(), s.Now())
	days := q.whole("days", reviewDays, 1, planner.MostReviewDays)
	from := q.date("from", setup.Site.ServiceDayOf(now).AddDays(-days))
	if err := q.err(); err != nil {
		return err
	}
	review, err := planner.Review(ctx, s.Store, site, from, days, now)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, review)
}

// replayBody asks for days to be lived again. From null or left out: the newest days before today.
// More than 28 take longer than a job may.
type replayBody struct {
	From *models.Date `json:"from"`
	Days int          `json:"days" default:"14" validate:"min=1,max=28"`
}

// replayOrdered is the answer: the job whose progress GET …/work tells.
type replayOrdered struct {
	Status string      `json:"status"`
	From   models.Date `json:"from"`
	Days   int         `json:"days"`
}

func (s *Server) postPastReplay(c *gin.Context) error {
	var body replayBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	out, err := s.orderReplay(c.Request.Context(), c.Param("site"), body)
	if err != nil {
		return err
	}
	return answer(c, http.StatusAccepted, out)
}

func (s *Server) orderReplay(ctx context.Context, site string, body replayBody) (replayOrdered, error) {
	now := s.Now()
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return replayOrdered{}, err
	}
	order := models.ReplayOrder{From: setup.Site.ServiceDayOf(now).AddDays(-body.Days), Days: body.Days}
	if body.From != nil {
		order.From = *body.From
	}
	oldest, err := s.Store.Counts(ctx, site, models.SalesFilter{}, models.Page{Limit: 1})
	if err != nil {
		return replayOrdered{}, err
	}
	today := setup.Site.ServiceDayOf(now)
	if len(oldest.Rows) == 0 {
		return replayOrdered{}, models.Errorf(models.CodeConflict, "nothing has been counted at site %q: there are no days to live again", site)
	}
	first := setup.Site.ServiceDayOf(oldest.Rows[0].WindowStart)
	if body.From == nil {
		order.From = max(order.From, first)
	}
	if order.From < first || order.From >= today {
		return replayOrdered{}, models.Invalid("/from", "a day with counts before today, from "+string(first)+" on", "%s cannot be lived again", order.From)
	}
	args, err := json.Marshal(order)
	if err != nil {
		return replayOrdered{}, err
	}
	_, err = s.Store.Enqueue(ctx, models.Job{Kind: models.JobReplay, Site: site, Key: now.UTC().Format(time.RFC3339Nano), Args: args})
	return replayOrdered{Status: "queued", From: order.From, Days: order.Days}, err
}

func (s *Server) getPastReplay(c *gin.Context) error {
	r, err := s.Store.PastReplay(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, r)
}

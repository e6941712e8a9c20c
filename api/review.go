package api

import (
	"cmp"
	"encoding/json"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner/facts"
	"hotday/planner/tables"
)

// defaultReviewDays is the number of days reviewed by default.
const defaultReviewDays = 28

func (s *Server) getReview(c *gin.Context) error {
	ctx, site := c.Request.Context(), c.Param("site")
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return err
	}
	q := params(c, "from", "days", "now", "as", "table")
	form, notOffered := q.format(asJSON, xlsxType, csvType)
	now := q.time("now", setup.Site.Location(), s.Now())
	days := q.integer("days", defaultReviewDays, 1, facts.MaxReviewDays)
	from := q.date("from", setup.Site.ServiceDayOf(now).AddDays(-days))
	if err := cmp.Or(q.err(), notOffered); err != nil {
		return err
	}
	review, err := facts.Review(ctx, s.Store, site, from, days, now)
	if err != nil {
		return err
	}
	if form != asJSON {
		return writeTables(c, form, site+"-review", tables.Review(setup, review))
	}
	return writeJSON(c, http.StatusOK, review)
}

// replayBody selects past days to replay, at most 28 so that the job ends in time. From null or left out: the latest days before today.
type replayBody struct {
	From *models.Date `json:"from"`
	Days int          `json:"days" default:"14" validate:"min=1,max=28"`
}

// queuedReplay is the response to a replay request; GET …/work reports the progress.
type queuedReplay struct {
	Status string      `json:"status"`
	From   models.Date `json:"from"`
	Days   int         `json:"days"`
}

func (s *Server) postPastReplay(c *gin.Context) error {
	var body replayBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	out, err := s.queueReplay(c, body)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusAccepted, out)
}

func (s *Server) queueReplay(c *gin.Context, body replayBody) (queuedReplay, error) {
	ctx, site := c.Request.Context(), c.Param("site")
	now := s.Now()
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return queuedReplay{}, err
	}
	order := models.ReplayOrder{From: setup.Site.ServiceDayOf(now).AddDays(-body.Days), Days: body.Days}
	if body.From != nil {
		order.From = *body.From
	}
	oldest, err := s.Store.Counts(ctx, site, models.SalesFilter{}, models.Page{Limit: 1})
	if err != nil {
		return queuedReplay{}, err
	}
	today := setup.Site.ServiceDayOf(now)
	if len(oldest.Rows) == 0 {
		return queuedReplay{}, models.Errorf(models.CodeConflict, "site %q has no sales counts: there are no days to replay", site)
	}
	first := setup.Site.ServiceDayOf(oldest.Rows[0].WindowStart)
	if body.From == nil {
		order.From = max(order.From, first)
	}
	if order.From < first || order.From >= today {
		return queuedReplay{}, models.Invalid("/from", "a day before today with sales counts, from "+string(first)+" on", "%s cannot be replayed", order.From)
	}
	args, err := json.Marshal(order)
	if err != nil {
		return queuedReplay{}, err
	}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if _, err := tx.Enqueue(ctx, models.Job{Kind: models.JobReplay, Site: site, Key: now.UTC().Format(time.RFC3339Nano), Args: args}); err != nil {
			return err
		}
		return s.audit(c, tx, site, models.AuditReplay, planSpan(order.From, order.Days))
	})
	return queuedReplay{Status: "queued", From: order.From, Days: order.Days}, err
}

func (s *Server) getPastReplay(c *gin.Context) error {
	r, err := s.Store.PastReplay(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, r)
}

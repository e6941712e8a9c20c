package api

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/facts"
	"hotday/planner/paper"
	"hotday/planner/sheet"
)

type planBody struct {
	From models.Date `json:"from"`
	Days int         `json:"days" validate:"min=1,max=14"`
	Now  *time.Time  `json:"now"` // the plan's clock; null: the service's
}

// postPlan computes a plan from what the site knows and stores it as the next revision. Where the latest plan followed from the
// same inputs it is the answer, without computing again.
func (s *Server) postPlan(c *gin.Context) error {
	var body planBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	ctx, site := c.Request.Context(), c.Param("site")
	if prefersAsync(c) {
		return s.orderPlan(c, body)
	}
	now := s.Now()
	if body.Now != nil {
		now = *body.Now
	}
	request, err := facts.Gather(ctx, s.Store, facts.GatherQuery{Site: site, From: body.From, Days: body.Days, Now: now})
	if err != nil {
		return err
	}
	if err := plannable(&request); err != nil {
		return err
	}
	digest, err := planner.Digest(request)
	if err != nil {
		return err
	}
	plan, known, err := s.Store.PlanByDigest(ctx, site, digest)
	if err != nil {
		return err
	}
	if !known {
		if plan, err = s.computed(ctx, request); err != nil {
			return err
		}
	}
	if plan, err = s.keepPlan(ctx, site, plan, request); err != nil {
		return err
	}
	c.Header("Location", planPath(site, plan.Revision))
	return answer(c, http.StatusCreated, plan)
}

func planPath(site string, revision int) string {
	return "/v1/sites/" + url.PathEscape(site) + "/plans/" + strconv.Itoa(revision)
}

// plannable says what is missing in words that fit the order of a plan: a person who posts from, days and now has no rows of
// demand in their document.
func plannable(r *models.PlanRequest) error {
	if len(r.Demand) == 0 && len(r.Forecast) == 0 {
		return models.Invalid("", "rows by PUT …/expected-demand for these days, or mapped sales counts of the same weekdays before",
			"nothing says what may be asked for from %s on", r.From)
	}
	return r.Validate()
}

func (s *Server) keepPlan(ctx context.Context, site string, plan models.Plan, request models.PlanRequest) (kept models.Plan, err error) {
	err = s.Store.Within(ctx, func(tx models.Store) error {
		var added bool
		if kept, added, err = tx.AddPlan(ctx, site, plan, request, s.Now()); err != nil {
			return err
		}
		if !added { // it was asked for again: whoever put it aside wants it now
			return tx.SetAside(ctx, site, kept.Revision, time.Time{})
		}
		if err := s.tell(ctx, tx, site, livePlan, map[string]any{"revision": kept.Revision, "from": kept.From, "days": kept.Days}); err != nil {
			return err
		}
		return s.watch(ctx, tx, site)
	})
	return kept, err
}

// computed computes a plan when there is room: each takes a core, so no more run at once than there are.
func (s *Server) computed(ctx context.Context, r models.PlanRequest) (models.Plan, error) {
	done, err := s.room(ctx)
	if err != nil {
		return models.Plan{}, err
	}
	defer done()
	return planner.Compute(ctx, r)
}

// tried computes a plan with one way out taken, when there is room. It looks for no ways out of its own: nobody has taken it yet.
func (s *Server) tried(ctx context.Context, r models.PlanRequest) (models.Plan, error) {
	done, err := s.room(ctx)
	if err != nil {
		return models.Plan{}, err
	}
	defer done()
	return planner.ComputeWithoutWaysOut(ctx, r)
}

// room waits for one of the places for long work; done gives it back.
func (s *Server) room(ctx context.Context) (done func(), err error) {
	select {
	case s.compute <- struct{}{}:
		return func() { <-s.compute }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func prefersAsync(c *gin.Context) bool {
	for _, line := range c.Request.Header.Values("Prefer") {
		for p := range strings.SplitSeq(line, ",") {
			name, _, _ := strings.Cut(p, ";")
			if strings.EqualFold(strings.TrimSpace(name), "respond-async") {
				return true
			}
		}
	}
	return false
}

// ordered is the answer to a plan that is computed later: where it will be, and which revision was the latest before.
type ordered struct {
	Status string `json:"status"`
	After  int    `json:"after_revision"`
}

func (s *Server) orderPlan(c *gin.Context, body planBody) error {
	ctx, site := c.Request.Context(), c.Param("site")
	out := ordered{Status: "queued"}
	err := s.Store.Within(ctx, func(tx models.Store) error {
		if _, _, err := tx.Setup(ctx, site); err != nil {
			return err
		}
		latest, _, err := tx.LatestPlan(ctx, site)
		if err != nil && models.CodeOf(err) != models.CodeNotFound {
			return err
		}
		out.After = latest.Revision
		job, err := planOrder(site, body, s.Now())
		if err != nil {
			return err
		}
		_, err = tx.Enqueue(ctx, job)
		return err
	})
	if err != nil {
		return err
	}
	c.Header("Location", "/v1/sites/"+url.PathEscape(site)+"/plans/latest")
	c.Header("Preference-Applied", "respond-async")
	return answer(c, http.StatusAccepted, out)
}

func planOrder(site string, body planBody, at time.Time) (models.Job, error) {
	args, err := json.Marshal(models.PlanOrder{From: body.From, Days: body.Days, Now: body.Now})
	if err != nil {
		return models.Job{}, fmt.Errorf("write the order of a plan: %w", err)
	}
	key := fmt.Sprintf("order %s %d at %s", body.From, body.Days, at.UTC().Format(time.RFC3339Nano))
	return models.Job{Kind: models.JobReplan, Site: site, Key: key, Args: args}, nil
}

func (s *Server) getPlans(c *gin.Context) error {
	q := params(c, "limit", "cursor")
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	rows, err := s.Store.Plans(c.Request.Context(), c.Param("site"), p)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, rows)
}

// getPlan answers a plan as JSON, or the picture of its days as PDF where that is preferred.
func (s *Server) getPlan(c *gin.Context) error {
	q := params(c, "as", "paper")
	form, err := q.form(asJSON, asPDF)
	size := q.paper()
	if err := cmp.Or(q.err(), err); err != nil {
		return err
	}
	plan, request, err := s.planAt(c, "rev")
	if err != nil {
		return err
	}
	if form == asPDF {
		pdf, err := paper.Weekend(request, plan, size)
		return answerFile(c, asPDF, fmt.Sprintf("plan-%d.pdf", plan.Revision), pdf, err)
	}
	return answer(c, http.StatusOK, plan)
}

// getPlanRequest answers what a plan followed from, so that every number can be traced and tried again as a preview.
func (s *Server) getPlanRequest(c *gin.Context) error {
	if err := params(c).err(); err != nil {
		return err
	}
	_, request, err := s.planAt(c, "rev")
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, request)
}

// planAt reads the plan whose revision, or "latest", stands in the address.
func (s *Server) planAt(c *gin.Context, param string) (models.Plan, models.PlanRequest, error) {
	ctx, site, raw := c.Request.Context(), c.Param("site"), c.Param(param)
	if raw == "latest" {
		return s.Store.LatestPlan(ctx, site)
	}
	rev, err := strconv.Atoi(raw)
	if err != nil || rev < 1 {
		return models.Plan{}, models.PlanRequest{}, models.Errorf(models.CodeNotFound, "there is no plan revision %q; revisions are 1, 2, … and latest", raw)
	}
	return s.Store.Plan(ctx, site, rev)
}

type planChanges struct {
	A    int             `json:"a"`
	B    int             `json:"b"`
	Rows []models.Change `json:"rows"`
	Next *string         `json:"next"`
}

func (s *Server) getPlanChanges(c *gin.Context) error {
	if err := params(c).err(); err != nil {
		return err
	}
	a, _, err := s.planAt(c, "rev")
	if err != nil {
		return err
	}
	b, request, err := s.planAt(c, "other")
	if err != nil {
		return err
	}
	changes := sheet.Changes(a, b, request.Setup)
	return answer(c, http.StatusOK, planChanges{A: a.Revision, B: b.Revision, Rows: append([]models.Change{}, changes...)})
}

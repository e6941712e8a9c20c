package api

import (
	"cmp"
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/codes"
	"go.opentelemetry.io/otel/trace"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/facts"
	"hotday/planner/paper"
	"hotday/planner/sheet"
	"hotday/planner/tables"
)

type planBody struct {
	From models.Date `json:"from"`
	Days int         `json:"days" validate:"min=1,max=14"`
	Now  *time.Time  `json:"now"` // the plan's current time; null: the service's clock
}

// postPlan computes a plan from the site's data and stores it as the next revision. If a stored plan has the same inputs, it is
// returned without computing.
func (s *Server) postPlan(c *gin.Context) error {
	var body planBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	ctx, site := c.Request.Context(), c.Param("site")
	if prefersAsync(c) {
		return s.queuePlan(c, body)
	}
	now := s.Now()
	if body.Now != nil {
		now = *body.Now
	}
	request, err := facts.Gather(ctx, s.Store, facts.GatherQuery{Site: site, From: body.From, Days: body.Days, Now: now})
	if err != nil {
		return err
	}
	if err := checkPlannable(&request); err != nil {
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
		if plan, err = s.computePlan(c, request); err != nil {
			return err
		}
	}
	if plan, err = s.storePlan(c, plan, request); err != nil {
		return err
	}
	c.Header("Location", planPath(site, plan.Revision))
	return writeJSON(c, http.StatusCreated, plan)
}

func planPath(site string, revision int) string {
	return "/v1/sites/" + url.PathEscape(site) + "/plans/" + strconv.Itoa(revision)
}

// checkPlannable validates the gathered request. It words missing demand for the caller of POST plans, whose body has no demand rows.
func checkPlannable(r *models.PlanRequest) error {
	if len(r.Demand) == 0 && len(r.Forecast) == 0 {
		return models.Invalid("", "PUT …/expected-demand rows for these days, or mapped sales counts of the same weekdays before",
			"there is no demand to plan for from %s on", r.From)
	}
	return r.Validate()
}

func (s *Server) storePlan(c *gin.Context, plan models.Plan, request models.PlanRequest) (stored models.Plan, err error) {
	ctx, site := c.Request.Context(), c.Param("site")
	err = s.Store.Within(ctx, func(tx models.Store) error {
		var added bool
		if stored, added, err = tx.AddPlan(ctx, site, plan, request, s.Now()); err != nil {
			return err
		}
		if err := s.audit(c, tx, site, models.AuditPlan, "plan "+strconv.Itoa(stored.Revision)); err != nil {
			return err
		}
		if !added { // ordered again: no longer set aside
			return tx.SetAside(ctx, site, stored.Revision, time.Time{})
		}
		if err := s.emit(ctx, tx, site, livePlan, map[string]any{"revision": stored.Revision, "from": stored.From, "days": stored.Days}); err != nil {
			return err
		}
		return s.queueWatch(ctx, tx, site)
	})
	return stored, err
}

func (s *Server) computePlan(c *gin.Context, r models.PlanRequest) (models.Plan, error) {
	return s.measured(c, r, planner.Compute)
}

// computeWithFix computes a plan with one fix applied. It does not search for further fixes, since it only previews this one.
func (s *Server) computeWithFix(c *gin.Context, r models.PlanRequest) (models.Plan, error) {
	return s.measured(c, r, planner.ComputeWithoutFixes)
}

// measured computes a plan in the caller's place, measured and traced.
func (s *Server) measured(c *gin.Context, r models.PlanRequest, compute func(context.Context, models.PlanRequest) (models.Plan, error)) (plan models.Plan, err error) {
	err = s.compute(c, func(ctx context.Context) error {
		plan, err = s.measure(ctx, r, compute)
		return err
	})
	return plan, err
}

func (s *Server) measure(ctx context.Context, r models.PlanRequest, compute func(context.Context, models.PlanRequest) (models.Plan, error)) (models.Plan, error) {
	began := time.Now()
	ctx, span := s.tracer.Start(ctx, "compute plan", trace.WithAttributes(attribute.String("hotday.site", r.Site.Code), attribute.Int("hotday.days", r.Days)))
	defer span.End()
	plan, err := compute(ctx, r)
	if err != nil {
		span.SetStatus(codes.Error, err.Error())
		return plan, err
	}
	s.Measures.Planned(byRequest, plan, time.Since(began))
	return plan, nil
}

// planSpan is the days of a plan as the activity log shows them.
func planSpan(from models.Date, days int) string {
	if days <= 1 {
		return string(from)
	}
	return string(from) + " – " + string(from.AddDays(days-1))
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

// queuedPlan is the response to a plan that is computed later. After is the latest revision before it, 0: none.
type queuedPlan struct {
	Status string `json:"status"`
	After  int    `json:"after_revision"`
}

func (s *Server) queuePlan(c *gin.Context, body planBody) error {
	site := c.Param("site")
	after, err := s.orderPlan(c, models.PlanOrder{From: body.From, Days: body.Days, Now: body.Now})
	if err != nil {
		return err
	}
	out := queuedPlan{Status: "queued", After: after}
	c.Header("Location", "/v1/sites/"+url.PathEscape(site)+"/plans/latest")
	c.Header("Preference-Applied", "respond-async")
	return writeJSON(c, http.StatusAccepted, out)
}

// orderPlan queues a plan of the request's site and shows at once that it is under way. It replaces an order that is still being
// computed. after is the latest revision before it, 0: none.
func (s *Server) orderPlan(c *gin.Context, o models.PlanOrder) (after int, err error) {
	ctx, site := c.Request.Context(), c.Param("site")
	o.OrderedAt = s.Now()
	args, err := json.Marshal(o)
	if err != nil {
		return 0, fmt.Errorf("encode a plan order: %w", err)
	}
	key := rand.Text() // each order counts, even two of the same moment
	begun := models.Progress{Kind: models.JobPlan, Key: key, Step: models.StepQueued, Say: "Waiting to begin", StartedAt: o.OrderedAt, At: o.OrderedAt}
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if _, _, err := tx.Setup(ctx, site); err != nil {
			return err
		}
		latest, err := tx.LatestPlanAlone(ctx, site)
		if err != nil && models.CodeOf(err) != models.CodeNotFound {
			return err
		}
		after = latest.Revision
		if _, err := tx.PutProgress(ctx, site, begun); err != nil {
			return err
		}
		if err := s.audit(c, tx, site, models.AuditPlan, planSpan(o.From, o.Days)); err != nil {
			return err
		}
		if err := s.emit(ctx, tx, site, liveWork, begun.Event(false, 0)); err != nil {
			return err
		}
		_, err = tx.Enqueue(ctx, models.Job{Kind: models.JobPlan, Site: site, Key: key, Args: args})
		return err
	})
	return after, err
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
	return writeJSON(c, http.StatusOK, rows)
}

// getPlan serves a plan as JSON, as a PDF chart of its days, as a workbook, or one of its tables as CSV.
func (s *Server) getPlan(c *gin.Context) error {
	q := params(c, "as", "paper", "table")
	form, err := q.format(asJSON, asPDF, xlsxType, csvType)
	size := q.paper()
	if err := cmp.Or(q.err(), err); err != nil {
		return err
	}
	tag := func(revision int, digest string) string {
		return s.tag(form, strconv.Itoa(revision), digest, size.Name, c.Query("table"))
	}
	if c.Param("rev") == "latest" { // polled: answered without reading the plan
		heads, err := s.Store.Plans(c.Request.Context(), c.Param("site"), models.Page{Limit: 1})
		if err != nil {
			return err
		}
		if len(heads.Rows) > 0 && notModified(c, tag(heads.Rows[0].Revision, heads.Rows[0].Digest)) {
			return nil
		}
	}
	plan, request, err := s.planAt(c, "rev")
	if err != nil {
		return err
	}
	if notModified(c, tag(plan.Revision, plan.Digest)) {
		return nil
	}
	if form == asPDF {
		pdf, err := paper.Weekend(request, plan, size)
		return writeFile(c, asPDF, fmt.Sprintf("plan-%d.pdf", plan.Revision), pdf, err)
	}
	if form != asJSON {
		sheets := sheet.PrepSheets(request, plan, nil, plan.ComputedAt)
		list := tables.Plan(request, plan, sheets)
		if form == csvType {
			list = append([]tables.Table{tables.Tasks(request, sheets)}, list[len(sheets):]...)
		}
		return writeTables(c, form, fmt.Sprintf("plan-%d", plan.Revision), list)
	}
	return writeJSON(c, http.StatusOK, plan)
}

// getPlanRequest serves the inputs of a plan, which can be posted as a preview.
func (s *Server) getPlanRequest(c *gin.Context) error {
	if err := params(c).err(); err != nil {
		return err
	}
	_, request, err := s.planAt(c, "rev")
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, request)
}

// planAt returns the plan whose revision, or "latest", is in the path.
func (s *Server) planAt(c *gin.Context, param string) (models.Plan, models.PlanRequest, error) {
	ctx, site, raw := c.Request.Context(), c.Param("site"), c.Param(param)
	if raw == "latest" {
		return s.Store.LatestPlan(ctx, site)
	}
	rev, err := strconv.Atoi(raw)
	if err != nil || rev < 1 {
		return models.Plan{}, models.PlanRequest{}, models.Errorf(models.CodeNotFound, "there is no plan revision %q; use 1, 2, … or latest", raw)
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
	return writeJSON(c, http.StatusOK, planChanges{A: a.Revision, B: b.Revision, Rows: append([]models.Change{}, changes...)})
}

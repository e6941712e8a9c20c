package store

import (
	"context"
	"encoding/json"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

// headRow is a plan without its documents, so that a list of plans does not read them.
type headRow struct {
	Site       string `gorm:"primaryKey"`
	Revision   int    `gorm:"primaryKey"`
	Digest     string
	ComputedAt int64
	StoredAt   int64
	FromDate   models.Date
	Days       int
	Text       string
	SetAsideAt *int64 // a proposal that the manager put aside
}

func (headRow) TableName() string { return "plans" }

// planDocumentRow has the documents compressed; earlier versions stored them as text.
type planDocumentRow struct {
	Site        string `gorm:"primaryKey"`
	Revision    int    `gorm:"primaryKey"`
	Plan        string
	Request     string
	PlanZstd    []byte
	RequestZstd []byte
}

func (planDocumentRow) TableName() string { return "plan_documents" }

func (h headRow) head() models.PlanHead {
	return models.PlanHead{Revision: h.Revision, Digest: h.Digest, ComputedAt: instant(h.ComputedAt), StoredAt: instant(h.StoredAt),
		From: h.FromDate, Days: h.Days, Text: h.Text, SetAsideAt: instantOrNil(h.SetAsideAt)}
}

// latestHead returns the latest plan's head, zero if the site has none.
func (s *Store) latestHead(ctx context.Context, site string) (headRow, error) {
	h, _, err := one(gorm.G[headRow](s.db).Scopes(ofSite(site)).Order("revision DESC").Take(ctx))
	return h, err
}

// AddPlan stores the site's next revision unless the latest has the same digest.
func (s *Store) AddPlan(ctx context.Context, site string, p models.Plan, r models.PlanRequest, at time.Time) (stored models.Plan, added bool, err error) {
	request, err := json.Marshal(r)
	if err != nil {
		return stored, false, failed("encode a plan request", err)
	}
	err = s.change(ctx, "store a plan of "+site, site, func(t *Store, _ siteRow) error {
		latest, err := t.latestHead(ctx, site)
		if err != nil {
			return err
		}
		if latest.Revision > 0 && latest.Digest == p.Digest {
			stored, _, err = t.planDocuments(ctx, site, latest.Revision, false)
			return err
		}
		stored, added = p, true
		stored.Revision = latest.Revision + 1
		plan, err := json.Marshal(stored)
		if err != nil {
			return err
		}
		if err := gorm.G[headRow](t.db).Create(ctx, &headRow{Site: site, Revision: stored.Revision, Digest: stored.Digest, ComputedAt: ms(stored.ComputedAt),
			StoredAt: ms(at), FromDate: stored.From, Days: stored.Days, Text: stored.Summary.Text}); err != nil {
			return err
		}
		return gorm.G[planDocumentRow](t.db).Create(ctx, &planDocumentRow{Site: site, Revision: stored.Revision, PlanZstd: compressed(plan), RequestZstd: compressed(request)})
	})
	if err != nil {
		return models.Plan{}, false, err
	}
	return stored, added, nil
}

// planDocuments reads a plan and optionally its request.
func (s *Store) planDocuments(ctx context.Context, site string, revision int, withRequest bool) (p models.Plan, r models.PlanRequest, err error) {
	documents := gorm.G[planDocumentRow](s.db).Scopes(ofSite(site)).Where("revision = ?", revision)
	if !withRequest {
		documents = documents.Omit("request", "request_zstd")
	}
	d, found, err := one(documents.Take(ctx))
	if err != nil {
		return p, r, err
	}
	if !found {
		return p, r, models.Errorf(models.CodeNotFound, "site %q has no plan revision %d", site, revision)
	}
	doc, err := document(d.Plan, d.PlanZstd)
	if err != nil {
		return p, r, err
	}
	if err := json.Unmarshal(doc, &p); err != nil {
		return p, r, err
	}
	p.FillIn()
	if !withRequest {
		return p, r, nil
	}
	if doc, err = document(d.Request, d.RequestZstd); err != nil {
		return p, r, err
	}
	return p, r, models.DecodeStored(doc, &r)
}

// Plan returns a revision and its request.
func (s *Store) Plan(ctx context.Context, site string, revision int) (p models.Plan, r models.PlanRequest, err error) {
	err = s.atSite(ctx, "read a plan of "+site, site, func(t *Store, _ siteRow) (err error) {
		p, r, err = t.planDocuments(ctx, site, revision, true)
		return err
	})
	return p, r, err
}

// LatestPlan returns the latest revision and its request; CodeNotFound if the site has none.
func (s *Store) LatestPlan(ctx context.Context, site string) (models.Plan, models.PlanRequest, error) {
	return s.latestPlan(ctx, site, true)
}

// LatestPlanAlone returns the latest revision without its request; CodeNotFound if the site has none.
func (s *Store) LatestPlanAlone(ctx context.Context, site string) (models.Plan, error) {
	p, _, err := s.latestPlan(ctx, site, false)
	return p, err
}

func (s *Store) latestPlan(ctx context.Context, site string, withRequest bool) (p models.Plan, r models.PlanRequest, err error) {
	err = s.atSite(ctx, "read the latest plan of "+site, site, func(t *Store, _ siteRow) error {
		h, err := t.latestHead(ctx, site)
		if err != nil {
			return err
		}
		if h.Revision == 0 {
			return models.Errorf(models.CodeNotFound, "site %q has no plan yet", site)
		}
		p, r, err = t.planDocuments(ctx, site, h.Revision, withRequest)
		return err
	})
	return p, r, err
}

// PlanByDigest returns the latest revision if it has this digest.
func (s *Store) PlanByDigest(ctx context.Context, site, digest string) (p models.Plan, found bool, err error) {
	err = s.atSite(ctx, "find a plan of "+site, site, func(t *Store, _ siteRow) error {
		h, err := t.latestHead(ctx, site)
		if err != nil || h.Revision == 0 || h.Digest != digest {
			return err
		}
		found = true
		p, _, err = t.planDocuments(ctx, site, h.Revision, false)
		return err
	})
	return p, found && err == nil, err
}

// SetAside dismisses a proposed plan or, with a zero time, restores it.
func (s *Store) SetAside(ctx context.Context, site string, revision int, at time.Time) error {
	return s.change(ctx, "set a plan of "+site+" aside", site, func(t *Store, _ siteRow) error {
		var when *int64
		if !at.IsZero() {
			x := ms(at)
			when = &x
		}
		n, err := gorm.G[headRow](t.db).Scopes(ofSite(site)).Where("revision = ?", revision).Update(ctx, "set_aside_at", when)
		if err == nil && n == 0 {
			err = models.Errorf(models.CodeNotFound, "site %q has no plan revision %d", site, revision)
		}
		return err
	})
}

// Plans lists revisions, newest first.
func (s *Store) Plans(ctx context.Context, site string, p models.Page) (models.Rows[models.PlanHead], error) {
	out := models.Rows[models.PlanHead]{Rows: []models.PlanHead{}}
	err := s.atSite(ctx, "list the plans of "+site, site, func(t *Store, _ siteRow) error {
		before, limit := int64(1)<<62, limitOf(p)
		if _, err := readCursor(p.Cursor, "plans", &before); err != nil {
			return err
		}
		list, err := gorm.G[headRow](t.db).Scopes(ofSite(site)).Where("revision < ?", before).Order("revision DESC").Limit(limit + 1).Find(ctx)
		if len(list) > limit {
			list = list[:limit]
			out.Next = cursorOf("plans", int64(list[limit-1].Revision))
		}
		out.Rows = append(out.Rows, nouns(list, headRow.head)...)
		return err
	})
	return out, err
}

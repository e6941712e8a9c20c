package store

import (
	"context"
	"encoding/json"
	"time"

	"hotday/models"
)

const headColumns = "revision, digest, computed_at, stored_at, from_date, days, text, set_aside_at"

type headRow struct {
	Revision             int
	Digest               string
	ComputedAt, StoredAt int64
	FromDate             string
	Days                 int
	Text                 string
	SetAsideAt           *int64
}

func (h headRow) head() models.PlanHead {
	out := models.PlanHead{Revision: h.Revision, Digest: h.Digest, ComputedAt: instant(h.ComputedAt), StoredAt: instant(h.StoredAt),
		From: models.Date(h.FromDate), Days: h.Days, Text: h.Text}
	if h.SetAsideAt != nil {
		at := instant(*h.SetAsideAt)
		out.SetAsideAt = &at
	}
	return out
}

// latestHead returns the latest plan's head, zero if the site has none.
func (s *Store) latestHead(ctx context.Context, site string) (headRow, error) {
	h, _, err := row[headRow](ctx, s, "SELECT "+headColumns+" FROM plans WHERE site = ? ORDER BY revision DESC LIMIT 1", site)
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
		if _, err := t.exec(ctx, `INSERT INTO plans (site, revision, digest, computed_at, stored_at, from_date, days, text)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?)`, site, stored.Revision, stored.Digest, ms(stored.ComputedAt), ms(at),
			string(stored.From), stored.Days, stored.Summary.Text); err != nil {
			return err
		}
		_, err = t.exec(ctx, "INSERT INTO plan_documents (site, revision, plan, request, plan_zstd, request_zstd) VALUES (?, ?, '', '', ?, ?)",
			site, stored.Revision, compressed(plan), compressed(request))
		return err
	})
	if err != nil {
		return models.Plan{}, false, err
	}
	return stored, added, nil
}

// planDocuments reads a plan and optionally its request.
func (s *Store) planDocuments(ctx context.Context, site string, revision int, withRequest bool) (p models.Plan, r models.PlanRequest, err error) {
	columns := "plan, plan_zstd"
	if withRequest {
		columns = "plan, plan_zstd, request, request_zstd"
	}
	d, found, err := row[struct {
		Plan, Request         string
		PlanZstd, RequestZstd []byte
	}](ctx, s, "SELECT "+columns+" FROM plan_documents WHERE site = ? AND revision = ?", site, revision)
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

// LatestPlanAlone returns the latest revision without its request; CodeNotFound if the site has none.
func (s *Store) LatestPlanAlone(ctx context.Context, site string) (p models.Plan, err error) {
	err = s.atSite(ctx, "read the latest plan of "+site, site, func(t *Store, _ siteRow) error {
		h, err := t.latestHead(ctx, site)
		if err != nil {
			return err
		}
		p, _, err = t.planDocuments(ctx, site, h.Revision, false)
		return err
	})
	return p, err
}

// LatestPlan returns the latest revision; CodeNotFound if the site has none.
func (s *Store) LatestPlan(ctx context.Context, site string) (p models.Plan, r models.PlanRequest, err error) {
	err = s.atSite(ctx, "read the latest plan of "+site, site, func(t *Store, _ siteRow) error {
		h, err := t.latestHead(ctx, site)
		if err != nil {
			return err
		}
		if h.Revision == 0 {
			return models.Errorf(models.CodeNotFound, "site %q has no plan yet", site)
		}
		p, r, err = t.planDocuments(ctx, site, h.Revision, true)
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
		n, err := t.exec(ctx, "UPDATE plans SET set_aside_at = ? WHERE site = ? AND revision = ?", when, site, revision)
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
		list, err := rows[headRow](ctx, t, "SELECT "+headColumns+" FROM plans WHERE site = ? AND revision < ? ORDER BY revision DESC LIMIT ?",
			site, before, limit+1)
		if len(list) > limit {
			list = list[:limit]
			out.Next = cursorOf("plans", int64(list[limit-1].Revision))
		}
		for _, h := range list {
			out.Rows = append(out.Rows, h.head())
		}
		return err
	})
	return out, err
}

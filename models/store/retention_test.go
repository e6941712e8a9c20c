package store

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// tidyShop is a site with two months of plans and sheets: each day three plans, each with a sheet that replaces the one before. The first
// task of the first sheet of each day is marked; the later sheets no longer have it.
func tidyShop(t *testing.T, days int) (s *Store, first models.Date) {
	t.Helper()
	s = openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	_, _, err := s.PutSetup(ctx, models.Setup{Site: models.Site{Code: "harbour"}}, "", t0)
	require.NoError(t, err)
	first = models.Date("2026-07-11")
	for d := range days {
		date := first.AddDays(d)
		for n := range 3 {
			at := t0.AddDate(0, 0, d).Add(time.Duration(n) * time.Minute)
			p, _, err := s.AddPlan(ctx, "harbour", models.Plan{Digest: fmt.Sprint(d, n), From: date, Days: 1}, models.PlanRequest{From: date}, at)
			require.NoError(t, err)
			tasks := []models.Task{{ID: fmt.Sprint("stays ", d)}}
			if n < 2 {
				tasks = append(tasks, models.Task{ID: fmt.Sprint("dropped ", d, n)}, models.Task{ID: fmt.Sprint("unmarked ", d, n)})
			}
			require.NoError(t, s.PutSheets(ctx, "harbour", []models.PrepSheet{{Date: date, Revision: p.Revision, PublishedAt: at, Tasks: tasks}}))
			if n == 0 {
				_, err = s.AddMark(ctx, "harbour", models.TaskMark{Task: fmt.Sprint("dropped ", d, n), State: models.Made, Key: "k", At: at}, at)
				require.NoError(t, err)
				_, err = s.AddMark(ctx, "harbour", models.TaskMark{Task: fmt.Sprint("stays ", d), State: models.Made, Key: "k", At: at}, at)
				require.NoError(t, err)
			}
		}
	}
	return s, first
}

func keepDefaults(t *testing.T, k models.Keep) models.Keep {
	t.Helper()
	all, err := k.WithDefaults()
	require.NoError(t, err)
	return all
}

func TestTidyKeepsWhatPeopleNeed(t *testing.T) {
	t.Parallel()
	const days = 60
	s, first := tidyShop(t, days)
	now := t0.AddDate(0, 0, days)
	marksBefore, err := s.Marks(ctx, "harbour", first, first.AddDays(days))
	require.NoError(t, err)
	sheetsBefore, err := s.Sheets(ctx, "harbour", first, first.AddDays(days))
	require.NoError(t, err)
	done, err := s.TidySite(ctx, "harbour", keepDefaults(t, nil), now)
	require.NoError(t, err)
	require.EqualValues(t, 30*2, done.Removed[models.KeepPlans], "two of three plans of the days before the last 30")
	require.Zero(t, done.Removed[models.KeepPublished])
	require.EqualValues(t, 29, done.Removed[models.KeepSheets], "the replaced sheets without a marked task")

	marks, err := s.Marks(ctx, "harbour", first, first.AddDays(days))
	require.NoError(t, err)
	require.Equal(t, marksBefore, marks)
	sheets, err := s.Sheets(ctx, "harbour", first, first.AddDays(days))
	require.NoError(t, err)
	require.Equal(t, sheetsBefore, sheets)
	for _, sheet := range sheets {
		_, _, err := s.Plan(ctx, "harbour", sheet.Revision)
		require.NoError(t, err, "the plan of the sheet of %s", sheet.Date)
	}
	_, _, err = s.Plan(ctx, "harbour", 1)
	require.Equal(t, models.CodeNotFound, models.CodeOf(err))
	_, _, task, replaced, err := s.Task(ctx, "dropped 0 0")
	require.NoError(t, err)
	require.True(t, replaced)
	require.Equal(t, models.Made, task.State)
	_, _, _, _, err = s.Task(ctx, "unmarked 0 1")
	require.Equal(t, models.CodeNotFound, models.CodeOf(err))
	_, _, _, _, err = s.Task(ctx, fmt.Sprint("unmarked ", days-1, 1))
	require.NoError(t, err, "recent replaced sheets stay")

	again, err := s.TidySite(ctx, "harbour", keepDefaults(t, nil), now)
	require.NoError(t, err)
	for name, n := range again.Removed {
		require.Zero(t, n, name)
	}
	faults, err := faultsOf(ctx, s.writeDB)
	require.NoError(t, err)
	require.Empty(t, faults)
}

func TestTidyNeverRemovesTheLatestPlan(t *testing.T) {
	t.Parallel()
	s, _ := tidyShop(t, 2)
	_, err := s.TidySite(ctx, "harbour", keepDefaults(t, nil), t0.AddDate(5, 0, 0))
	require.NoError(t, err)
	p, _, err := s.LatestPlan(ctx, "harbour")
	require.NoError(t, err)
	require.Equal(t, 6, p.Revision)
	p, _, err = s.AddPlan(ctx, "harbour", models.Plan{Digest: "new"}, models.PlanRequest{}, t0)
	require.NoError(t, err)
	require.Equal(t, 7, p.Revision, "numbers are never used twice")
}

func TestTidyRemovesOldRecordsOfEachKind(t *testing.T) {
	t.Parallel()
	s := openFile(t, shopFile(t))
	hook, _, err := s.AddWebhook(ctx, models.Webhook{URL: "https://example.com", Events: []string{models.HookMarked}}, t0)
	require.NoError(t, err)
	add := func(at time.Time, key string) {
		_, err := s.AddEvent(ctx, models.LiveEvent{Site: "harbour", Kind: "mark", At: at, Data: json.RawMessage(`{}`)})
		require.NoError(t, err)
		_, err = s.SyncWarnings(ctx, "harbour", []string{"x"}, []models.OpenWarning{{Key: key}}, at)
		require.NoError(t, err)
		require.NoError(t, s.AddAudit(ctx, models.AuditEntry{At: at, Site: "harbour", Action: key}))
	}
	now := t0.AddDate(4, 0, 0)
	add(t0, "old")
	add(now.AddDate(0, 0, -1), "new")
	_, err = s.SyncWarnings(ctx, "harbour", []string{""}, nil, t0.AddDate(0, 0, 1)) // closes both
	require.NoError(t, err)

	count := func(table string) (n int) {
		require.NoError(t, s.readDB.QueryRow("SELECT COUNT(*) FROM "+table).Scan(&n))
		return n
	}
	for _, table := range []string{"live_events", "warnings", "audit", "deliveries"} {
		require.Equal(t, 2, count(table), table)
	}
	_, err = s.TidySite(ctx, "harbour", keepDefaults(t, nil), now)
	require.NoError(t, err)
	_, err = s.TidyService(ctx, keepDefaults(t, nil), now)
	require.NoError(t, err)
	for _, table := range []string{"live_events", "warnings", "audit", "deliveries"} {
		require.Equal(t, 1, count(table), table)
	}
	left, err := s.Deliveries(ctx, hook.ID, models.Page{})
	require.NoError(t, err)
	require.Equal(t, now.AddDate(0, 0, -1).UnixMilli(), left.Rows[0].CreatedAt.UnixMilli())
}

func TestDocumentsOfEarlierVersionsAreReadAndCompressed(t *testing.T) {
	t.Parallel()
	s, first := tidyShop(t, 15)
	for _, of := range []struct{ table, column string }{{"plan_documents", "plan"}, {"plan_documents", "request"}, {"sheets", "sheet"}} {
		type stored struct {
			ID  int64
			Doc []byte
		}
		list, err := rows[stored](ctx, s, fmt.Sprintf("SELECT rowid AS id, %s_zstd AS doc FROM %s", of.column, of.table))
		require.NoError(t, err)
		for _, r := range list {
			doc, err := document("", r.Doc)
			require.NoError(t, err)
			_, err = s.writeDB.Exec(fmt.Sprintf("UPDATE %s SET %s = ?, %s_zstd = NULL WHERE rowid = ?", of.table, of.column, of.column), string(doc), r.ID)
			require.NoError(t, err)
		}
	}
	read := func() []any {
		p, r, err := s.Plan(ctx, "harbour", 45)
		require.NoError(t, err)
		sheets, err := s.Sheets(ctx, "harbour", first, first.AddDays(15))
		require.NoError(t, err)
		dropped, err := s.DroppedTasks(ctx, "harbour", first, first.AddDays(15))
		require.NoError(t, err)
		return []any{p, r, sheets, dropped}
	}
	before := read()
	done, err := s.TidySite(ctx, "harbour", keepDefaults(t, nil), t0.AddDate(0, 0, 15))
	require.NoError(t, err)
	require.EqualValues(t, 45*3, done.Compressed)
	require.Equal(t, before, read())
	var text int
	require.NoError(t, s.readDB.QueryRow("SELECT (SELECT COUNT(*) FROM plan_documents WHERE plan <> '' OR request <> '') + (SELECT COUNT(*) FROM sheets WHERE sheet <> '')").Scan(&text))
	require.Zero(t, text)
}

func TestKeepIsChecked(t *testing.T) {
	t.Parallel()
	_, err := models.Keep{"plan": 10}.WithDefaults()
	require.ErrorContains(t, err, `"plan"`)
	require.ErrorContains(t, err, "plans, published")
	_, err = models.Keep{"jobs": 1}.WithDefaults()
	require.ErrorContains(t, err, "at least 16 days")
	k, err := models.Keep{"plans": 90}.WithDefaults()
	require.NoError(t, err)
	require.Equal(t, 90, k[models.KeepPlans])
	require.Len(t, k, len(models.KeptRecords))
}

package store

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"hotday/models"
)

type sheetRow struct {
	ID        int64
	Sheet     string
	SheetZstd []byte
}

// sheet decodes the document.
func (r sheetRow) sheet() (sheet models.PrepSheet, err error) {
	doc, err := document(r.Sheet, r.SheetZstd)
	if err == nil {
		err = json.Unmarshal(doc, &sheet)
	}
	return sheet, err
}

// PutSheets publishes sheets in one transaction. A task ID of another site is CodeConflict.
func (s *Store) PutSheets(ctx context.Context, site string, sheets []models.PrepSheet) error {
	return s.change(ctx, "publish prep sheets of "+site, site, func(t *Store, _ siteRow) error {
		for _, sheet := range sheets {
			sheet.Site = site
			if err := t.putSheet(ctx, sheet); err != nil {
				return err
			}
		}
		return nil
	})
}

func (s *Store) putSheet(ctx context.Context, sheet models.PrepSheet) error {
	// Reading a sheet derives the states from the marks.
	sheet.Tasks = slices.Clone(sheet.Tasks)
	for i := range sheet.Tasks {
		sheet.Tasks[i].State = models.Due
	}
	doc, err := json.Marshal(sheet)
	if err != nil {
		return err
	}
	id, _, err := row[int64](ctx, s, "INSERT INTO sheets (site, date, revision, published_at, sheet, sheet_zstd) VALUES (?, ?, ?, ?, '', ?) RETURNING id",
		sheet.Site, string(sheet.Date), sheet.Revision, ms(sheet.PublishedAt), compressed(doc))
	if err != nil {
		return err
	}
	for _, task := range sheet.Tasks {
		doc, err := json.Marshal(task)
		if err != nil {
			return err
		}
		n, err := s.exec(ctx, `INSERT INTO tasks (id, site, date, sheet_id, task) VALUES (?, ?, ?, ?, ?)
			ON CONFLICT (id) DO UPDATE SET date = excluded.date, sheet_id = excluded.sheet_id, task = excluded.task
			WHERE tasks.site = excluded.site`, task.ID, sheet.Site, string(sheet.Date), id, string(doc))
		if err != nil {
			return err
		}
		if n == 0 {
			return models.Errorf(models.CodeConflict, "task id %q belongs to another site", task.ID)
		}
	}
	return nil
}

// Sheet returns the current sheet for a date with the states of its tasks.
func (s *Store) Sheet(ctx context.Context, site string, date models.Date) (models.PrepSheet, error) {
	list, err := s.Sheets(ctx, site, date, date.AddDays(1))
	if err != nil {
		return models.PrepSheet{}, err
	}
	if len(list) == 0 {
		return models.PrepSheet{}, models.Errorf(models.CodeNotFound, "no prep sheet for %s is published at site %q", date, site)
	}
	return list[0], nil
}

// Sheets returns the current sheets for dates from ≤ d < to, in order.
func (s *Store) Sheets(ctx context.Context, site string, from, to models.Date) ([]models.PrepSheet, error) {
	return s.sheetsOf(ctx, site, from, to, "(SELECT MAX(n.id) FROM sheets n WHERE n.site = h.site AND n.date = h.date)")
}

// SheetBefore returns the sheet that the current one for a date has replaced; CodeNotFound if it has replaced none.
func (s *Store) SheetBefore(ctx context.Context, site string, date models.Date) (models.PrepSheet, error) {
	list, err := s.sheetsOf(ctx, site, date, date.AddDays(1), "(SELECT n.id FROM sheets n WHERE n.site = h.site AND n.date = h.date ORDER BY n.id DESC LIMIT 1 OFFSET 1)")
	if err != nil {
		return models.PrepSheet{}, err
	}
	if len(list) == 0 {
		return models.PrepSheet{}, models.Errorf(models.CodeNotFound, "the prep sheet for %s at site %q has replaced none", date, site)
	}
	return list[0], nil
}

// sheetsOf returns the sheets for dates from ≤ d < to whose id is a value of SQL, in order, with the states of their tasks.
func (s *Store) sheetsOf(ctx context.Context, site string, from, to models.Date, id string) ([]models.PrepSheet, error) {
	var out []models.PrepSheet
	err := s.atSite(ctx, "read prep sheets of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[sheetRow](ctx, t, `SELECT h.id, h.sheet, h.sheet_zstd FROM sheets h WHERE h.site = ? AND h.date >= ? AND h.date < ?
			AND h.id = `+id+` ORDER BY h.date`,
			site, string(from), string(to))
		if err != nil {
			return err
		}
		marks, err := t.Marks(ctx, site, from, to)
		if err != nil {
			return err
		}
		byTask := map[string][]models.TaskMark{}
		for _, m := range marks {
			byTask[m.Task] = append(byTask[m.Task], m)
		}
		for _, r := range list {
			sheet, err := r.sheet()
			if err != nil {
				return err
			}
			sheet.FillIn()
			for i := range sheet.Tasks {
				t := &sheet.Tasks[i]
				t.State = t.StateOf(byTask[t.ID], byTask[t.PartOf])
			}
			out = append(out, sheet)
		}
		return nil
	})
	return out, err
}

// droppedRow is a task of a replaced sheet with the current sheet.
type droppedRow struct {
	Task, Sheet string
	SheetZstd   []byte
}

// DroppedTasks returns the tasks of replaced sheets that the current ones no longer have, for dates from ≤ d < to.
func (s *Store) DroppedTasks(ctx context.Context, site string, from, to models.Date) ([]models.DroppedTask, error) {
	var out []models.DroppedTask
	err := s.atSite(ctx, "read dropped tasks of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[droppedRow](ctx, t, `SELECT k.task, h.sheet, h.sheet_zstd FROM sheets h JOIN tasks k ON k.site = h.site AND k.date = h.date AND k.sheet_id <> h.id
			WHERE h.site = ? AND h.date >= ? AND h.date < ?
			AND h.id = (SELECT MAX(n.id) FROM sheets n WHERE n.site = h.site AND n.date = h.date) ORDER BY h.date, k.id`,
			site, string(from), string(to))
		if err != nil {
			return err
		}
		for _, r := range list {
			var d models.DroppedTask
			if err := json.Unmarshal([]byte(r.Task), &d.Task); err != nil {
				return err
			}
			d.FillIn()
			sheet, err := sheetRow{Sheet: r.Sheet, SheetZstd: r.SheetZstd}.sheet()
			if err != nil {
				return err
			}
			d.Revision, d.PublishedAt = sheet.Revision, sheet.PublishedAt
			out = append(out, d)
		}
		return nil
	})
	return out, err
}

// TasksOfKind returns the tasks of a kind for dates from ≤ d < to as they were published.
func (s *Store) TasksOfKind(ctx context.Context, site, kind string, from, to models.Date) ([]models.Task, error) {
	var out []models.Task
	err := s.atSite(ctx, "read "+kind+" tasks of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct{ Task string }](ctx, t, `SELECT k.task FROM tasks k WHERE k.site = ? AND k.date >= ? AND k.date < ? AND k.task LIKE ? ORDER BY k.date, k.id`,
			site, string(from), string(to), `%"kind":"`+kind+`"%`)
		if err != nil {
			return err
		}
		for _, r := range list {
			var task models.Task
			if err := json.Unmarshal([]byte(r.Task), &task); err != nil {
				return err
			}
			if task.Kind != kind { // a text in it looks like a kind
				continue
			}
			task.FillIn()
			out = append(out, task)
		}
		return nil
	})
	return out, err
}

// Task returns a task by ID with its state.
func (s *Store) Task(ctx context.Context, id string) (site string, date models.Date, task models.Task, replaced bool, err error) {
	err = failed("find a task", s.view(ctx, func(t *Store) error {
		r, found, err := row[struct {
			Site, Date, Task string
			SheetID          int64
			Latest           int64
		}](ctx, t, `SELECT t.site, t.date, t.task, t.sheet_id,
			(SELECT MAX(h.id) FROM sheets h WHERE h.site = t.site AND h.date = t.date) AS latest FROM tasks t WHERE t.id = ?`, id)
		if err != nil {
			return err
		}
		if !found {
			return models.Errorf(models.CodeNotFound, "there is no task %q", id)
		}
		if err := json.Unmarshal([]byte(r.Task), &task); err != nil {
			return err
		}
		task.FillIn()
		own, err := t.marks(ctx, "task = ?", id)
		if err != nil {
			return err
		}
		line, err := t.marks(ctx, "task = ?", task.PartOf)
		if err != nil {
			return err
		}
		site, date, replaced = r.Site, models.Date(r.Date), r.SheetID < r.Latest
		task.State = task.StateOf(own, line)
		return nil
	}))
	return site, date, task, replaced, err
}

// AddMark stores a mark on a task of the site, under the task's date at the time.
func (s *Store) AddMark(ctx context.Context, site string, m models.TaskMark, at time.Time) (added bool, err error) {
	err = s.change(ctx, "store a mark", site, func(t *Store, _ siteRow) error {
		date, found, err := row[string](ctx, t, "SELECT date FROM tasks WHERE id = ? AND site = ?", m.Task, site)
		if err != nil {
			return err
		}
		if !found {
			return models.Errorf(models.CodeNotFound, "site %q has no task %q", site, m.Task)
		}
		n, err := t.exec(ctx, `INSERT INTO task_marks (task, site, date, key, state, at, beverage_g, tds_pct, ice_g, left_g, temp_c, reason, corrects, stored_at)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (task, key) DO NOTHING`,
			m.Task, site, date, m.Key, m.State, ms(m.At), m.BeverageG, m.TDSPct, m.IceG, m.LeftG, m.TempC, m.Reason, m.Corrects, ms(at))
		added = n > 0
		return err
	})
	return added && err == nil, err
}

// Marks returns the marks on tasks of dates from ≤ d < to, in order of arrival.
func (s *Store) Marks(ctx context.Context, site string, from, to models.Date) (out []models.TaskMark, err error) {
	err = s.atSite(ctx, "read marks of "+site, site, func(t *Store, _ siteRow) (err error) {
		out, err = t.marks(ctx, "site = ? AND date >= ? AND date < ?", site, string(from), string(to))
		return err
	})
	return out, err
}

func (s *Store) marks(ctx context.Context, where string, args ...any) ([]models.TaskMark, error) {
	list, err := rows[struct {
		Task, Key, State, Reason string
		At                       int64
		BeverageG, TdsPct, IceG  *float64
		LeftG, TempC             *float64
		Corrects                 bool
	}](ctx, s, "SELECT task, key, state, at, beverage_g, tds_pct, ice_g, left_g, temp_c, reason, corrects FROM task_marks WHERE "+where+" ORDER BY id", args...)
	var out []models.TaskMark
	for _, m := range list {
		out = append(out, models.TaskMark{Task: m.Task, Key: m.Key, State: m.State, At: instant(m.At),
			BeverageG: m.BeverageG, TDSPct: m.TdsPct, IceG: m.IceG, LeftG: m.LeftG, TempC: m.TempC, Reason: m.Reason, Corrects: m.Corrects})
	}
	return out, err
}

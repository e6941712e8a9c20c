package store

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"hotday/models"
)

// sheetRow is a published sheet. The one of a date with the highest ID is current. Earlier versions stored the document as text.
type sheetRow struct {
	ID          int64
	Site        string
	Date        models.Date
	Revision    int
	PublishedAt int64
	Sheet       string
	SheetZstd   []byte
}

func (sheetRow) TableName() string { return "sheets" }

// taskRow is a task as the newest sheet that ever had it has it.
type taskRow struct {
	ID      string
	Site    string
	Date    models.Date
	SheetID int64
	Task    models.Task `gorm:"serializer:json"`
}

func (taskRow) TableName() string { return "tasks" }

// task completes the document, which an earlier version may have stored.
func (r taskRow) task() models.Task {
	r.Task.FillIn()
	return r.Task
}

// markRow is a mark on a task. Rows are only added: the task's state follows from them.
type markRow struct {
	ID        int64
	Task      string
	Site      string
	Date      models.Date
	Key       string
	State     string
	At        int64
	BeverageG *float64
	TDSPct    *float64 `gorm:"column:tds_pct"`
	IceG      *float64
	Reason    string
	StoredAt  int64
	TempC     *float64
	Corrects  bool
	LeftG     *float64
}

func (markRow) TableName() string { return "task_marks" }

func (r markRow) mark() models.TaskMark {
	return models.TaskMark{Task: r.Task, Key: r.Key, State: r.State, At: instant(r.At), BeverageG: r.BeverageG, TDSPct: r.TDSPct, IceG: r.IceG,
		LeftG: r.LeftG, TempC: r.TempC, Reason: r.Reason, Corrects: r.Corrects}
}

// sameTask makes Create replace a task of the same site, and no other's.
var sameTask = clause.OnConflict{
	Columns:   []clause.Column{{Name: "id"}},
	DoUpdates: clause.AssignmentColumns([]string{"date", "sheet_id", "task"}),
	Where:     clause.Where{Exprs: []clause.Expression{clause.Expr{SQL: "tasks.site = excluded.site"}}},
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
	r := sheetRow{Site: sheet.Site, Date: sheet.Date, Revision: sheet.Revision, PublishedAt: ms(sheet.PublishedAt), SheetZstd: compressed(doc)}
	if err := gorm.G[sheetRow](s.db).Create(ctx, &r); err != nil {
		return err
	}
	for _, task := range sheet.Tasks {
		stored := gorm.WithResult()
		if err := gorm.G[taskRow](s.db, sameTask, stored).Create(ctx, &taskRow{ID: task.ID, Site: sheet.Site, Date: sheet.Date, SheetID: r.ID, Task: task}); err != nil {
			return err
		}
		if stored.RowsAffected == 0 {
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
	return s.sheetsOf(ctx, site, from, to, currentSheet)
}

// SheetBefore returns the sheet that the current one for a date has replaced; CodeNotFound if it has replaced none.
func (s *Store) SheetBefore(ctx context.Context, site string, date models.Date) (models.PrepSheet, error) {
	list, err := s.sheetsOf(ctx, site, date, date.AddDays(1), "sheets.id = (SELECT n.id FROM sheets n WHERE n.site = sheets.site AND n.date = sheets.date ORDER BY n.id DESC LIMIT 1 OFFSET 1)")
	if err != nil {
		return models.PrepSheet{}, err
	}
	if len(list) == 0 {
		return models.PrepSheet{}, models.Errorf(models.CodeNotFound, "the prep sheet for %s at site %q has replaced none", date, site)
	}
	return list[0], nil
}

// currentSheet is the condition that a sheet is the current one of its date.
const currentSheet = "sheets.id = (SELECT MAX(n.id) FROM sheets n WHERE n.site = sheets.site AND n.date = sheets.date)"

// sheetsOf returns the sheets for dates from ≤ d < to that meet a condition, in order, with the states of their tasks.
func (s *Store) sheetsOf(ctx context.Context, site string, from, to models.Date, condition string) ([]models.PrepSheet, error) {
	var out []models.PrepSheet
	err := s.atSite(ctx, "read prep sheets of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[sheetRow](t.db).Scopes(ofSite(site), ofDates(from, to)).Where(condition).Order("date").Find(ctx)
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

// DroppedTasks returns the tasks of replaced sheets that the current ones no longer have, for dates from ≤ d < to.
func (s *Store) DroppedTasks(ctx context.Context, site string, from, to models.Date) ([]models.DroppedTask, error) {
	var out []models.DroppedTask
	err := s.atSite(ctx, "read dropped tasks of "+site, site, func(t *Store, _ siteRow) error {
		sheets, err := gorm.G[sheetRow](t.db).Scopes(ofSite(site), ofDates(from, to)).Where(currentSheet).Omit("sheet", "sheet_zstd").Order("date").Find(ctx)
		if err != nil {
			return err
		}
		current := map[models.Date]sheetRow{}
		for _, r := range sheets {
			current[r.Date] = r
		}
		dropped, err := gorm.G[taskRow](t.db).Scopes(ofSite(site), ofDates(from, to)).
			Where("sheet_id <> (SELECT MAX(n.id) FROM sheets n WHERE n.site = tasks.site AND n.date = tasks.date)").Order("date, id").Find(ctx)
		if err != nil {
			return err
		}
		for _, r := range dropped {
			by := current[r.Date]
			d := models.DroppedTask{Task: r.task(), Revision: by.Revision, PublishedAt: instant(by.PublishedAt)}
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
		list, err := gorm.G[taskRow](t.db).Scopes(ofSite(site), ofDates(from, to)).Where("task LIKE ?", `%"kind":"`+kind+`"%`).Order("date, id").Find(ctx)
		if err != nil {
			return err
		}
		for _, r := range list {
			task := r.task()
			if task.Kind != kind { // a text in it looks like a kind
				continue
			}
			out = append(out, task)
		}
		return nil
	})
	return out, err
}

// Task returns a task by ID with its state.
func (s *Store) Task(ctx context.Context, id string) (site string, date models.Date, task models.Task, replaced bool, err error) {
	err = failed("find a task", s.view(ctx, func(t *Store) error {
		r, found, err := one(gorm.G[taskRow](t.db).Where("id = ?", id).Take(ctx))
		if err != nil {
			return err
		}
		if !found {
			return models.Errorf(models.CodeNotFound, "there is no task %q", id)
		}
		current, err := gorm.G[sheetRow](t.db).Scopes(ofSite(r.Site)).Where("date = ?", r.Date).Omit("sheet", "sheet_zstd").Order("id DESC").Take(ctx)
		if err != nil {
			return err
		}
		task = r.task()
		own, err := marksOf(ctx, gorm.G[markRow](t.db).Where("task = ?", id))
		if err != nil {
			return err
		}
		line, err := marksOf(ctx, gorm.G[markRow](t.db).Where("task = ?", task.PartOf))
		if err != nil {
			return err
		}
		site, date, replaced = r.Site, r.Date, r.SheetID < current.ID
		task.State = task.StateOf(own, line)
		return nil
	}))
	return site, date, task, replaced, err
}

// AddMark stores a mark on a task of the site, under the task's date at the time.
func (s *Store) AddMark(ctx context.Context, site string, m models.TaskMark, at time.Time) (added bool, err error) {
	err = s.change(ctx, "store a mark", site, func(t *Store, _ siteRow) error {
		task, found, err := one(gorm.G[taskRow](t.db).Scopes(ofSite(site)).Where("id = ?", m.Task).Omit("task").Take(ctx))
		if err != nil {
			return err
		}
		if !found {
			return models.Errorf(models.CodeNotFound, "site %q has no task %q", site, m.Task)
		}
		stored := gorm.WithResult()
		err = gorm.G[markRow](t.db, clause.OnConflict{Columns: []clause.Column{{Name: "task"}, {Name: "key"}}, DoNothing: true}, stored).Create(ctx, &markRow{
			Task: m.Task, Site: site, Date: task.Date, Key: m.Key, State: m.State, At: ms(m.At), BeverageG: m.BeverageG, TDSPct: m.TDSPct, IceG: m.IceG,
			LeftG: m.LeftG, TempC: m.TempC, Reason: m.Reason, Corrects: m.Corrects, StoredAt: ms(at)})
		added = stored.RowsAffected > 0
		return err
	})
	return added && err == nil, err
}

// Marks returns the marks on tasks of dates from ≤ d < to, in order of arrival.
func (s *Store) Marks(ctx context.Context, site string, from, to models.Date) (out []models.TaskMark, err error) {
	err = s.atSite(ctx, "read marks of "+site, site, func(t *Store, _ siteRow) (err error) {
		out, err = marksOf(ctx, gorm.G[markRow](t.db).Scopes(ofSite(site), ofDates(from, to)))
		return err
	})
	return out, err
}

// marksOf returns the marks of a query, in order of arrival.
func marksOf(ctx context.Context, query gorm.ChainInterface[markRow]) ([]models.TaskMark, error) {
	list, err := query.Order("id").Find(ctx)
	return nouns(list, markRow.mark), err
}

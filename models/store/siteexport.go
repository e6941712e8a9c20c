package store

import (
	"archive/zip"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

// siteTable is a CSV file of a site's archive. The query has the site's code as its only argument, and its columns are those of the file;
// instants among them, by instantColumns, are written as RFC 3339.
type siteTable struct{ file, query string }

// siteTables are the tables of a site, without secrets and without what hotday computes from the others.
var siteTables = []siteTable{
	{"sales_counts", `SELECT i.source, i.item, c.window_start, c.window_end, c.count, c.received_at FROM sales_counts c JOIN sales_items i ON i.id = c.item_id
		WHERE c.site_id = (SELECT id FROM sites WHERE code = ?) ORDER BY c.window_start, i.source, i.item`},
	{"item_mappings", `SELECT i.source, i.item, m.date AS from_date, m.drink, m.factor FROM item_mappings m JOIN sales_items i ON i.id = m.item_id
		WHERE i.site_id = (SELECT id FROM sites WHERE code = ?) ORDER BY i.source, i.item, m.date`},
	{"expected_demand", `SELECT date, day_part, drink, expected, p10, p90, note, stored_at FROM expected_demand WHERE site = ? ORDER BY date, day_part, drink`},
	{"weather_observed", `SELECT at, temp_c, humidity_pct, rain_mm, issued_at FROM weather_observed WHERE site = ? ORDER BY at`},
	{"weather_forecasts", `SELECT at, issued_at, temp_c, humidity_pct, rain_mm FROM weather_forecast WHERE site = ? ORDER BY at, issued_at`},
	{"weather_highs", `SELECT date, set_at, high_c, cleared_at FROM weather_highs WHERE site = ? ORDER BY date, set_at`},
	{"events", `SELECT from_at, to_at, name, closed, factor, kind FROM events WHERE site = ? ORDER BY from_at, name`},
	{"off_sale", `SELECT drink, from_at, to_at FROM off_sale WHERE site = ? ORDER BY from_at, drink`},
	{"outages", `SELECT kind, code, from_at, to_at FROM outages WHERE site = ? ORDER BY from_at, kind, code`},
	{"attention", `SELECT from_at, to_at, starts FROM attention WHERE site = ? ORDER BY from_at`},
	{"stock_counts", `SELECT counted_at, stored_at, body FROM stock_counts WHERE site = ? ORDER BY counted_at, id`},
	{"stock_changes", `SELECT at, stored_at, body FROM stock_changes WHERE site = ? ORDER BY at, id`},
	{"marks", `SELECT task, date, state, at, beverage_g, tds_pct, ice_g, left_g, temp_c, reason, corrects, stored_at FROM task_marks WHERE site = ? ORDER BY id`},
	{"warnings", `SELECT kind, opened_at, closed_at, acked_at, acked_by, warning FROM warnings WHERE site = ? ORDER BY opened_at, id`},
	{"measured_brews", `SELECT coffee, at, dose_g, brew_water_g, beverage_g, tds_pct, by_name FROM measured_brews WHERE site = ? ORDER BY coffee, at`},
	{"learnt_changes", `SELECT at, by_name, change, undone_at, undone_by FROM learnt_changes WHERE site = ? ORDER BY id`},
	{"notified_devices", `SELECT t.name AS person, d.browser, d.created_at, d.sent_at FROM push_devices d JOIN tokens t ON t.id = d.person WHERE d.site = ? ORDER BY d.created_at, d.id`},
	{"forecasts", `SELECT date, said_at, said AS forecast FROM forecasts_said WHERE site = ? ORDER BY date`},
	{"activity", `SELECT at, by_name, action, subject FROM audit WHERE site = ? ORDER BY id`},
}

// instantColumns are the columns of siteTables that hold instants in Unix milliseconds, besides those that end in _at.
var instantColumns = map[string]bool{"at": true, "window_start": true, "window_end": true}

// ExportSite writes everything that a site has stored, but no secrets, as a zip archive: setup.json and its versions, plans with their
// requests, sheets and tasks as JSON; the rest as CSV.
func (s *Store) ExportSite(ctx context.Context, site string, w io.Writer) error {
	return s.atSite(ctx, "export "+site, site, func(t *Store, _ siteRow) error {
		z := zip.NewWriter(w)
		for _, table := range siteTables {
			if err := t.exportTable(ctx, z, site, table); err != nil {
				return fmt.Errorf("%s: %w", table.file, err)
			}
		}
		for _, of := range []siteTable{
			{"setup", "SELECT 'versions/' || version AS name, setup AS text, NULL AS zstd FROM setups WHERE site = ? ORDER BY version"},
			{"setup", "SELECT 'current' AS name, setup AS text, NULL AS zstd FROM setups WHERE site = ? ORDER BY version DESC LIMIT 1"},
			{"plans", "SELECT revision AS name, plan AS text, plan_zstd AS zstd FROM plan_documents WHERE site = ? ORDER BY revision"},
			{"requests", "SELECT revision AS name, request AS text, request_zstd AS zstd FROM plan_documents WHERE site = ? ORDER BY revision"},
			{"sheets", "SELECT date || '/' || id AS name, sheet AS text, sheet_zstd AS zstd FROM sheets WHERE site = ? ORDER BY id"},
			{"tasks", "SELECT date || '/' || id AS name, task AS text, NULL AS zstd FROM tasks WHERE site = ? ORDER BY date, id"},
		} {
			if err := t.exportDocuments(ctx, z, site, of); err != nil {
				return fmt.Errorf("%s: %w", of.file, err)
			}
		}
		return z.Close()
	})
}

func (s *Store) exportTable(ctx context.Context, z *zip.Writer, site string, table siteTable) (err error) {
	f, err := z.Create(table.file + ".csv")
	if err != nil {
		return err
	}
	rs, err := s.db.WithContext(ctx).Raw(table.query, site).Rows()
	if err != nil {
		return err
	}
	defer rs.Close()
	columns, err := rs.Columns()
	if err != nil {
		return err
	}
	out := csv.NewWriter(f)
	if err := out.Write(columns); err != nil {
		return err
	}
	values, refs := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		refs[i] = &values[i]
	}
	line := make([]string, len(columns))
	for rs.Next() {
		if err := rs.Scan(refs...); err != nil {
			return err
		}
		for i, v := range values {
			line[i] = csvValue(columns[i], v)
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return err
	}
	return rs.Err()
}

// csvValue writes a value of a column. A text that a spreadsheet would take for a formula gets an apostrophe before it.
func csvValue(column string, v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case int64:
		if instantColumns[column] || strings.HasSuffix(column, "_at") {
			return instant(v).Format(time.RFC3339Nano)
		}
		return strconv.FormatInt(v, 10)
	case bool:
		if v {
			return "1"
		}
		return "0"
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case []byte:
		return csvValue(column, string(v))
	case string:
		if v != "" && strings.ContainsRune("=+-@\t\r", rune(v[0])) {
			return "'" + v
		}
		return v
	}
	return fmt.Sprint(v)
}

// exportDocuments writes one file per row. Documents are read one by one, since together they may not fit into memory.
func (s *Store) exportDocuments(ctx context.Context, z *zip.Writer, site string, of siteTable) error {
	rs, err := s.db.WithContext(ctx).Raw(of.query, site).Rows()
	if err != nil {
		return err
	}
	defer rs.Close()
	for rs.Next() {
		var name, text string
		var packed []byte
		if err := rs.Scan(&name, &text, &packed); err != nil {
			return err
		}
		doc, err := document(text, packed)
		if err != nil {
			return err
		}
		f, err := z.Create(of.file + "/" + strings.NewReplacer(":", "_", "\\", "_", "..", "_").Replace(name) + ".json")
		if err != nil {
			return err
		}
		if _, err := f.Write(doc); err != nil {
			return err
		}
	}
	return rs.Err()
}

// DeleteSite deletes a site with everything that belongs to it: its data, screens, access keys, webhooks, and the people who reach only
// it. The activity log stays.
func (s *Store) DeleteSite(ctx context.Context, site string) error {
	return failed("delete "+site, s.alone(ctx, func(tx *Store) error {
		row, err := tx.site(ctx, site)
		if err != nil {
			return err
		}
		if _, err := tx.exec(ctx, tx.dialect.deferKeys); err != nil { // until the commit; the order is then free
			return err
		}
		for _, of := range []struct {
			statement string
			arg       any
		}{
			{"UPDATE tokens SET site = '" + noSite + "' WHERE site = ? AND site_groups <> ''", site}, // they reach the sites of their groups
			{"DELETE FROM item_mappings WHERE item_id IN (SELECT id FROM sales_items WHERE site_id = ?)", row.ID},
			{"DELETE FROM sessions WHERE token IN (SELECT id FROM tokens WHERE site = ?)", site},
			{"DELETE FROM mails WHERE person IN (SELECT id FROM tokens WHERE site = ?)", site},
			{"DELETE FROM mailed_warnings WHERE person IN (SELECT id FROM tokens WHERE site = ?)", site},
			{"DELETE FROM mail_addresses WHERE person IN (SELECT id FROM tokens WHERE site = ?)", site},
			{"DELETE FROM people WHERE id IN (SELECT id FROM tokens WHERE site = ?)", site},
			{"DELETE FROM river_job WHERE state <> 'running' AND args ->> 'site' = ?", site},
		} {
			if _, err := tx.exec(ctx, of.statement, of.arg); err != nil {
				return err
			}
		}
		tables, err := tx.siteOwned(ctx)
		if err != nil {
			return err
		}
		for _, t := range tables {
			var arg any = site
			if t.Column == "site_id" {
				arg = row.ID
			}
			if _, err := tx.exec(ctx, fmt.Sprintf("DELETE FROM %s WHERE %s = ?", t.Name, t.Column), arg); err != nil {
				return err
			}
		}
		_, err = gorm.G[siteRow](tx.db).Where("id = ?", row.ID).Delete(ctx)
		return err
	}))
}

type ownedTable struct{ Name, Column string }

// siteOwned returns the tables whose rows belong to a site, from the schema, so that none is forgotten.
func (s *Store) siteOwned(ctx context.Context) ([]ownedTable, error) {
	return rows[ownedTable](ctx, s, s.dialect.siteOwned)
}

// personNames are the columns that hold the names of people.
var personNames = []ownedTable{{"audit", "by_name"}, {"audit", "subject"}, {"warnings", "acked_by"}, {"screens", "paired_by"}, {"calendar_keys", "made_by"},
	{"webhooks", "created_by"}, {"people", "created_by"}, {"measured_brews", "by_name"}, {"learnt_changes", "by_name"}, {"learnt_changes", "undone_by"}}

// ErasePerson removes a person and replaces their name wherever it is stored with an alias, which it returns.
func (s *Store) ErasePerson(ctx context.Context, id string, at time.Time) (alias string, err error) {
	alias = "former person " + id[max(0, len(id)-4):]
	err = failed("erase a person", s.alone(ctx, func(tx *Store) error {
		p, err := tx.Person(ctx, id)
		if err != nil {
			return err
		}
		if err := tx.RemovePerson(ctx, id, at); err != nil {
			return err
		}
		if _, err := gorm.G[personRow](tx.db).Where("id = ?", id).Update(ctx, "sign_in", "erased "+id); err != nil {
			return err
		}
		if _, err := gorm.G[tokenRow](tx.db).Where("id = ?", id).Update(ctx, "name", alias); err != nil {
			return err
		}
		if _, err := gorm.G[auditRow](tx.db).Where("by_token = ?", id).Update(ctx, "by_name", alias); err != nil {
			return err
		}
		// Which only this person can have caused.
		if _, err := gorm.G[auditRow](tx.db).Where("by_token = ? AND action = ?", id, models.AuditConfirmMail).Update(ctx, "subject", alias); err != nil {
			return err
		}
		if _, err := gorm.G[auditRow](tx.db).Where("action = ? AND subject LIKE ? ESCAPE '\\'", models.AuditSignInFailed, likeStart(p.SignIn)+" (%").
			Update(ctx, "subject", alias); err != nil {
			return err
		}
		_, namesake, err := one(gorm.G[tokenRow](tx.db).Where("name = ? AND id <> ?", p.Name, id).Take(ctx))
		if err != nil {
			return err
		}
		if namesake {
			return nil // somebody else has this name: what it stands beside may be theirs
		}
		for _, c := range personNames {
			where, args := c.Column+" = ?", []any{alias, p.Name}
			if c.Column == "subject" { // "Ada (manage)" too
				where, args = "(subject = ? OR subject LIKE ? ESCAPE '\\') AND (action LIKE 'person%' OR action IN (?, ?, ?, ?)) OR action IN (?, ?) AND subject = ?",
					[]any{alias, p.Name, likeStart(p.Name) + " (%", models.AuditChangeMail, models.AuditPushOn, models.AuditPushOff, models.AuditChangePush, models.AuditMakeLink, models.AuditSetPassword, p.Name}
			}
			if _, err := tx.exec(ctx, fmt.Sprintf("UPDATE %s SET %s = ? WHERE %s", c.Name, c.Column, where), args...); err != nil {
				return err
			}
		}
		return nil
	}))
	return alias, err
}

// likeStart escapes a text for LIKE with ESCAPE '\'.
func likeStart(s string) string {
	return strings.NewReplacer(`\`, `\\`, "%", `\%`, "_", `\_`).Replace(s)
}

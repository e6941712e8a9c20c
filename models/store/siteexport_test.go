package store

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestExportHoldsTheSitesDataAndNoSecrets(t *testing.T) {
	t.Parallel()
	s := openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	callEverything(t, s)
	_, _, err := s.PutSetup(ctx, models.Setup{Site: models.Site{Code: "other"}}, "", t0)
	require.NoError(t, err)
	from := t0.Add(-time.Hour)
	_, err = s.PutCounts(ctx, "other", models.SalesPost{Source: "elsewhere", Counts: []models.SalesCount{{Item: "=secret()", WindowStart: from, WindowEnd: t0, Count: 1}}}, t0, "", "")
	require.NoError(t, err)
	_, secret, err := s.AddWebhook(ctx, models.Webhook{URL: "https://example.com", Site: "harbour", Events: []string{models.HookMarked}}, t0)
	require.NoError(t, err)

	export := func(site string) map[string]string {
		var buf bytes.Buffer
		require.NoError(t, s.ExportSite(ctx, site, &buf))
		z, err := zip.NewReader(bytes.NewReader(buf.Bytes()), int64(buf.Len()))
		require.NoError(t, err)
		files := map[string]string{}
		for _, f := range z.File {
			r, err := f.Open()
			require.NoError(t, err)
			doc, err := io.ReadAll(r)
			require.NoError(t, err)
			files[f.Name] = string(doc)
		}
		return files
	}
	ada, _, err := s.AddPerson(ctx, models.Person{Name: "Ada", SignIn: "ada", Site: "harbour", Scopes: []string{models.ScopeManage}}, t0)
	require.NoError(t, err)
	_, _, err = s.AddPushDevice(ctx, models.PushDevice{Person: ada.ID, Site: "harbour", Browser: "a phone", Endpoint: "https://push.example/capability", CreatedAt: t0})
	require.NoError(t, err)
	files := export("harbour")
	for name, want := range map[string]string{
		"setup/current.json": `"code":"harbour"`, "plans/1.json": `"revision":1`, "requests/2.json": `"from"`, "sheets/2026-07-11/1.json": `"tasks"`,
		"marks.csv": "made", "weather_observed.csv": "2026-07-10T15:00:00Z", "stock_counts.csv": "counted_at", "notified_devices.csv": "Ada,a phone,2026-07-10T15:00:00Z,",
	} {
		require.Contains(t, files[name], want, name)
	}
	counts, err := csv.NewReader(bytes.NewReader([]byte(files["sales_counts.csv"]))).ReadAll()
	require.NoError(t, err)
	require.Len(t, counts, 3, "a heading and two counts")
	require.Equal(t, []string{"till", "a", "2026-07-10T14:00:00Z", "2026-07-10T15:00:00Z", "1", "2026-07-10T15:00:00Z"}, counts[1])
	for name, doc := range files {
		require.NotContains(t, doc, "elsewhere", name)
		require.NotContains(t, doc, secret, name)
		require.NotContains(t, doc, "capability", name)
	}
	require.Contains(t, export("other")["sales_counts.csv"], "'=secret()", "no formula")
	require.Equal(t, models.CodeNotFound, models.CodeOf(s.ExportSite(ctx, "none", io.Discard)))
}

func TestDeletedSiteLeavesNothingBehindAndOthersAlone(t *testing.T) {
	t.Parallel()
	s := openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	callEverything(t, s)
	_, err := s.Enqueue(ctx, models.Job{Kind: "publish", Site: "harbour", Key: "1"})
	require.NoError(t, err)
	_, secret, err := s.AddToken(ctx, models.Token{Name: "till", Site: "harbour", Scopes: []string{models.ScopeSales}}, t0)
	require.NoError(t, err)
	ada, _, err := s.AddPerson(ctx, models.Person{Name: "Ada", SignIn: "ada", Scopes: []string{models.ScopeManage}}, t0)
	require.NoError(t, err)
	_, err = s.PutMailSettings(ctx, models.MailSettings{Person: ada.ID, Address: "ada@example.com", Subscriptions: []models.MailSubscription{{Site: "harbour", Kinds: models.MailKinds}}})
	require.NoError(t, err)
	require.NoError(t, s.QueueConfirmation(ctx, ada.ID, t0))
	_, _, err = s.AddPushDevice(ctx, models.PushDevice{Person: ada.ID, Site: "harbour", Endpoint: "https://push.example/1", CreatedAt: t0})
	require.NoError(t, err)
	_, err = s.PutPushKinds(ctx, ada.ID, []models.MailSubscription{{Site: "harbour", Kinds: models.PushKinds}})
	require.NoError(t, err)
	require.NoError(t, s.QueueWarningPush(ctx, "harbour", []models.OpenWarning{{ID: "ice", Warning: models.Warning{Grade: models.GradeActNow}}}, t0))
	_, err = s.ChangePerson(ctx, models.Person{ID: ada.ID, Name: "Ada", Site: "harbour", Scopes: []string{models.ScopeManage}})
	require.NoError(t, err)
	_, _, err = s.AddWebhook(ctx, models.Webhook{URL: "https://example.com", Site: "harbour", Events: []string{models.HookMarked}}, t0)
	require.NoError(t, err)
	_, err = s.AddEvent(ctx, models.LiveEvent{Site: "harbour", Kind: "mark", At: t0, Data: []byte("{}")})
	require.NoError(t, err)
	require.NoError(t, s.AddAudit(ctx, models.AuditEntry{At: t0, Site: "harbour", Action: models.AuditSetUp}))
	_, _, err = s.PutSetup(ctx, models.Setup{Site: models.Site{Code: "other"}}, "", t0)
	require.NoError(t, err)
	_, _, err = s.AddPlan(ctx, "other", models.Plan{Digest: "d", From: "2026-07-11"}, models.PlanRequest{From: "2026-07-11"}, t0)
	require.NoError(t, err)

	require.NoError(t, s.DeleteSite(ctx, "harbour"))
	sites, err := s.Sites(ctx)
	require.NoError(t, err)
	require.Equal(t, []string{"other"}, sites)
	owned, err := s.siteOwned(ctx)
	require.NoError(t, err)
	require.Greater(t, len(owned), 25)
	for _, table := range owned {
		var n int
		arg := any("harbour")
		if table.Column == "site_id" {
			arg = 1
		}
		require.NoError(t, s.readDB.QueryRow(fmt.Sprintf("SELECT COUNT(*) FROM %s WHERE %s = ?", table.Name, table.Column), arg).Scan(&n))
		require.Zero(t, n, table.Name)
	}
	for _, table := range []string{"people", "mail_addresses", "mails", "push_devices", "push_choices", "pushes", "pushed_warnings", "screens", "deliveries", "item_mappings", "task_marks", "river_job WHERE json_extract(args, '$.site') = 'harbour'"} {
		var n int
		require.NoError(t, s.readDB.QueryRow("SELECT COUNT(*) FROM "+table).Scan(&n))
		require.Zero(t, n, table)
	}
	_, err = s.TokenBySecret(ctx, secret, t0)
	require.Equal(t, models.CodeUnauthorised, models.CodeOf(err))
	log, err := s.Audit(ctx, []string{"harbour"}, models.Page{})
	require.NoError(t, err)
	require.Len(t, log.Rows, 1, "the activity log stays")
	_, _, err = s.LatestPlan(ctx, "other")
	require.NoError(t, err)
	faults, err := faultsOf(ctx, s.writeDB)
	require.NoError(t, err)
	require.Empty(t, faults)
	require.Equal(t, models.CodeNotFound, models.CodeOf(s.DeleteSite(ctx, "harbour")))
	_, created, err := s.PutSetup(ctx, models.Setup{Site: models.Site{Code: "harbour"}}, "", t0)
	require.NoError(t, err)
	require.True(t, created, "the code can be used again")
}

func TestErasedPersonsNameIsNowhere(t *testing.T) {
	t.Parallel()
	for name, namesake := range map[string]bool{"alone": false, "with a namesake": true} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := openFile(t, shopFile(t))
			ada, _, err := s.AddPerson(ctx, models.Person{Name: "Ada Quill", SignIn: "ada.quill", Scopes: []string{models.ScopeManage}}, t0)
			require.NoError(t, err)
			if namesake {
				_, _, err = s.AddPerson(ctx, models.Person{Name: "Ada Quill", SignIn: "other", Scopes: []string{models.ScopeManage}}, t0)
				require.NoError(t, err)
			}
			require.NoError(t, s.AddAudit(ctx, models.AuditEntry{At: t0, ByToken: ada.ID, Action: models.AuditConfirmMail, Subject: "quill@example.com"}))
			require.NoError(t, s.AddAudit(ctx, models.AuditEntry{At: t0, Action: models.AuditSignInFailed, Subject: "ada.quill (127.0.0.1)"}))
			if !namesake {
				require.NoError(t, s.AddAudit(ctx, models.AuditEntry{At: t0, By: "Ben", Action: models.AuditChangeMail, Subject: "Ada Quill (quill@example.com)"}))
				require.NoError(t, s.AddAudit(ctx, models.AuditEntry{At: t0, By: "Ben", Action: models.AuditPushOff, Subject: "Ada Quill"}))
			}
			require.NoError(t, s.AddAudit(ctx, models.AuditEntry{At: t0, By: "Ada Quill", ByToken: ada.ID, Action: models.AuditSetUp, Subject: "harbour"}))
			require.NoError(t, s.AddAudit(ctx, models.AuditEntry{At: t0, By: "Ben", Action: models.AuditChangePerson, Subject: "Ada Quill (manage)"}))
			require.NoError(t, s.PutMeasuredBrews(ctx, "harbour", []models.MeasuredBrew{{Coffee: "terrace", At: t0, DoseG: 60, BrewWaterG: 720, BeverageG: 612, TDSPct: 1.6, By: "Ada Quill"}}))
			alias, err := s.ErasePerson(ctx, ada.ID, t0)
			require.NoError(t, err)
			var file bytes.Buffer
			require.NoError(t, s.ExportSite(ctx, "harbour", &file))
			log, err := s.Audit(ctx, nil, models.Page{})
			require.NoError(t, err)
			require.Equal(t, alias, log.Rows[1].By)
			_, err = s.Person(ctx, ada.ID)
			require.Equal(t, models.CodeNotFound, models.CodeOf(err))
			brews, err := s.MeasuredBrews(ctx, "harbour", "terrace")
			require.NoError(t, err)
			if namesake {
				require.Equal(t, "Ada Quill", brews[0].By, "it may be the other's")
				return
			}
			require.Equal(t, alias, brews[0].By)
			for _, table := range []string{"tokens", "people", "audit", "measured_brews"} {
				all, err := rows[map[string]any](ctx, s, "SELECT * FROM "+table)
				require.NoError(t, err)
				require.NotContains(t, fmt.Sprint(all), "Quill", table)
				require.NotContains(t, strings.ToLower(fmt.Sprint(all)), "quill", table)
			}
		})
	}
}

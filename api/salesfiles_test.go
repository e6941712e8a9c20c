package api_test

import (
	"bytes"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"hotday/models"
)

const (
	csvMedia  = "text/csv"
	xlsxMedia = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
)

// The contract declares files as text or bytes; by default the validator would parse CSV itself.
func init() {
	openapi3filter.RegisterBodyDecoder(csvMedia, openapi3filter.FileBodyDecoder)
	openapi3filter.RegisterBodyDecoder(xlsxMedia, openapi3filter.FileBodyDecoder)
}

const filesPath = "/v1/sites/quay/sales-files?source=till"

func (b *bundle) sendFile(query, media string, body any) answer {
	b.t.Helper()
	return b.do(call{method: "POST", path: filesPath + query, body: body, header: map[string]string{"Content-Type": media}})
}

type preview struct {
	Form, Separator, Sheet string
	Headings               []struct{ Column, Heading string }
	Ignored                []string
	Rows                   int
	First                  []struct {
		Row         int
		Item        string
		WindowStart time.Time `json:"window_start"`
		Count       float64
	}
	From, To *time.Time
	Items    []struct {
		Item   string
		Rows   int
		Count  float64
		Drink  *string
		Factor float64
	}
	ItemsLeftOut int `json:"items_left_out"`
	Errors       []struct {
		Row                      int
		Column, Detail, Accepted string
	}
	ErrorsLeftOut int `json:"errors_left_out"`
	Notes         []string
}

func TestSalesFileIsPreviewedAndImported(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.put("/v1/sites/quay/item-mappings", map[string]any{"mappings": []any{map[string]any{"source": "till", "item": "ICED L", "drink": "iced", "factor": 1.5}}}).is(http.StatusOK)
	file := "Artikelnr;item;start;end;count\n1;ICED L;10.07.2026 14:00;10.07.2026 14:15;4\n2;Cake, \"plain\";10.07.2026 14:00;10.07.2026 15:00;2,5\n" +
		"1;ICED L;10.07.2026 14:15;10.07.2026 14:30;5\n"
	file = strings.Replace(file, `Cake, "plain"`, `"Cake, ""plain"""`, 1)
	var p preview
	b.sendFile("&preview=true", csvMedia, file).is(http.StatusOK).into(&p)
	require.Equal(t, "csv", p.Form)
	require.Equal(t, "semicolon", p.Separator)
	require.Equal(t, 3, p.Rows)
	require.Len(t, p.First, 3)
	require.Equal(t, 2, p.First[0].Row)
	require.Equal(t, []string{"Artikelnr"}, p.Ignored)
	require.True(t, p.From.Equal(time.Date(2026, 7, 10, 12, 0, 0, 0, time.UTC)), "14:00 local time")
	require.True(t, p.To.Equal(time.Date(2026, 7, 10, 13, 0, 0, 0, time.UTC)))
	require.Len(t, p.Items, 2)
	require.Equal(t, "ICED L", p.Items[0].Item)
	require.Equal(t, 9.0, p.Items[0].Count)
	require.Equal(t, 2, p.Items[0].Rows)
	require.Equal(t, "iced", *p.Items[0].Drink)
	require.Equal(t, 1.5, p.Items[0].Factor)
	require.Nil(t, p.Items[1].Drink, "unmapped")
	require.Empty(t, p.Errors)
	require.JSONEq(t, `{"rows":[],"next":null}`, string(b.get("/v1/sites/quay/sales-counts").body), "a preview stores nothing")
	b.get("/v1/sites/quay/item-mappings").is(http.StatusOK)

	require.JSONEq(t, `{"new":3,"replaced":0,"unchanged":0,"unmapped":1}`, string(b.sendFile("", csvMedia, file).is(http.StatusOK).body))
	require.JSONEq(t, `{"new":0,"replaced":1,"unchanged":2,"unmapped":1}`, string(b.sendFile("&preview=false", csvMedia, strings.Replace(file, "14:30;5", "14:30;6", 1)).is(http.StatusOK).body))
	var rows models.Rows[models.SalesRow]
	b.get("/v1/sites/quay/sales-counts").into(&rows)
	require.Len(t, rows.Rows, 3)
	require.Equal(t, "till", rows.Rows[0].Source)
}

func TestSalesFileWithAnInvalidRowIsRefused(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	file := "item,start,end,count\nA,2026-07-10 14:00,2026-07-10 14:15,4\nA,2026-07-10 14:15,2026-07-10 14:00,4\nA,2026-07-10 14:30,2026-07-10 14:45,\"1,500\"\n"
	var p preview
	b.sendFile("&preview=true", csvMedia, file).is(http.StatusOK).into(&p)
	require.Equal(t, 3, p.Rows)
	require.Len(t, p.First, 1)
	require.Len(t, p.Errors, 2)
	require.Equal(t, 3, p.Errors[0].Row)
	require.Equal(t, "end", p.Errors[0].Column)
	problem := b.sendFile("", csvMedia, file).is(http.StatusUnprocessableEntity).problem()
	require.Len(t, problem.Errors, 2)
	require.Equal(t, "/rows/3/end", problem.Errors[0].Pointer)
	require.Equal(t, "/rows/4/count", problem.Errors[1].Pointer)
	require.Contains(t, problem.Errors[1].Accepted, "1500 or 1.5")
	require.Contains(t, problem.Detail, "nothing was imported")
	require.JSONEq(t, `{"rows":[],"next":null}`, string(b.get("/v1/sites/quay/sales-counts").body))
	b.sendFile("", csvMedia, "item,start,end,count\n").is(http.StatusUnprocessableEntity)
}

func TestSalesWorkbookIsImported(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	f := excelize.NewFile()
	require.NoError(t, f.SetSheetName("Sheet1", "July"))
	start := time.Date(2026, 7, 10, 14, 0, 0, 0, time.UTC) // as the cell shows it
	require.NoError(t, f.SetSheetRow("July", "A1", &[]any{"count", "item", "start", "end"}))
	require.NoError(t, f.SetSheetRow("July", "A2", &[]any{7, "ICED", start, start.Add(15 * time.Minute)}))
	var book bytes.Buffer
	require.NoError(t, f.Write(&book))
	require.NoError(t, f.Close())
	var p preview
	b.sendFile("&preview=true&sheet=July", xlsxMedia, book.Bytes()).is(http.StatusOK).into(&p)
	require.Equal(t, "xlsx", p.Form)
	require.Equal(t, "July", p.Sheet)
	require.Len(t, p.First, 1)
	require.True(t, p.First[0].WindowStart.Equal(start.Add(-2*time.Hour)))
	require.JSONEq(t, `{"new":1,"replaced":0,"unchanged":0,"unmapped":1}`, string(b.sendFile("", xlsxMedia, book.Bytes()).is(http.StatusOK).body))
	require.Equal(t, "/sheet", b.sendFile("&sheet=August", xlsxMedia, book.Bytes()).is(http.StatusUnprocessableEntity).problem().Errors[0].Pointer)
	b.sendFile("", xlsxMedia, book.Bytes()[:100]).is(http.StatusBadRequest)
}

func TestSalesFilesCheckScopeAndMediaType(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	const file = "item,start,end,count\nA,2026-07-10 14:00,2026-07-10 14:15,4\n"
	send := func(token, media string) answer {
		return b.raw(call{method: "POST", path: filesPath, token: token, body: file, header: map[string]string{"Content-Type": media}})
	}
	send(b.newToken("quay", models.ScopeSales), csvMedia).is(http.StatusOK)
	send(b.newToken("quay", models.ScopeManage), "text/csv; charset=UTF-8").is(http.StatusOK)
	send(b.newToken("quay", models.ScopeKitchen), csvMedia).is(http.StatusForbidden)
	send(b.newToken("pier", models.ScopeSales), csvMedia).is(http.StatusNotFound)
	send("-", csvMedia).is(http.StatusUnauthorized)
	for _, media := range []string{"application/json", "text/csv; charset=latin1", "application/vnd.ms-excel", ""} {
		a := send("", media).is(http.StatusUnsupportedMediaType)
		require.Contains(t, a.problem().Detail, "text/csv in UTF-8 or ", media)
	}
	for path, pointer := range map[string]string{"/v1/sites/quay/sales-files": "/source", filesPath + "&preview=maybe": "/preview", filesPath + "&dry=true": "/dry",
		"/v1/sites/quay/sales-files?source=%00": "/source", "/v1/sites/quay/sales-files?source=" + strings.Repeat("x", 101): "/source"} {
		a := b.raw(call{method: "POST", path: path, body: file, header: map[string]string{"Content-Type": csvMedia}})
		require.Contains(t, []int{http.StatusBadRequest, http.StatusUnprocessableEntity}, a.status, path)
		require.Equal(t, pointer, a.problem().Errors[0].Pointer)
	}
}

func TestHostileFilesAreRefused(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	for name, c := range map[string]struct {
		body   string
		status int
	}{
		"NUL bytes":         {"item,start,end,count\nA\x00,2026-07-10 14:00,2026-07-10 14:15,4\n", http.StatusBadRequest},
		"not UTF-8":         {"item,start,end,count\n\xe4,2026-07-10 14:00,2026-07-10 14:15,4\n", http.StatusBadRequest},
		"an empty file":     {"", http.StatusBadRequest},
		"a field of 1 MiB":  {"item,start,end,count\n" + strings.Repeat("x", 1<<20) + ",2026-07-10 14:00,2026-07-10 14:15,4\n", http.StatusUnprocessableEntity},
		"an unclosed quote": {"item,start,end,count\n\"" + strings.Repeat("A,1\n", 1<<18), http.StatusUnprocessableEntity},
		"too many rows":     {"item,start,end,count\n" + strings.Repeat("A,,,1\n", 200_001), http.StatusRequestEntityTooLarge},
		"too many bytes":    {"item,start,end,count\n" + strings.Repeat("A,,,,,,,,,,,,,,,,,,,,1\n", 800_000), http.StatusRequestEntityTooLarge},
	} {
		a := b.sendFile("", csvMedia, c.body)
		require.Equal(t, c.status, a.status, "%s: %.300s", name, a.body)
		require.Less(t, len(a.body), 100_000, name)
	}
	require.JSONEq(t, `{"rows":[],"next":null}`, string(b.get("/v1/sites/quay/sales-counts").body))
}

func TestSalesFilesAreIdempotentByKey(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	send := func(query string, n int) answer {
		return b.do(call{method: "POST", path: filesPath + query, body: fmt.Sprintf("item,start,end,count\nA,2026-07-10 14:00,2026-07-10 14:15,%d\n", n),
			header: map[string]string{"Content-Type": csvMedia, "Idempotency-Key": "july"}})
	}
	first := send("", 4).is(http.StatusOK)
	require.Equal(t, string(first.body), string(send("", 4).is(http.StatusOK).body), "the first response again")
	send("", 5).is(http.StatusConflict)
}

// As many rows as the contract allows.
func TestSalesFileWithASeasonOfCounts(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("a long file")
	}
	b := newBundle(t)
	b.setUp("quay")
	var file strings.Builder
	file.WriteString("item,start,end,count\n")
	start := time.Date(2026, 1, 1, 7, 0, 0, 0, time.UTC)
	const rows, items = 200_000, 40
	for i := range rows {
		from := start.Add(time.Duration(i/items) * 15 * time.Minute)
		fmt.Fprintf(&file, "ITEM-%d,%s,%s,%d\n", i%items, from.Format("2006-01-02T15:04Z07:00"), from.Add(15*time.Minute).Format("2006-01-02T15:04Z07:00"), i%7)
	}
	var p preview
	b.sendFile("&preview=true", csvMedia, file.String()).is(http.StatusOK).into(&p)
	require.Equal(t, rows, p.Rows)
	require.Len(t, p.Items, items)
	var got models.SalesResult
	b.sendFile("", csvMedia, file.String()).is(http.StatusOK).into(&got)
	require.Equal(t, models.SalesResult{New: rows, Unmapped: rows}, got)
}

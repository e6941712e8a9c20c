package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// Spans of the lists across shops.
const (
	orderDays     = 7
	maxOrderDays  = 14
	recallDays    = 21
	maxRecallDays = 400
)

// shopFilter reads the parameters group and search. A group that the caller does not know is invalid.
func (s *Server) shopFilter(c *gin.Context, q *query) (models.SiteStateFilter, error) {
	caller, _ := callerToken(c)
	f := models.SiteStateFilter{Among: caller.Sites(), Group: q.text("group"), Text: q.text("search")}
	if len(f.Text) > 200 {
		q.invalid("search", "at most 200 characters", "it is longer")
	}
	if err := q.err(); err != nil {
		return f, err
	}
	return f, s.checkGroup(c, f.Group)
}

// checkGroup refuses a group that does not exist or that the caller may not know.
func (s *Server) checkGroup(c *gin.Context, code string) error {
	if code == "" {
		return nil
	}
	caller, _ := callerToken(c)
	_, err := s.Store.Group(c.Request.Context(), code)
	if models.CodeOf(err) == models.CodeNotFound || (err == nil && !caller.Reaches("", []string{code})) {
		return models.Invalid("/group", "the code of a group that you reach", "there is no group %q", code)
	}
	return err
}

// getSiteStates lists how each site within the token's reach stands, the one with the worst trouble first.
func (s *Server) getSiteStates(c *gin.Context) error {
	q := params(c, "group", "search", "limit", "cursor")
	p := q.page()
	f, err := s.shopFilter(c, q)
	if err != nil {
		return err
	}
	rows, err := s.Store.SiteStates(c.Request.Context(), f, p)
	if err != nil {
		return err
	}
	body, err := json.Marshal(rows)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(body)
	if notModified(c, hex.EncodeToString(sum[:12])) {
		return nil
	}
	return writeJSON(c, http.StatusOK, rows)
}

// getOrders sums up what shops need of beans, bought ice and supplies.
func (s *Server) getOrders(c *gin.Context) error {
	q := params(c, "group", "search", "from", "to", "as")
	media, err := q.format(asJSON, csvType)
	if err != nil {
		return err
	}
	today := models.DateOf(s.Now(), time.UTC)
	from := q.date("from", today)
	to := q.date("to", from.AddDays(orderDays))
	if n := from.DaysUntil(to); n < 1 || n > maxOrderDays {
		q.invalid("to", "1 to "+strconv.Itoa(maxOrderDays)+" days after from", "it is "+strconv.Itoa(n)+" days after it")
	}
	f, err := s.shopFilter(c, q)
	if err != nil {
		return err
	}
	records, err := s.Store.SiteRecords(c.Request.Context(), f)
	if err != nil {
		return err
	}
	out := models.OrdersOf(records, from, to)
	if media == asJSON {
		return writeJSON(c, http.StatusOK, out)
	}
	lines := [][]string{{"site", "name", "kind", "item", "unit", "amount", "short", "order_by", "days_not_planned"}}
	for _, r := range out.Rows {
		lines = append(lines, []string{r.Site, r.Name, r.Kind, r.Item, r.Unit, decimal(r.Amount), decimal(r.Short), stamp(r.OrderBy), ""})
	}
	for _, m := range out.Missing {
		lines = append(lines, []string{m.Site, m.Name, "not_planned", "", "", "", "", "", strconv.Itoa(len(m.Days))})
	}
	return writeLines(c, "orders-"+string(from), lines)
}

// getRecall lists the batches of a lot of beans, and the shops that may have used it.
func (s *Server) getRecall(c *gin.Context) error {
	q := params(c, "lot", "group", "search", "from", "to", "as")
	media, err := q.format(asJSON, csvType)
	if err != nil {
		return err
	}
	lot, today := q.text("lot"), models.DateOf(s.Now(), time.UTC)
	if lot == "" || len(lot) > 200 {
		q.invalid("lot", "the code of a lot of beans", "it is missing or longer than 200 characters")
	}
	to := q.date("to", today.AddDays(8))
	from := q.date("from", min(today, to).AddDays(-recallDays))
	if n := from.DaysUntil(to); n < 1 || n > maxRecallDays {
		q.invalid("to", "1 to "+strconv.Itoa(maxRecallDays)+" days after from", "it is "+strconv.Itoa(n)+" days after it")
	}
	f, err := s.shopFilter(c, q)
	if err != nil {
		return err
	}
	out, err := s.recall(c.Request.Context(), f, lot, from, to)
	if err != nil {
		return err
	}
	if media == asJSON {
		return writeJSON(c, http.StatusOK, out)
	}
	lines := [][]string{{"site", "name", "status", "reason", "batch", "date", "beverage", "station", "planned_at", "made_at", "use_by", "within_hold"}}
	for _, r := range out.Rows {
		day := ""
		if r.Date != nil {
			day = string(*r.Date)
		}
		lines = append(lines, []string{r.Site, r.Name, r.Status, r.Reason, r.Batch, day, r.Beverage, r.Station, stamp(r.PlannedAt), stamp(r.MadeAt), stamp(r.UseBy), strconv.FormatBool(r.WithinHold)})
	}
	return writeLines(c, "recall-"+lot, lines)
}

// recallForPage is recall with the days that getRecall has without from and to.
func (s *Server) recallForPage(c *gin.Context, f models.SiteStateFilter, lot string) (models.LotRecall, error) {
	today := models.DateOf(s.Now(), time.UTC)
	return s.recall(c.Request.Context(), f, lot, today.AddDays(-recallDays), today.AddDays(8))
}

// recall looks at every shop of a filter, also at those whose state has not been computed yet.
func (s *Server) recall(ctx context.Context, f models.SiteStateFilter, lot string, from, to models.Date) (models.LotRecall, error) {
	out := models.LotRecall{Lot: lot, From: from, To: to, Rows: []models.RecallRow{}}
	err := s.Store.Read(ctx, func(st models.Store) error {
		sites, err := st.SitesOf(ctx, f)
		if err != nil {
			return err
		}
		records, err := st.SiteRecords(ctx, f)
		if err != nil {
			return err
		}
		known := map[string]models.SiteRecord{}
		for _, r := range records {
			known[r.State.Site] = r
		}
		for _, site := range sites {
			r, found := known[site]
			tasks, err := st.TasksOfLot(ctx, site, lot, from, to)
			if err != nil {
				return err
			}
			var marks []models.TaskMark
			if len(tasks) > 0 {
				if marks, err = st.Marks(ctx, site, from, to); err != nil {
					return err
				}
			}
			name := r.State.Name
			if name == "" {
				name = site
			}
			out.Rows = append(out.Rows, models.RecallRows(site, name, lot, r.Lots, found, tasks, marks, s.Now())...)
		}
		models.SortRecall(out.Rows)
		return nil
	})
	return out, err
}

func decimal(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

func stamp(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}

// writeLines writes a CSV file for programs: instants in UTC, grams, a point in decimals.
func writeLines(c *gin.Context, name string, lines [][]string) error {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	for _, line := range lines {
		for i, cell := range line {
			if cell != "" && bytes.ContainsRune([]byte("=+-@\t\r"), rune(cell[0])) {
				line[i] = "'" + cell // a spreadsheet would take it for a formula
			}
		}
		if err := w.Write(line); err != nil {
			return err
		}
	}
	w.Flush()
	c.Header("Content-Disposition", fileNamed("attachment", name+".csv"))
	c.Data(http.StatusOK, csvType+"; charset=utf-8", b.Bytes())
	return w.Error()
}

package api

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

const maxIdempotencyKey = 200 // bytes

// postSalesCounts stores all counts of a post or none, and responds when they are durable. It queues no check for shortages: counts
// arrive every few minutes, and the periodic check sees them soon enough.
func (s *Server) postSalesCounts(c *gin.Context) error {
	data, err := readJSON(c)
	if err != nil {
		return err
	}
	var post models.SalesPost
	if err := models.DecodeStrict(data, &post); err != nil {
		return err
	}
	if err := post.Validate(); err != nil {
		return err
	}
	var k checks
	now := s.Now()
	for i := range post.Counts { // a window may end later: tills post a day's so far
		if c := &post.Counts[i]; c.WindowStart.After(now) {
			k.requireNotAhead("/counts/"+strconv.Itoa(i)+"/window_start", c.WindowStart, now)
		}
	}
	if err := k.err(); err != nil {
		return err
	}
	return s.storeCounts(c, post, data, s.auditDaily, note{models.AuditSales, post.Source})
}

// storeCounts stores a post in one transaction and responds when it is durable. An Idempotency-Key used again with a different body is
// a conflict.
func (s *Server) storeCounts(c *gin.Context, post models.SalesPost, body []byte, audit func(c *gin.Context, tx models.Store, site, action, subject string) error, n note) (err error) {
	key, hash := c.GetHeader("Idempotency-Key"), ""
	if len(key) > maxIdempotencyKey {
		return models.Errorf(models.CodeMalformed, "the Idempotency-Key is longer than %d characters", maxIdempotencyKey)
	}
	if key != "" {
		sum := sha256.Sum256(body)
		hash = hex.EncodeToString(sum[:])
	}
	ctx, site := c.Request.Context(), c.Param("site")
	var result models.SalesResult
	err = s.Store.Within(ctx, func(tx models.Store) error {
		if result, err = tx.PutCounts(ctx, site, post, s.Now(), key, hash); err != nil {
			return err
		}
		if result.New+result.Replaced == 0 {
			return nil
		}
		if err := audit(c, tx, site, n.action, n.subject); err != nil {
			return err
		}
		return s.emit(ctx, tx, site, liveDemand, map[string]any{"source": post.Source, "new": result.New, "replaced": result.Replaced})
	})
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, result)
}

func (s *Server) getSalesCounts(c *gin.Context) error {
	setup, _, err := s.Store.Setup(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	loc := setup.Site.Location()
	q := params(c, "source", "item", "from", "to", "limit", "cursor", "as", "table")
	form, notOffered := q.format(asJSON, xlsxType, csvType)
	f := models.SalesFilter{Source: q.text("source"), Item: q.text("item"), From: q.time("from", loc, time.Time{}), To: q.time("to", loc, time.Time{})}
	p := q.page()
	if err := cmp.Or(q.err(), notOffered); err != nil {
		return err
	}
	if form != asJSON {
		return s.writeCounts(c, form, setup.Site, f)
	}
	rows, err := s.Store.Counts(c.Request.Context(), c.Param("site"), f, p)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, rows)
}

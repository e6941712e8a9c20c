package api

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
	"hotday/planner/tables"
)

// postStockCount stores a stock count and queues a replan from it.
func (s *Server) postStockCount(c *gin.Context) error {
	var body models.StockCount
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	if body.Empty() && body.Beverages == nil && body.Lots == nil {
		return models.Invalid("", "at least one of ice_g, plain_ice_g, tank_l, beverages, lots", "nothing was counted")
	}
	err := s.updateSite(c, liveStock, body, []note{{models.AuditCount, countText(body)}}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		if err := checkStockCount(body, setup, s.Now()); err != nil {
			return err
		}
		if err := tx.AddStockCount(ctx, c.Param("site"), body, s.Now()); err != nil {
			return err
		}
		return s.queueReplan(ctx, tx, c.Param("site"))
	})
	if err != nil {
		return err
	}
	return writeStored(c, 1)
}

// countText lists a count's amounts for the activity log.
func countText(n models.StockCount) string {
	var out []string
	for _, x := range []struct {
		name, unit string
		value      *float64
	}{{"ice", "g", n.IceG}, {"plain ice", "g", n.PlainIceG}, {"tank", "L", n.TankL}} {
		if x.value != nil {
			out = append(out, amountText(x.name, *x.value, x.unit))
		}
	}
	for _, b := range n.Beverages {
		out = append(out, amountText(b.Beverage, b.G, "g"))
	}
	for _, l := range n.Lots {
		out = append(out, amountText(l.Lot, l.Grams, "g"))
	}
	return strings.Join(out, ", ")
}

func changedText(x models.StockChange) string {
	text := x.Kind
	if x.Beverage != nil && x.G != nil {
		text += " " + amountText(*x.Beverage, *x.G, "g")
	}
	if x.IceG != nil {
		text += " " + amountText("ice", *x.IceG, "g")
	}
	return text
}

func amountText(of string, amount float64, unit string) string {
	return fmt.Sprintf("%s %.0f %s", of, amount, unit)
}

func checkStockCount(body models.StockCount, setup models.Setup, now time.Time) error {
	var k checks
	k.requireNotAhead("/counted_at", body.CountedAt, now)
	beverages, lots := beverageCodes(setup), lotCodes(setup)
	for i, b := range body.Beverages {
		at := "/beverages/" + strconv.Itoa(i)
		k.requireCode(at+"/beverage", b.Beverage, beverages)
		if b.MadeAt.After(body.CountedAt) {
			k.add(at+"/made_at", "a time at or before counted_at", "it is later than counted_at")
		}
	}
	for i, l := range body.Lots {
		k.requireCode("/lots/"+strconv.Itoa(i)+"/lot", l.Lot, lots)
	}
	if body.TankL != nil && *body.TankL > setup.Water.TankL {
		k.add("/tank_l", "at most "+formatFloat(setup.Water.TankL), "%s L is more than the tank holds", formatFloat(*body.TankL))
	}
	return k.err()
}

func formatFloat(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// deleteStockCount deletes one thing from a stock count that was a mistake, and queues a replan without it.
func (s *Server) deleteStockCount(c *gin.Context) error {
	q := params(c, "counted_at", "kind", "code")
	at, x := q.instant("counted_at"), models.Counted{Kind: q.text("kind"), Code: q.text("code")}
	if !slices.Contains(models.CountedKinds, x.Kind) {
		q.invalid("kind", "one of "+strings.Join(models.CountedKinds, ", "), strconv.Quote(x.Kind)+" is not a kind of thing that is counted")
	}
	if err := q.err(); err != nil {
		return err
	}
	site := c.Param("site")
	err := s.updateSite(c, liveStock, map[string]int{"counts": 1}, []note{{models.AuditUndoCount, strings.TrimSpace(x.Kind + " " + x.Code)}}, func(ctx context.Context, tx models.Store, _ models.Setup) error {
		if err := tx.DropStockCount(ctx, site, at, x); err != nil {
			return err
		}
		return s.queueReplan(ctx, tx, site)
	})
	if err != nil {
		return err
	}
	return noContent(c)
}

// getStockCounts lists counts, or serves all of them as a file.
func (s *Server) getStockCounts(c *gin.Context) error {
	q := params(c, "from", "to", "limit", "cursor", "as", "table")
	form, err := q.format(asJSON, xlsxType, csvType)
	q.page()
	if err := cmp.Or(q.err(), err); err != nil {
		return err
	}
	if form == asJSON {
		return listBetween(s, c, s.Store.StockCounts, "as", "table")
	}
	setup, _, err := s.Store.Setup(c.Request.Context(), c.Param("site"))
	if err != nil {
		return err
	}
	from, to := q.time("from", setup.Site.Location(), models.FirstInstant), q.time("to", setup.Site.Location(), models.EndOfInstants)
	if err := q.err(); err != nil {
		return err
	}
	counts, err := s.Store.StockCounts(c.Request.Context(), setup.Site.Code, from, to)
	if err != nil {
		return err
	}
	table := tables.Stock(setup, counts)
	if len(table.Rows) > maxFileRows {
		return tooManyRows()
	}
	return writeTables(c, form, setup.Site.Code+"-stock", []tables.Table{table})
}

type stockChangesBody struct {
	Rows []models.StockChange `json:"rows" opt:"false" validate:"max=5000,dive"`
}

func (s *Server) postStockChanges(c *gin.Context) error {
	var body stockChangesBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	err := s.updateSite(c, liveStock, map[string]int{"changes": len(body.Rows)}, []note{{models.AuditStockChange, listed(body.Rows, changedText)}}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		if err := checkStockChanges(body.Rows, setup, s.Now()); err != nil {
			return err
		}
		if err := tx.AddStockChanges(ctx, c.Param("site"), body.Rows, s.Now()); err != nil {
			return err
		}
		return s.queueReplan(ctx, tx, c.Param("site"))
	})
	if err != nil {
		return err
	}
	return writeStored(c, len(body.Rows))
}

func checkStockChanges(rows []models.StockChange, setup models.Setup, now time.Time) error {
	var k checks
	beverages := beverageCodes(setup)
	for i, r := range rows {
		at := "/rows/" + strconv.Itoa(i)
		k.requireNotAhead(at+"/at", r.At, now)
		if r.Beverage != nil {
			k.requireCode(at+"/beverage", *r.Beverage, beverages)
		}
		switch {
		case r.G == nil && r.IceG == nil:
			k.add(at, "g with beverage, or ice_g", "the row has no amount")
		case r.G != nil && r.Beverage == nil:
			k.add(at+"/beverage", "the code of a beverage", "g needs a beverage")
		case r.G == nil && r.Beverage != nil:
			k.add(at+"/g", "grams of the beverage", "beverage needs an amount in g")
		}
	}
	return k.err()
}

func (s *Server) getStockChanges(c *gin.Context) error {
	return listBetween(s, c, s.Store.StockChanges)
}

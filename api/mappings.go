package api

import (
	"context"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

type mappingsBody struct {
	Mappings []models.ItemMapping `json:"mappings" opt:"false" validate:"max=5000,dive"`
}

// mappingsResponse lists the mappings and the items without one.
type mappingsResponse struct {
	Mappings []models.ItemMapping  `json:"mappings"`
	Unmapped []models.UnmappedItem `json:"unmapped"`
}

func (s *Server) putMappings(c *gin.Context) error {
	var body mappingsBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	out, err := s.saveMappings(c, body.Mappings)
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}

// saveMappings stores mappings for the request's site and returns all of them; pages use it too.
func (s *Server) saveMappings(c *gin.Context, mappings []models.ItemMapping) (out mappingsResponse, err error) {
	return out, s.updateSite(c, liveDemand, map[string]int{"mappings": len(mappings)}, []note{{models.AuditMappings, listed(mappings, mappingText)}}, func(ctx context.Context, tx models.Store, setup models.Setup) error {
		var k checks
		drinks, seen := drinkCodes(setup), map[[3]string]int{}
		for i, m := range mappings {
			at := "/mappings/" + strconv.Itoa(i)
			key := [3]string{m.Source, m.Item}
			if m.Drink != nil {
				k.requireCode(at+"/drink", *m.Drink, drinks)
			}
			if m.From != nil {
				key[2] = string(*m.From)
			}
			if first, twice := seen[key]; twice {
				k.add(at, "each item of a source once for each day", "repeats /mappings/%d", first)
			}
			seen[key] = i
		}
		if err := k.err(); err != nil {
			return err
		}
		if err := tx.PutMappings(ctx, c.Param("site"), mappings); err != nil {
			return err
		}
		out, err = readMappings(ctx, tx, c.Param("site"))
		return err
	})
}

func mappingText(m models.ItemMapping) string {
	if m.Drink == nil {
		return m.Item + " → –"
	}
	return m.Item + " → " + *m.Drink
}

func (s *Server) deleteMapping(c *gin.Context) error {
	q := params(c, "source", "item", "from")
	source, item := q.text("source"), q.text("item")
	var from *models.Date
	if c.Query("from") != "" {
		from = new(q.date("from", ""))
	}
	if err := q.err(); err != nil {
		return err
	}
	if err := s.dropMappings(c, source, item, from); err != nil {
		return err
	}
	return noContent(c)
}

// dropMappings deletes an item's mappings at the request's site, or the one from a day; pages use it too.
func (s *Server) dropMappings(c *gin.Context, source, item string, from *models.Date) error {
	return s.updateSite(c, liveDemand, map[string]int{"mappings": 1}, []note{{models.AuditMappings, item + " → –"}}, func(ctx context.Context, tx models.Store, _ models.Setup) error {
		return tx.DropMappings(ctx, c.Param("site"), source, item, from)
	})
}

func (s *Server) getMappings(c *gin.Context) error {
	if err := params(c).err(); err != nil {
		return err
	}
	ctx := c.Request.Context()
	var out mappingsResponse
	err := s.Store.Read(ctx, func(st models.Store) (err error) {
		out, err = readMappings(ctx, st, c.Param("site"))
		return err
	})
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, out)
}

func readMappings(ctx context.Context, st models.Store, site string) (mappingsResponse, error) {
	out := mappingsResponse{Mappings: []models.ItemMapping{}, Unmapped: []models.UnmappedItem{}}
	mapped, err := st.Mappings(ctx, site)
	if err != nil {
		return out, err
	}
	unmapped, err := st.Unmapped(ctx, site)
	out.Mappings, out.Unmapped = append(out.Mappings, mapped...), append(out.Unmapped, unmapped...)
	return out, err
}

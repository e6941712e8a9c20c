package api

import (
	"context"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// signOffBody is the body of POST …/sign-offs.
type signOffBody struct {
	Rule   string  `json:"rule" validate:"oneof=cold_store served_warm cooling hold steep_warm"`
	Of     string  `json:"of,omitempty" opt:"true" validate:"max=60"` // code of the beverage; empty: the site
	Value  float64 `json:"value"`                                     // of the setting, as the plan's warning states it
	Reason string  `json:"reason" validate:"min=1,max=500"`
}

// postSignOff records that the caller accepts a setting laxer than the site's food safety rules.
func (s *Server) postSignOff(c *gin.Context) error {
	var body signOffBody
	if err := decodeValid(c, &body); err != nil {
		return err
	}
	x, err := s.signOff(c, c.Param("site"), models.SignOff{Rule: body.Rule, Of: body.Of, Value: body.Value, Reason: body.Reason})
	if err != nil {
		return err
	}
	return writeJSON(c, http.StatusCreated, x)
}

// signOff adds a sign-off by the caller to the site's set-up and to the activity log. An earlier one of the same rule and beverage is
// replaced.
func (s *Server) signOff(c *gin.Context, site string, x models.SignOff) (models.SignOff, error) {
	caller, _ := callerToken(c)
	x.By, x.At = caller.Name, s.Now()
	if x.Reason = strings.TrimSpace(x.Reason); x.Reason == "" {
		return x, models.Invalid("/reason", "why this is safe in your shop", "the reason is empty")
	}
	asStored := func(stored string) (string, error) {
		if stored == "" {
			return "", siteNotFound(site)
		}
		return stored, nil
	}
	_, _, err := s.storeSetup(c, site, asStored, func(now models.Setup) (models.Setup, error) {
		kept := []models.SignOff{}
		for _, old := range now.Site.SignOffs {
			if old.Rule != x.Rule || old.Of != x.Of {
				kept = append(kept, old)
			}
		}
		now.Site.SignOffs = append(kept, x)
		return now, now.Validate()
	}, func(_ context.Context, tx models.Store) error {
		return s.audit(c, tx, site, models.AuditSignOff, strings.TrimSpace(x.Rule+" "+x.Of)+": "+x.Reason)
	})
	return x, err
}

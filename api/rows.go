package api

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// put runs one change of a site's rows: it checks them against the set-up and stores them in the transaction that also tells
// the screens and asks for a look at what runs short.
func (s *Server) put(c *gin.Context, kind string, told any, fn func(ctx context.Context, tx models.Store, setup models.Setup) error) error {
	ctx, site := c.Request.Context(), c.Param("site")
	return s.Store.Within(ctx, func(tx models.Store) error {
		setup, _, err := tx.Setup(ctx, site)
		if err != nil {
			return err
		}
		if err := fn(ctx, tx, setup); err != nil {
			return err
		}
		if err := s.tell(ctx, tx, site, kind, told); err != nil {
			return err
		}
		return s.watch(ctx, tx, site)
	})
}

// stored is the answer of a PUT or POST of rows.
type stored struct {
	Rows int `json:"rows"`
}

// checks gathers what is wrong with rows, so that a person sees all of it at once.
type checks struct{ fields []models.FieldError }

func (k *checks) add(pointer, accepted, format string, args ...any) {
	if len(k.fields) < 50 {
		k.fields = append(k.fields, models.FieldError{Pointer: pointer, Detail: fmt.Sprintf(format, args...), Accepted: accepted})
	}
}

func (k *checks) err() error {
	if len(k.fields) == 0 {
		return nil
	}
	return &models.Error{Code: models.CodeInvalid, Message: "the document breaks a rule", Fields: k.fields}
}

// known is the codes of one noun of a set-up.
type known struct {
	noun  string
	codes []string
	has   map[string]bool
}

func knownOf[T any](noun string, list []T, code func(T) string) known {
	k := known{noun: noun, has: make(map[string]bool, len(list))}
	for _, x := range list {
		k.codes = append(k.codes, code(x))
		k.has[code(x)] = true
	}
	return k
}

func drinksOf(s models.Setup) known {
	return knownOf("drink", s.Drinks, func(d models.Drink) string { return d.Code })
}

func partsOf(s models.Setup) known {
	return knownOf("day part", s.Site.DayParts, func(p models.DayPart) string { return p.Code })
}

func beveragesOf(s models.Setup) known {
	return knownOf("beverage", s.Beverages, func(b models.Beverage) string { return b.Code })
}

func lotsOf(s models.Setup) known {
	var lots []models.BeanLot
	for _, x := range s.Coffees {
		lots = append(lots, x.Lots...)
	}
	return knownOf("bean lot", lots, func(l models.BeanLot) string { return l.Code })
}

// mustKnow wants code to be one of the set-up's.
func (k *checks) mustKnow(pointer, code string, among known) {
	if among.has[code] {
		return
	}
	accepted := "the code of a " + among.noun + " of this site's set-up"
	if n := len(among.codes); n > 0 && n <= 12 {
		accepted = "one of " + strings.Join(among.codes, ", ")
	}
	k.add(pointer, accepted, "there is no %s %q", among.noun, code)
}

// inOrder wants a span that ends after it starts.
func (k *checks) inOrder(at string, from, to time.Time) {
	if !to.After(from) {
		k.add(at+"/to", "a time after from, "+from.Format(time.RFC3339), "%s does not come after from", to.Format(time.RFC3339))
	}
}

// The span of a list of dates that is asked for without one.
const (
	firstDate models.Date = "1900-01-01"
	lastDate  models.Date = "9998-12-31"
)

// between reads a list of instants: ?from&to narrow it, ?limit&cursor cut it into pages.
func between[T any](s *Server, c *gin.Context, read func(ctx context.Context, site string, from, to time.Time) ([]T, error)) error {
	ctx, site := c.Request.Context(), c.Param("site")
	setup, _, err := s.Store.Setup(ctx, site)
	if err != nil {
		return err
	}
	q := params(c, "from", "to", "limit", "cursor")
	from, to := q.time("from", setup.Site.Location(), models.FirstInstant), q.time("to", setup.Site.Location(), models.EndOfInstants)
	p := q.page()
	if err := q.err(); err != nil {
		return err
	}
	rows, err := read(ctx, site, from, to)
	if err != nil {
		return err
	}
	return answerPart(c, rows, p)
}

func answerStored(c *gin.Context, n int) error { return answer(c, http.StatusOK, stored{n}) }

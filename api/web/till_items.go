package web

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/api/web/form"
	"hotday/models"
)

// tillView maps till items to drinks: unmapped ones first, best sellers on top.
type tillView struct {
	head
	Waiting, Mapped, Ignored []tillItem
	HasDrinks                bool
	Step                     int // number among the steps of the set-up
	Wrong                    []models.FieldError
	Saved                    bool
}

type tillItem struct {
	Place        int // index in the names of its fields
	Source, Item string
	Seen         string
	Before       []string // its earlier mappings, in words
	Factor, From string
	FromHelp     string
	Since        models.Date // of the mapping shown; empty: all counts
	Drinks       []form.Option
	Ignored      bool
	Waiting      bool
	Wrong        string
}

// ignoredItem is the choice for an item that isn't a drink. No drink has this code, since codes have no slash.
const ignoredItem = "/"

// typedMapping is what somebody chose for an item.
type typedMapping struct {
	source, item string
	drink        string      // code, ignoredItem, or "" for not matched
	factor, from string      // as typed
	since        models.Date // of the mapping that was shown
	wrong        string
}

// mapping returns what to store; what cannot be read is said in wrong.
func (m *typedMapping) mapping(v voice) models.ItemMapping {
	out := models.ItemMapping{Source: m.source, Item: m.item, Factor: 1}
	if m.drink != ignoredItem {
		out.Drink = &m.drink
	}
	if text := strings.Replace(m.factor, ",", ".", 1); text != "" {
		x, err := strconv.ParseFloat(text, 64)
		if err != nil || !(x > 0 && x <= 1000) {
			m.wrong = v.Say("setup.till.factor_wrong", "typed", m.factor)
		}
		out.Factor = x
	}
	from := m.from
	if from == "" {
		from = string(m.since)
	}
	if from != "" {
		var d models.Date
		if d.UnmarshalText([]byte(from)) != nil {
			m.wrong = v.Say("setup.till.date_wrong")
		}
		out.From = &d
	}
	return out
}

func (p *pages) tillItems(c *gin.Context) {
	if h, setup, ok := p.enter(c, models.ScopeManage, "setup"); ok {
		p.renderTillItems(c, http.StatusOK, h, setup, nil)
	}
}

// renderTillItems shows the items, with the submitted values of those in typed.
func (p *pages) renderTillItems(c *gin.Context, status int, h head, setup models.Setup, typed []typedMapping) {
	ctx := c.Request.Context()
	v := tillView{head: h, HasDrinks: len(setup.Drinks) > 0, Step: len(setupSections) + 1, Saved: c.Query("saved") != "" && typed == nil}
	v.head.Title = h.voice.Say("setup.section.till") + " · " + h.Title
	v.Scripts = []string{"sales.js"}
	var mapped []models.ItemMapping
	var unmapped []models.UnmappedItem
	err := p.Store.Read(ctx, func(s models.Store) (err error) {
		if mapped, err = s.Mappings(ctx, setup.Site.Code); err != nil {
			return err
		}
		unmapped, err = s.Unmapped(ctx, setup.Site.Code)
		return err
	})
	if err != nil {
		p.renderError(c, err)
		return
	}
	slices.SortStableFunc(unmapped, func(a, b models.UnmappedItem) int { return cmp.Compare(b.Count, a.Count) })
	place := 0
	add := func(to *[]tillItem, it tillItem, drink string) {
		it.Place = place
		for _, t := range typed {
			if t.source == it.Source && t.item == it.Item {
				it.Factor, it.From, it.Wrong, drink = t.factor, t.from, t.wrong, t.drink
			}
		}
		it.Drinks = append(it.Drinks, form.Option{Value: ignoredItem, Name: h.voice.Say("setup.till.ignore"), On: drink == ignoredItem})
		for _, d := range setup.Drinks {
			it.Drinks = append(it.Drinks, form.Option{Value: d.Code, Name: nameOr(d.Name, d.Code), On: d.Code == drink})
		}
		place++
		*to = append(*to, it)
	}
	loc := setup.Site.Location()
	for _, u := range unmapped {
		add(&v.Waiting, tillItem{Source: u.Source, Item: u.Item, Factor: "1", Waiting: true,
			Seen: h.voice.Say("setup.till.seen", "count", h.voice.Servings(u.Count), "day", h.voice.Day(u.LastSeen.In(loc)))}, "")
	}
	for i, m := range mapped {
		if i+1 < len(mapped) && mapped[i+1].Source == m.Source && mapped[i+1].Item == m.Item {
			continue // shown with the item's latest mapping
		}
		it := tillItem{Source: m.Source, Item: m.Item, Factor: strconv.FormatFloat(m.Factor, 'f', -1, 64), Before: mappedBefore(mapped[:i+1], setup, h.voice),
			FromHelp: h.voice.Say("setup.till.from_all")}
		if m.From != nil {
			it.Since = *m.From
			it.FromHelp = h.voice.Say("setup.till.from_since", "day", h.voice.Day(m.From.At(12*60, loc)))
		}
		if m.Drink == nil {
			add(&v.Ignored, it, ignoredItem)
		} else {
			add(&v.Mapped, it, *m.Drink)
		}
	}
	p.render(c, status, "till", v)
}

// mappedBefore words the mappings of the last item of a list that came before its latest.
func mappedBefore(list []models.ItemMapping, setup models.Setup, v voice) (out []string) {
	name, loc := drinkNames(setup.Drinks), setup.Site.Location()
	for i := len(list) - 1; i >= 0 && list[i].Source == list[len(list)-1].Source && list[i].Item == list[len(list)-1].Item; i-- {
		if list[i].From == nil {
			break
		}
		drink := v.Say("setup.till.not_yet")
		if i > 0 && list[i-1].Source == list[i].Source && list[i-1].Item == list[i].Item {
			if drink = v.Say("setup.till.ignore"); list[i-1].Drink != nil {
				drink = name(*list[i-1].Drink)
			}
		}
		out = append(out, v.Say("setup.till.before", "day", v.Day(list[i].From.At(12*60, loc)), "drink", drink))
	}
	return out
}

// postTillItems stores the mappings of the items for which something was chosen, and deletes those that are to be matched again.
func (p *pages) postTillItems(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "setup")
	if !ok {
		return
	}
	var typed []typedMapping
	var take []models.ItemMapping
	var drop []typedMapping
	wrong := false
	for i := 0; i < models.MaxSalesRows && c.PostForm("item"+strconv.Itoa(i)) != ""; i++ {
		field := func(name string) string { return strings.TrimSpace(c.PostForm(name + strconv.Itoa(i))) }
		m := typedMapping{source: c.PostForm("source" + strconv.Itoa(i)), item: c.PostForm("item" + strconv.Itoa(i)), drink: c.PostForm("drink" + strconv.Itoa(i)),
			factor: field("factor"), from: field("from"), since: models.Date(field("since"))}
		switch mapping := m.mapping(h.voice); {
		case m.wrong != "":
			wrong = true
		case m.drink != "":
			take = append(take, mapping)
		case c.PostForm("mapped"+strconv.Itoa(i)) != "":
			drop = append(drop, m)
		}
		typed = append(typed, m)
	}
	if wrong {
		p.renderTillItems(c, http.StatusUnprocessableEntity, h, setup, typed)
		return
	}
	for _, m := range drop {
		if err := p.DropMappings(c, m.source, m.item, nil); err != nil && models.CodeOf(err) != models.CodeNotFound {
			p.renderError(c, err)
			return
		}
	}
	if len(take) > 0 {
		if err := p.SaveMappings(c, take); err != nil {
			p.renderError(c, err)
			return
		}
	}
	c.Redirect(http.StatusSeeOther, c.Request.URL.Path+"?saved=1")
}

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
	"hotday/planner/say"
)

// tillView maps till items to drinks: unmapped ones first, best sellers on top.
type tillView struct {
	head
	Waiting, Mapped []tillItem
	HasDrinks       bool
	Step            int // number among the steps of the set-up
	Wrong           []models.FieldError
	Saved           bool
}

type tillItem struct {
	Place        int // index in the names of its fields
	Source, Item string
	Seen         string
	Factor       string
	Drinks       []form.Option
	Wrong        string
}

func (p *pages) tillItems(c *gin.Context) {
	if h, setup, ok := p.enter(c, models.ScopeManage, "setup"); ok {
		p.renderTillItems(c, http.StatusOK, h, setup, nil, nil)
	}
}

// renderTillItems shows the items, with the submitted values of those in typed.
func (p *pages) renderTillItems(c *gin.Context, status int, h head, setup models.Setup, typed []models.ItemMapping, wrong map[int]string) {
	ctx, v := c.Request.Context(), tillView{head: h, HasDrinks: len(setup.Drinks) > 0, Step: len(setupSections) + 1, Saved: c.Query("saved") != "" && typed == nil}
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
	loc := setup.Site.Location()
	place := 0
	item := func(m models.ItemMapping) tillItem {
		for _, t := range typed {
			if t.Source == m.Source && t.Item == m.Item {
				m = t
			}
		}
		it := tillItem{Place: place, Source: m.Source, Item: m.Item, Factor: strconv.FormatFloat(m.Factor, 'f', -1, 64), Wrong: wrong[place]}
		for _, d := range setup.Drinks {
			it.Drinks = append(it.Drinks, form.Option{Value: d.Code, Name: nameOr(d.Name, d.Code), On: d.Code == m.Drink})
		}
		place++
		return it
	}
	for _, u := range unmapped {
		it := item(models.ItemMapping{Source: u.Source, Item: u.Item, Factor: 1})
		it.Seen = h.voice.Say("setup.till.seen", "count", say.Servings(u.Count), "day", h.voice.Day(u.LastSeen.In(loc)))
		v.Waiting = append(v.Waiting, it)
	}
	for _, m := range mapped {
		v.Mapped = append(v.Mapped, item(m))
	}
	p.render(c, status, "till", v)
}

// postTillItems stores the mappings of the items for which a drink was chosen.
func (p *pages) postTillItems(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "setup")
	if !ok {
		return
	}
	var typed, take []models.ItemMapping
	wrong := map[int]string{}
	for i := 0; i < 5000 && c.PostForm("item"+strconv.Itoa(i)) != ""; i++ {
		n := strconv.Itoa(i)
		m := models.ItemMapping{Source: c.PostForm("source" + n), Item: c.PostForm("item" + n), Drink: c.PostForm("drink" + n), Factor: 1}
		if text := strings.Replace(strings.TrimSpace(c.PostForm("factor"+n)), ",", ".", 1); text != "" {
			x, err := strconv.ParseFloat(text, 64)
			if err != nil || !(x > 0 && x <= 1000) {
				wrong[i] = h.voice.Say("setup.till.factor_wrong", "typed", text)
			}
			m.Factor = x
		}
		typed = append(typed, m)
		if m.Drink != "" {
			take = append(take, m)
		}
	}
	if len(wrong) > 0 {
		p.renderTillItems(c, http.StatusUnprocessableEntity, h, setup, typed, wrong)
		return
	}
	if len(take) > 0 {
		if err := p.SaveMappings(c, take); err != nil {
			p.renderError(c, err)
			return
		}
	}
	c.Redirect(http.StatusSeeOther, c.Request.URL.Path+"?saved=1")
}

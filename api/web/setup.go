package web

import (
	"encoding/json"
	"errors"
	"maps"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/api/web/form"
	"hotday/api/web/texts"
	"hotday/models"
	"hotday/planner/say"
)

// setupView is the overview of the set-up: its steps in order, with gaps.
type setupView struct {
	head
	Steps    []setupStep
	Missing  int // number of steps with gaps that prevent planning
	Unmapped int
	Saved    bool
	Etag     string     // of the set-up, where it was just saved
	Next     *setupStep // the first step with gaps that prevent planning
	WholeOrg bool       // the caller manages all shops, so may delete this one
}

type setupStep struct {
	Number               int
	Name, Title, Summary string
	Gaps                 []setupGap
}

// sectionView is a step with its fields.
type sectionView struct {
	head
	Number            int
	Name, Title, Lead string
	Caution           string
	Etag              string
	Parts             []fieldView
	General           []models.FieldError // errors outside this step's fields
	Wrong             []fieldView         // fields with errors, for links
	Saved             bool
	After, AfterTitle string       // the step to go on to; none: the overview
	Unfinished        bool         // some step lacks what a plan needs
	Added             string       // pointer of a row just added
	Weather           *weatherCard // of the weather step
}

// fieldView is a field with its texts.
type fieldView struct {
	form.Field
	Label, Help string
	Fields      []fieldView // of a group: the fields always shown; of rows: the rows
	More        []fieldView // of a group: the fields under "more"
	Row         string      // pointer of a row
	Open        bool        // a row, or its "more", is expanded
	Flat        bool        // a row with few fields: on one line, not folded
	Bare        bool        // rows without a heading, since the page has it
	Adds        []addButton // buttons to add a row
}

type addButton struct{ Value, Label string }

func (p *pages) setup(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "setup")
	if !ok {
		return
	}
	unmapped, err := p.Store.Unmapped(c.Request.Context(), setup.Site.Code)
	if err != nil {
		p.renderError(c, err)
		return
	}
	token, _ := p.Current(c)
	v := setupView{head: h, Unmapped: len(unmapped), Saved: c.Query("saved") != "", WholeOrg: token.Everywhere()}
	if v.Saved {
		v.Scripts = []string{"setup-saved.js"}
		if _, v.Etag, err = p.Store.Setup(c.Request.Context(), setup.Site.Code); err != nil {
			p.renderError(c, err)
			return
		}
	}
	gaps := setupGaps(setup, h.voice)
	for i, s := range setupSections {
		step := setupStep{Number: i + 1, Name: s.name, Title: h.voice.Say("setup.section." + s.name), Summary: s.summary(setup, h.voice)}
		blocked := 0
		for _, g := range gaps {
			if g.Section == s.name {
				step.Gaps = append(step.Gaps, g)
				if g.Blocks {
					blocked = 1
				}
			}
		}
		v.Missing += blocked
		v.Steps = append(v.Steps, step)
		if blocked > 0 && v.Next == nil {
			v.Next = &step
		}
	}
	p.render(c, http.StatusOK, "setup", v)
}

// enterSection is enter for the step in the path.
func (p *pages) enterSection(c *gin.Context) (h head, setup models.Setup, s setupSection, i int, ok bool) {
	if h, setup, ok = p.enter(c, models.ScopeManage, "setup"); !ok {
		return h, setup, s, 0, false
	}
	if s, i = findSection(c.Param("section")); i < 0 {
		p.renderError(c, models.Errorf(models.CodeNotFound, "there is no step %q", c.Param("section")))
	}
	return h, setup, s, i, i >= 0
}

func (p *pages) setupSection(c *gin.Context) {
	h, setup, s, i, ok := p.enterSection(c)
	if !ok {
		return
	}
	_, etag, err := p.Store.Setup(c.Request.Context(), setup.Site.Code)
	if err != nil {
		p.renderError(c, err)
		return
	}
	v := newSectionView(h, setup, s, i, asDocument(setup), nil, nil)
	if v.Etag, v.Saved = etag, c.Query("saved") != ""; v.Saved {
		v.Scripts = append(v.Scripts, "setup-saved.js")
	}
	if v.Weather, err = p.weatherCard(c, h, setup, s); err != nil {
		p.renderError(c, err)
		return
	}
	p.render(c, http.StatusOK, "setupsection", v)
}

// weatherCard is the card of the weather step, nil of any other.
func (p *pages) weatherCard(c *gin.Context, h head, setup models.Setup, s setupSection) (*weatherCard, error) {
	if s.name != weatherSection {
		return nil, nil
	}
	f, err := p.Store.WeatherFetch(c.Request.Context(), setup.Site.Code)
	return newWeatherCard(setup.Site, f, h.voice, p.Now()), err
}

// postSetupSection checks a step's form, edits its rows, or saves it, depending on the button. With ?check=1 it only returns the
// errors, as JSON.
func (p *pages) postSetupSection(c *gin.Context) {
	h, setup, s, i, ok := p.enterSection(c)
	if !ok {
		return
	}
	if err := c.Request.ParseForm(); err != nil {
		p.renderError(c, models.Errorf(models.CodeMalformed, "the form cannot be read"))
		return
	}
	typed := c.Request.PostForm
	t := readSetupInput(setup, s, typed, h.voice)
	changed, wrong := t.validate(h.voice)
	wrong = append(inPlainWords(wrong, formConfig(setup, s, h.voice), h.voice), emptyDrinks(setup, changed, h.voice)...)
	if c.Query("check") != "" {
		c.JSON(http.StatusOK, gin.H{"faults": shownFaults(wrong)})
		return
	}
	card, err := p.weatherCard(c, h, setup, s)
	if err != nil {
		p.renderError(c, err)
		return
	}
	show := func(status int, wrong []models.FieldError) {
		v := newSectionView(h, setup, s, i, t.doc, t.raw, wrong)
		v.Etag, v.Added, v.Weather = typed.Get("etag"), t.added, card
		p.render(c, status, "setupsection", v)
	}
	if t.editRows(setup, s, typed) || card != nil && t.findPlace(setup.Site, typed, card) {
		show(http.StatusOK, nil)
		return
	}
	if len(wrong) > 0 {
		show(http.StatusUnprocessableEntity, wrong)
		return
	}
	if form.Same(asDocument(changed), asDocument(setup)) {
		p.redirectAfterSave(c, setup.Site.Code)
		return
	}
	if err := p.SaveSetup(c, changed, typed.Get("etag")); err != nil {
		general := models.FieldError{Detail: h.voice.Say("setup.not_saved", "why", trouble(h.voice.Catalogue, err))}
		if models.CodeOf(err) == models.CodePrecondition {
			general.Detail = h.voice.Say("setup.meanwhile")
		}
		if e := (*models.Error)(nil); errors.As(err, &e) && len(e.Fields) > 0 {
			show(e.Code.Status(), inPlainWords(e.Fields, formConfig(setup, s, h.voice), h.voice))
			return
		}
		show(models.CodeOf(err).Status(), []models.FieldError{general})
		return
	}
	p.redirectAfterSave(c, setup.Site.Code)
}

// shownFault is a fault for the page's script: where and what, in the page's words.
type shownFault struct {
	Pointer string `json:"pointer"`
	Text    string `json:"text"`
}

func shownFaults(wrong []models.FieldError) []shownFault {
	out := make([]shownFault, 0, len(wrong))
	for _, f := range wrong {
		out = append(out, shownFault{f.Pointer, f.Detail})
	}
	return out
}

// redirectAfterSave stays at the step, or goes on to the one that the button named.
func (p *pages) redirectAfterSave(c *gin.Context, site string) {
	to := c.Request.URL.Path + "?saved=1"
	if next, ok := c.GetPostForm("go"); ok {
		to = "/s/" + url.PathEscape(site) + "/setup?saved=1"
		if s, i := findSection(next); i >= 0 {
			to = "/s/" + url.PathEscape(site) + "/setup/" + s.name
		}
	}
	c.Redirect(http.StatusSeeOther, to)
}

// setupInput is the set-up with the values of a submitted form.
type setupInput struct {
	doc   map[string]any
	raw   map[string]string
	wrong []models.FieldError // parse errors
	added string              // pointer of a row just added
}

func readSetupInput(stored models.Setup, s setupSection, typed url.Values, v voice) setupInput {
	t := setupInput{doc: asDocument(stored), raw: map[string]string{}}
	w := formConfig(stored, s, v)
	for _, root := range s.roots {
		part, raw, wrong := w.Read(reflect.TypeFor[models.Setup](), root, typed, form.At(t.doc, root))
		form.Put(t.doc, root, part)
		maps.Copy(t.raw, raw)
		t.wrong = append(t.wrong, wrong...)
	}
	nameRows(t.doc)
	return t
}

// validate decodes and validates the document like the API does.
func (t setupInput) validate(v voice) (models.Setup, []models.FieldError) {
	var setup models.Setup
	b, err := json.Marshal(t.doc)
	if err == nil {
		if err = models.DecodeStrict(b, &setup); err == nil {
			err = setup.Validate()
		}
	}
	wrong := slices.Clone(t.wrong)
	var e *models.Error
	if errors.As(err, &e) {
		for _, f := range e.Fields {
			if _, unread := t.raw[f.Pointer]; !unread { // the parse error says it already
				wrong = append(wrong, t.unnamed(f, v))
			}
		}
		if len(e.Fields) == 0 {
			wrong = append(wrong, models.FieldError{Detail: trouble(v.Catalogue, e), Rule: ruleWorded})
		}
	}
	return setup, wrong
}

// unnamed turns the fault of a row whose code is missing into that of the field from which the code would have been made.
func (t setupInput) unnamed(f models.FieldError, v voice) models.FieldError {
	row, last := f.Pointer[:max(0, strings.LastIndexByte(f.Pointer, '/'))], f.Pointer[strings.LastIndexByte(f.Pointer, '/')+1:]
	if last != "code" || form.At(t.doc, f.Pointer) != nil {
		return f
	}
	switch {
	case strings.Contains(row, "/lots/"):
		return models.FieldError{Pointer: row + "/roasted_on", Detail: v.Say("setup.wrong.roast_date"), Rule: ruleWorded}
	case slices.Contains(named, row[:strings.LastIndexByte(row, '/')]):
		return models.FieldError{Pointer: row + "/name", Detail: v.Say("setup.wrong.name"), Rule: ruleWorded}
	}
	return f
}

// asDocument converts a set-up to generic JSON.
func asDocument(s models.Setup) map[string]any {
	var doc map[string]any
	b, err := json.Marshal(s)
	if err == nil {
		err = json.Unmarshal(b, &doc)
	}
	if err != nil {
		return map[string]any{} // cannot happen for a stored set-up
	}
	return doc
}

func formConfig(s models.Setup, section setupSection, v voice) form.Config {
	named := func(code, name string) form.Option { return form.Option{Value: code, Name: nameOr(name, code)} }
	return form.Config{Writer: v.Writer, Currency: s.Site.Currency, Decimals: say.MoneyDecimals(s.Site.Currency),
		Skip: section.skips, Hide: isHiddenField,
		References: func(path string) (out []form.Option) {
			out = []form.Option{} // none yet, but a choice all the same
			switch path {
			case "beverages.coffee", "drinks.doses.coffee":
				for _, x := range s.Coffees {
					out = append(out, named(x.Code, ""))
				}
			case "drinks.like":
				for _, x := range s.Drinks {
					out = append(out, named(x.Code, x.Name))
				}
			case "drinks.uses.beverage", "brewers.beverages":
				for _, x := range s.Beverages {
					out = append(out, named(x.Code, x.Name))
				}
			case "site.language":
				for _, c := range texts.Languages() {
					out = append(out, form.Option{Value: c.Language(), Name: c.Say("setup.language")})
				}
			default:
				return nil
			}
			return out
		}}
}

func newSectionView(h head, setup models.Setup, s setupSection, i int, doc map[string]any, raw map[string]string, wrong []models.FieldError) sectionView {
	v := sectionView{head: h, Number: i + 1, Name: s.name, Title: h.voice.Say("setup.section." + s.name)}
	if lead := "setup.lead." + s.name; h.voice.Has(lead) {
		v.Lead = h.voice.Say(lead)
	}
	v.head.Title = v.Title + " · " + h.Title
	v.head.Scripts = []string{"setup.js"}
	if v.After, v.Unfinished = stepAfter(setup, i); v.After != "" {
		v.AfterTitle = h.voice.Say("setup.section." + v.After)
	}
	switch s.name {
	case "beverages", "ice", "water":
		v.Caution = h.voice.Say("setup.caution." + s.name)
	}
	w := formConfig(setup, s, h.voice)
	d := labeller{voice: h.voice, texts: setupTexts, more: s.isMore}
	for _, root := range s.roots {
		f := w.Build(reflect.TypeFor[models.Setup](), root, form.At(doc, root), raw, wrong)
		v.Parts = append(v.Parts, d.label(f))
	}
	v.Parts[0].Bare = len(v.Parts) == 1
	v.Wrong = d.wrong
	for _, e := range wrong {
		if !s.shows(e.Pointer) || !slices.ContainsFunc(d.wrong, func(f fieldView) bool { return f.Pointer == e.Pointer || strings.HasPrefix(e.Pointer, f.Pointer+"/") }) {
			v.General = append(v.General, e)
		}
	}
	return v
}

package web

import (
	"encoding/json"
	"errors"
	"maps"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/api/web/form"
	"hotday/api/web/say"
	"hotday/models"
)

// setupView is the set-up as a whole: its steps in order, and what is missing.
type setupView struct {
	head
	Steps    []setupStep
	Missing  int // steps without which there is no plan
	Unmapped int
	Saved    bool
}

type setupStep struct {
	Number            int
	Name, Title, Hold string
	Gaps              []setupGap
}

// sectionView is one step with its fields.
type sectionView struct {
	head
	Number            int
	Name, Title, Lead string
	Caution           string
	Etag              string
	Parts             []fieldView
	General           []models.FieldError // wrong, but not in this step's fields
	Wrong             []fieldView         // the fields that are wrong, to go to
	Saved             bool
	Before, After     string // the neighbouring steps
	AfterTitle        string
	Grown             string // pointer of a row that was just added
}

// fieldView is a field with its words.
type fieldView struct {
	form.Field
	Label, Help string
	Fields      []fieldView // of a group, those always in sight; of rows, the rows
	More        []fieldView // of a group, those under "more"
	Row         string      // a row's pointer
	Open        bool        // a row, or its "more", is unfolded
	Flat        bool        // a row of few fields: all in one line, not folded
	Bare        bool        // rows whose name the page's heading says already
	Add         string      // what the button says that adds a row
}

// setup shows the steps.
func (p *pages) setup(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "setup")
	if !ok {
		return
	}
	unmapped, err := p.Store.Unmapped(c.Request.Context(), setup.Site.Code)
	if err != nil {
		p.trouble(c, err)
		return
	}
	v := setupView{head: h, Unmapped: len(unmapped), Saved: c.Query("saved") != ""}
	gaps := setupGaps(setup, h.voice)
	for i, s := range setupSections {
		step := setupStep{Number: i + 1, Name: s.name, Title: h.voice.Say("setup.section." + s.name), Hold: s.counted(setup, h.voice)}
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
	}
	p.render(c, http.StatusOK, "setup", v)
}

// enterSection lets in who may change the step that the address names; it has answered where not.
func (p *pages) enterSection(c *gin.Context) (h head, setup models.Setup, s setupSection, i int, ok bool) {
	if h, setup, ok = p.enter(c, models.ScopeManage, "setup"); !ok {
		return h, setup, s, 0, false
	}
	if s, i = sectionNamed(c.Param("section")); i < 0 {
		p.trouble(c, models.Errorf(models.CodeNotFound, "The set-up has no step %q.", c.Param("section")))
	}
	return h, setup, s, i, i >= 0
}

// setupSection shows the fields of one step.
func (p *pages) setupSection(c *gin.Context) {
	h, setup, s, i, ok := p.enterSection(c)
	if !ok {
		return
	}
	_, etag, err := p.Store.Setup(c.Request.Context(), setup.Site.Code)
	if err != nil {
		p.trouble(c, err)
		return
	}
	v := sectionOf(h, setup, s, i, asDocument(setup), nil, nil)
	v.Etag, v.Saved = etag, c.Query("saved") != ""
	p.render(c, http.StatusOK, "setupsection", v)
}

// postSetupSection checks, changes the rows of, or saves what was typed into one step. The button that was used says which; with
// ?check=1 only what is wrong is answered, as JSON.
func (p *pages) postSetupSection(c *gin.Context) {
	h, setup, s, i, ok := p.enterSection(c)
	if !ok {
		return
	}
	if err := c.Request.ParseForm(); err != nil {
		p.trouble(c, models.Errorf(models.CodeMalformed, "what was sent cannot be read"))
		return
	}
	typed := c.Request.PostForm
	t := readTyped(setup, s, typed, h.voice)
	changed, wrong := t.checked()
	if c.Query("check") != "" {
		c.JSON(http.StatusOK, gin.H{"errors": append([]models.FieldError{}, wrong...)})
		return
	}
	show := func(status int, wrong []models.FieldError) {
		v := sectionOf(h, setup, s, i, t.doc, t.raw, wrong)
		v.Etag, v.Grown = typed.Get("etag"), t.grown
		p.render(c, status, "setupsection", v)
	}
	if t.shape(typed) {
		show(http.StatusOK, nil)
		return
	}
	if len(wrong) > 0 {
		show(http.StatusUnprocessableEntity, wrong)
		return
	}
	if form.Same(asDocument(changed), asDocument(setup)) {
		p.goOn(c, setup.Site.Code, i)
		return
	}
	if err := p.SaveSetup(c, changed, typed.Get("etag")); err != nil {
		general := models.FieldError{Detail: h.voice.Say("setup.not_saved", "why", err.Error())}
		if models.CodeOf(err) == models.CodePrecondition {
			general.Detail = h.voice.Say("setup.meanwhile")
		}
		show(models.CodeOf(err).Status(), []models.FieldError{general})
		return
	}
	p.goOn(c, setup.Site.Code, i)
}

// goOn stays at a step that is saved, or goes to the one behind it where the button says so.
func (p *pages) goOn(c *gin.Context, site string, i int) {
	to := c.Request.URL.Path + "?saved=1"
	if c.PostForm("go") == "on" {
		to = "/s/" + url.PathEscape(site) + "/setup?saved=1"
		if i+1 < len(setupSections) {
			to = "/s/" + url.PathEscape(site) + "/setup/" + setupSections[i+1].name
		}
	}
	c.Redirect(http.StatusSeeOther, to)
}

// typedSetup is a set-up document into which somebody has typed.
type typedSetup struct {
	doc   map[string]any
	raw   map[string]string
	wrong []models.FieldError // numbers that cannot be read
	grown string
}

func readTyped(stored models.Setup, s setupSection, typed url.Values, v voice) typedSetup {
	t := typedSetup{doc: asDocument(stored), raw: map[string]string{}}
	w := wayOf(stored, s, v)
	for _, root := range s.roots {
		part, raw, wrong := w.Read(reflect.TypeFor[models.Setup](), root, typed, form.At(t.doc, root))
		form.Put(t.doc, root, part)
		maps.Copy(t.raw, raw)
		t.wrong = append(t.wrong, wrong...)
	}
	return t
}

// checked decodes and checks the document as the interface for programs does.
func (t typedSetup) checked() (models.Setup, []models.FieldError) {
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
			if _, unread := t.raw[f.Pointer]; !unread { // said already, in the words of what was typed
				wrong = append(wrong, f)
			}
		}
		if len(e.Fields) == 0 {
			wrong = append(wrong, models.FieldError{Detail: e.Message})
		}
	}
	return setup, wrong
}

// shape adds, copies or removes a row where the button says so.
func (t *typedSetup) shape(typed url.Values) bool {
	switch {
	case typed.Get("add") != "":
		list, isList := form.At(t.doc, typed.Get("add")).([]any)
		if !isList {
			return false
		}
		form.Add(t.doc, typed.Get("add"), map[string]any{})
		t.grown = typed.Get("add") + "/" + strconv.Itoa(len(list))
	case typed.Get("copy") != "":
		form.Copy(t.doc, typed.Get("copy"))
		t.grown = nextTo(typed.Get("copy"))
	case typed.Get("remove") != "":
		form.Remove(t.doc, typed.Get("remove"))
		t.raw = nil // the places of what could not be read have moved
	default:
		return false
	}
	return true
}

func nextTo(pointer string) string {
	at := strings.LastIndexByte(pointer, '/')
	if n, err := strconv.Atoi(pointer[at+1:]); err == nil {
		return pointer[:at+1] + strconv.Itoa(n+1)
	}
	return ""
}

// asDocument is a set-up as JSON has it.
func asDocument(s models.Setup) map[string]any {
	var doc map[string]any
	b, err := json.Marshal(s)
	if err == nil {
		err = json.Unmarshal(b, &doc)
	}
	if err != nil {
		return map[string]any{} // a set-up that was stored can be written
	}
	for _, list := range []string{"coffees", "beverages", "drinks", "brewers"} {
		if doc[list] == nil {
			doc[list] = []any{}
		}
	}
	return doc
}

func wayOf(s models.Setup, section setupSection, v voice) form.Way {
	named := func(code, name string) form.Option { return form.Option{Value: code, Name: nameOr(name, code)} }
	return form.Way{Writer: v.Writer, Currency: s.Site.Currency, Decimals: say.Decimals(s.Site.Currency),
		Skip: section.skips, Keep: setupKept,
		Refs: func(path string) (out []form.Option) {
			switch path {
			case "beverages.coffee", "drinks.doses.coffee":
				for _, x := range s.Coffees {
					out = append(out, named(x.Code, ""))
				}
			case "drinks.uses.beverage", "brewers.beverages":
				for _, x := range s.Beverages {
					out = append(out, named(x.Code, x.Name))
				}
			}
			return out
		}}
}

func sectionOf(h head, setup models.Setup, s setupSection, i int, doc map[string]any, raw map[string]string, wrong []models.FieldError) sectionView {
	v := sectionView{head: h, Number: i + 1, Name: s.name, Title: h.voice.Say("setup.section." + s.name), Lead: h.voice.Say("setup.lead." + s.name)}
	v.head.Title = v.Title + " · " + h.Title
	v.head.Scripts = []string{"setup.js"}
	if i > 0 {
		v.Before = setupSections[i-1].name
	}
	if i+1 < len(setupSections) {
		v.After = setupSections[i+1].name
		v.AfterTitle = h.voice.Say("setup.section." + v.After)
	}
	switch s.name {
	case "beverages", "ice", "water":
		v.Caution = h.voice.Say("setup.caution." + s.name)
	}
	w := wayOf(setup, s, h.voice)
	d := dresser{voice: h.voice, words: setupWords, more: s.isMore}
	for _, root := range s.roots {
		f := w.Make(reflect.TypeFor[models.Setup](), root, form.At(doc, root), raw, wrong)
		v.Parts = append(v.Parts, d.dress(f))
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

// fieldWords are the beginnings of the keys by which a page says its fields.
type fieldWords struct{ field, help, choice, add string }

var setupWords = fieldWords{"setup.field.", "setup.help.", "setup.choice.", "setup.add."}

// dresser gives fields their words.
type dresser struct {
	voice voice
	words fieldWords
	more  func(path string) bool // fields that stand under "more"; nil: none
	wrong []fieldView
}

func (d *dresser) dress(f form.Field) fieldView {
	v := fieldView{Field: f, Label: d.voice.Say(d.words.field + f.Path)}
	if help := d.words.help + f.Path; slices.Contains(d.voice.Keys(), help) {
		v.Help = d.voice.Say(help)
	}
	for i, o := range v.Options {
		if o.Name == "" {
			v.Options[i].Name = d.voice.Say(d.words.choice + f.Path + "." + o.Value)
		}
	}
	before := len(d.wrong)
	switch f.Kind {
	case form.Rows:
		v.Add = d.voice.Say(d.words.add + f.Path)
		for _, row := range f.Fields {
			r := d.dress(row)
			r.Row = row.Pointer
			r.Label = titleOf(row)
			if r.Label == "" {
				r.Label = d.voice.Say("setup.new")
			}
			r.Flat = len(r.More) == 0 && len(r.Fields) <= 6 && !slices.ContainsFunc(r.Fields, func(x fieldView) bool {
				return x.Kind == form.Rows || x.Kind == form.Group || x.Kind == form.Many
			})
			v.Fields = append(v.Fields, r)
		}
	case form.Group:
		for _, x := range f.Fields {
			if d.more != nil && d.more(x.Path) && x.Kind != form.Kept {
				v.More = append(v.More, d.dress(x))
			} else {
				v.Fields = append(v.Fields, d.dress(x))
			}
		}
	}
	v.Open = len(d.wrong) > before
	if len(f.Wrong) > 0 {
		d.wrong = append(d.wrong, v)
	}
	return v
}

// titleOf names a row by what it is called, else by what it says first.
func titleOf(row form.Field) string {
	first := ""
	for _, f := range row.Fields {
		switch {
		case f.Path[strings.LastIndexByte(f.Path, '.')+1:] == "name" && f.Value != "":
			return f.Value
		case first == "" && f.Value != "":
			first = f.Value
		case first == "" && f.Kind == form.Choice:
			for _, o := range f.Options {
				if o.On {
					first = o.Name
				}
			}
		}
	}
	return first
}

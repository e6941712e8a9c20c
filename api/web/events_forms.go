package web

import (
	"encoding/json"
	"errors"
	"maps"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"hotday/api/web/form"
	"hotday/models"
)

// eventForms has the form fields of each kind; one kind is filled in.
type eventForms struct {
	Event     eventForm     `json:"event"`
	Holiday   holidayForm   `json:"holiday"`
	Closed    closedForm    `json:"closed"`
	Outage    outageForm    `json:"outage"`
	Attention attentionForm `json:"attention"`
	OffSale   offSaleForm   `json:"off_sale"`
}

type eventForm struct {
	Name   string    `json:"name"`
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Factor float64   `json:"factor" default:"1"`
}

type holidayForm struct {
	Name   string      `json:"name"`
	From   models.Date `json:"from"`
	To     models.Date `json:"to"` // the last day
	Factor float64     `json:"factor" default:"1"`
}

type closedForm struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
	Name string    `json:"name" opt:"true"`
}

type outageForm struct {
	What string    `json:"what"` // kind and code, separated by a space
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

type attentionForm struct {
	Starts int       `json:"starts"`
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
}

type offSaleForm struct {
	Drink string     `json:"drink"`
	From  time.Time  `json:"from"`
	To    *time.Time `json:"to"`
}

// eventKinds in the order of the page.
var eventKinds = []string{kindEvent, kindHoliday, kindClosed, kindOutage, kindAttention, kindOffSale}

// eventEditor builds and reads the form of one kind.
type eventEditor struct {
	kind  string
	setup models.Setup
	voice voice
	now   time.Time
}

func (k eventEditor) root() string { return "/" + k.kind }

func (k eventEditor) config() form.Config {
	return form.Config{Writer: k.voice.Writer, Zone: k.setup.Site.Location(), References: func(path string) (out []form.Option) {
		switch path {
		case "outage.what":
			for _, e := range equipment(k.setup) {
				out = append(out, form.Option{Value: strings.TrimSpace(e.Kind + " " + e.Code), Name: equipmentName(e.Kind, e.Code, k.voice)})
			}
		case "off_sale.drink":
			for _, d := range k.setup.Drinks {
				out = append(out, form.Option{Value: d.Code, Name: nameOr(d.Name, d.Code)})
			}
		}
		return out
	}}
}

// document returns the form's values for an item, or the defaults if i is nil.
func (k eventEditor) document(i *eventItem) map[string]any {
	var f eventForms
	loc := k.setup.Site.Location()
	if i == nil {
		return k.defaults()
	}
	switch k.kind {
	case kindEvent:
		f.Event = eventForm{Name: i.event.Name, From: i.from, To: i.to, Factor: i.event.Factor}
	case kindHoliday:
		f.Holiday = holidayForm{Name: i.event.Name, From: models.DateOf(i.from, loc), To: models.DateOf(i.to.Add(-time.Nanosecond), loc), Factor: i.event.Factor}
	case kindClosed:
		f.Closed = closedForm{From: i.from, To: i.to, Name: i.event.Name}
	case kindOutage:
		f.Outage = outageForm{What: strings.TrimSpace(i.outage.Kind + " " + i.outage.Code), From: i.from, To: i.to}
	case kindAttention:
		f.Attention = attentionForm{Starts: i.attention.Starts, From: i.from, To: i.to}
	case kindOffSale:
		f.OffSale = offSaleForm{Drink: i.offSale.Drink, From: i.from, To: i.offSale.To}
	}
	return toDocument(f)
}

// defaults suggests a start: opening time on the weekend for events and closures, now for the rest.
func (k eventEditor) defaults() map[string]any {
	site, loc := k.setup.Site, k.setup.Site.Location()
	if k.kind == kindHoliday {
		return map[string]any{}
	}
	from := k.now.In(loc).Truncate(15 * time.Minute)
	if k.kind == kindEvent || k.kind == kindClosed {
		day := nextWeekend(site, k.now)
		from = day.At(0, loc)
		if spans := site.UsualSpans(day); len(spans) > 0 {
			from = spans[0].From
		}
	}
	return map[string]any{k.kind: map[string]any{"from": from.Format(time.RFC3339)}}
}

func toDocument(f eventForms) map[string]any {
	var doc map[string]any
	b, err := json.Marshal(f)
	if err == nil {
		err = json.Unmarshal(b, &doc)
	}
	if err != nil {
		return map[string]any{}
	}
	return doc
}

// eventInput is a submitted form.
type eventInput struct {
	doc   map[string]any
	raw   map[string]string
	wrong []models.FieldError
	rows  models.SiteEvents
	from  time.Time
}

// read parses a submitted form; before is the item being changed, or nil. It checks the order of the times itself, since the API's
// message would show raw timestamps.
func (k eventEditor) read(typed url.Values, before *eventItem) (t eventInput) {
	whole := reflect.TypeFor[eventForms]()
	if at := k.root() + "/factor"; typed.Get(at) != "" {
		if factor, closed, ok := readEffect(typed.Get(at), k.voice); ok && !closed {
			typed = maps.Clone(typed)
			typed.Set(at, strconv.FormatFloat(factor, 'f', -1, 64))
		}
	}
	part, raw, wrong := k.config().Read(whole, k.root(), typed, nil)
	t = eventInput{doc: map[string]any{k.kind: part}, raw: raw, wrong: wrong}
	var f eventForms
	b, err := json.Marshal(part)
	if err == nil {
		err = models.DecodeStrict(b, f.part(k.kind))
	}
	t.addErrors(k.root(), err)
	if len(t.wrong) > 0 {
		t.wrong = inPlainWords(t.wrong, k.config(), k.voice)
		return t
	}
	said, from, to := f.rows(k.kind, k.setup.Site.Location(), before)
	t.rows, t.from = said, from
	if to != nil && !to.After(from) {
		t.wrong = append(t.wrong, models.FieldError{Pointer: k.root() + "/to", Detail: k.voice.Say("known.wrong.order", "from", formatMoment(from, k.voice)), Rule: ruleWorded})
	}
	return t
}

// addErrors adds validation errors under root, except for fields that already have a parse error.
func (t *eventInput) addErrors(root string, err error) {
	var e *models.Error
	if !errors.As(err, &e) {
		return
	}
	for _, f := range e.Fields {
		f.Pointer = root + f.Pointer
		if _, unread := t.raw[f.Pointer]; !unread {
			t.wrong = append(t.wrong, f)
		}
	}
}

func (f *eventForms) part(kind string) any {
	return map[string]any{kindEvent: &f.Event, kindHoliday: &f.Holiday, kindClosed: &f.Closed, kindOutage: &f.Outage, kindAttention: &f.Attention, kindOffSale: &f.OffSale}[kind]
}

// rows returns the rows to store, with their span; to is nil if it is open-ended. Fields that the form does not show are kept from
// before.
func (f *eventForms) rows(kind string, loc *time.Location, before *eventItem) (k models.SiteEvents, from time.Time, to *time.Time) {
	event := func(e models.Event) (models.SiteEvents, time.Time, *time.Time) {
		return models.SiteEvents{Events: []models.Event{e}}, e.From, &e.To
	}
	switch kind {
	case kindEvent:
		x := f.Event
		return event(models.Event{Name: x.Name, From: x.From, To: x.To, Factor: x.Factor})
	case kindHoliday:
		x := f.Holiday
		return event(models.Event{Name: x.Name, From: x.From.At(0, loc), To: x.To.AddDays(1).At(0, loc), Factor: x.Factor, Kind: models.HolidayKind})
	case kindClosed:
		x := f.Closed
		e := models.Event{Name: x.Name, From: x.From, To: x.To, Closed: true, Factor: 1}
		if before != nil && before.event != nil {
			e.Kind, e.Factor = before.event.Kind, before.event.Factor
		}
		return event(e)
	case kindOutage:
		x := f.Outage
		what, code, _ := strings.Cut(x.What, " ")
		return models.SiteEvents{Outages: []models.Outage{{Kind: what, Code: code, From: x.From, To: x.To}}}, x.From, &x.To
	case kindAttention:
		x := f.Attention
		return models.SiteEvents{Attention: []models.Attention{{Starts: x.Starts, From: x.From, To: x.To}}}, x.From, &x.To
	}
	x := f.OffSale
	return models.SiteEvents{OffSale: []models.OffSale{{Drink: x.Drink, From: x.From, To: x.To}}}, x.From, x.To
}

// addServerErrors assigns the errors of a failed save to the form's fields.
func (t *eventInput) addServerErrors(k eventEditor, err error) {
	fields := map[string]string{"code": "what", "kind": "what"}
	var e *models.Error
	if !errors.As(err, &e) || len(e.Fields) == 0 {
		t.wrong = append(t.wrong, models.FieldError{Detail: k.voice.Say("setup.not_saved", "why", trouble(k.voice.Catalogue, err))})
		return
	}
	for _, f := range e.Fields {
		name := f.Pointer[strings.LastIndexByte(f.Pointer, '/')+1:]
		if other, ok := fields[name]; ok && k.kind == kindOutage {
			name = other
		}
		f.Pointer = k.root() + "/" + name
		t.wrong = append(t.wrong, inPlainWords([]models.FieldError{f}, k.config(), k.voice)...)
	}
}

// form builds the labelled fields from submitted or stored values.
func (k eventEditor) form(doc map[string]any, raw map[string]string, wrong []models.FieldError) (fields fieldView, faulty []fieldView, general []models.FieldError) {
	f := k.config().Build(reflect.TypeFor[eventForms](), k.root(), form.At(doc, k.root()), maps.Clone(raw), wrong)
	for i := range f.Fields {
		switch f.Fields[i].Path {
		case "event.factor", "holiday.factor":
			f.Fields[i].Unit = k.voice.Say("known.unit.factor")
		case "attention.starts":
			f.Fields[i].Unit = k.voice.Say("known.unit.starts", "min", k.setup.Site.SlotMin)
		}
	}
	d := labeller{voice: k.voice, texts: eventTexts}
	fields = d.label(f)
	fields.Bare = true
	for _, e := range wrong {
		if !slices.ContainsFunc(d.wrong, func(x fieldView) bool { return x.Pointer == e.Pointer }) {
			general = append(general, e)
		}
	}
	return fields, d.wrong, general
}

var eventTexts = fieldTexts{field: "known.field.", help: "known.help.", choice: "known.choice."}

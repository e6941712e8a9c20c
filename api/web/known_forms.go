package web

import (
	"encoding/json"
	"errors"
	"maps"
	"net/url"
	"reflect"
	"slices"
	"strings"
	"time"

	"hotday/api/web/form"
	"hotday/models"
)

// knownForm has the fields of each kind of what may be said of the days, in the words of a manager; one kind is filled in.
type knownForm struct {
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
	To     models.Date `json:"to"` // its last day
	Factor float64     `json:"factor" default:"1"`
}

type closedForm struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
	Name string    `json:"name" opt:"true"`
}

type outageForm struct {
	What string    `json:"what"` // kind and code, by a space
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

// knownKinds in the order in which the page offers them.
var knownKinds = []string{knownEvent, knownHoliday, knownClosed, knownOutage, knownAttention, knownOffSale}

// knownSheet is a form of one kind at a site.
type knownSheet struct {
	kind  string
	setup models.Setup
	voice voice
	now   time.Time
}

func (k knownSheet) root() string { return "/" + k.kind }

func (k knownSheet) way() form.Way {
	return form.Way{Writer: k.voice.Writer, Zone: k.setup.Site.Location(), Refs: func(path string) (out []form.Option) {
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

// filled is the document of the form of an item, or of nothing said yet.
func (k knownSheet) filled(i *knownItem) map[string]any {
	var f knownForm
	loc := k.setup.Site.Location()
	if i == nil {
		return k.begun()
	}
	switch k.kind {
	case knownEvent:
		f.Event = eventForm{Name: i.event.Name, From: i.from, To: i.to, Factor: i.event.Factor}
	case knownHoliday:
		f.Holiday = holidayForm{Name: i.event.Name, From: models.DateOf(i.from, loc), To: models.DateOf(i.to.Add(-time.Nanosecond), loc), Factor: i.event.Factor}
	case knownClosed:
		f.Closed = closedForm{From: i.from, To: i.to, Name: i.event.Name}
	case knownOutage:
		f.Outage = outageForm{What: strings.TrimSpace(i.outage.Kind + " " + i.outage.Code), From: i.from, To: i.to}
	case knownAttention:
		f.Attention = attentionForm{Starts: i.attention.Starts, From: i.from, To: i.to}
	case knownOffSale:
		f.OffSale = offSaleForm{Drink: i.offSale.Drink, From: i.from, To: i.offSale.To}
	}
	return document(f)
}

// begun suggests when: what is planned for begins with the weekend, what happens begins now.
func (k knownSheet) begun() map[string]any {
	site, loc := k.setup.Site, k.setup.Site.Location()
	if k.kind == knownHoliday {
		return map[string]any{}
	}
	from := k.now.In(loc).Truncate(15 * time.Minute)
	if k.kind == knownEvent || k.kind == knownClosed {
		day := nextWeekend(site, k.now)
		from = day.At(0, loc)
		if spans := site.UsualSpans(day); len(spans) > 0 {
			from = spans[0].From
		}
	}
	return map[string]any{k.kind: map[string]any{"from": from.Format(time.RFC3339)}}
}

func document(f knownForm) map[string]any {
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

// typedKnown is a form into which somebody has typed.
type typedKnown struct {
	doc   map[string]any
	raw   map[string]string
	wrong []models.FieldError
	said  models.Known
}

// read reads what was typed, in place of the item before, which may be nil. The page says itself what is typed in no order, since
// programs say it with instants.
func (k knownSheet) read(typed url.Values, before *knownItem) (t typedKnown) {
	whole := reflect.TypeFor[knownForm]()
	part, raw, wrong := k.way().Read(whole, k.root(), typed, nil)
	t = typedKnown{doc: map[string]any{k.kind: part}, raw: raw, wrong: wrong}
	var f knownForm
	b, err := json.Marshal(part)
	if err == nil {
		err = models.DecodeStrict(b, f.part(k.kind))
	}
	t.add(k.root(), err)
	if len(t.wrong) > 0 {
		return t
	}
	said, from, to := f.said(k.kind, k.setup.Site.Location(), before)
	t.said = said
	if to != nil && !to.After(from) {
		t.wrong = append(t.wrong, models.FieldError{Pointer: k.root() + "/to", Detail: k.voice.Say("known.wrong.order"), Accepted: k.voice.Say("known.wrong.after", "from", momentInWords(from, k.voice))})
	}
	return t
}

// add takes up what is wrong with the document under root, but for what cannot be read and was said in the words of what was typed.
func (t *typedKnown) add(root string, err error) {
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

func (f *knownForm) part(kind string) any {
	return map[string]any{knownEvent: &f.Event, knownHoliday: &f.Holiday, knownClosed: &f.Closed, knownOutage: &f.Outage, knownAttention: &f.Attention, knownOffSale: &f.OffSale}[kind]
}

// said is the form as it is stored, with its span; to is nil where the end is not known. What the form does not show stays as it was.
func (f *knownForm) said(kind string, loc *time.Location, before *knownItem) (k models.Known, from time.Time, to *time.Time) {
	event := func(e models.Event) (models.Known, time.Time, *time.Time) {
		return models.Known{Events: []models.Event{e}}, e.From, &e.To
	}
	switch kind {
	case knownEvent:
		x := f.Event
		return event(models.Event{Name: x.Name, From: x.From, To: x.To, Factor: x.Factor})
	case knownHoliday:
		x := f.Holiday
		return event(models.Event{Name: x.Name, From: x.From.At(0, loc), To: x.To.AddDays(1).At(0, loc), Factor: x.Factor, Kind: models.HolidayKind})
	case knownClosed:
		x := f.Closed
		e := models.Event{Name: x.Name, From: x.From, To: x.To, Closed: true, Factor: 1}
		if before != nil && before.event != nil {
			e.Kind, e.Factor = before.event.Kind, before.event.Factor
		}
		return event(e)
	case knownOutage:
		x := f.Outage
		what, code, _ := strings.Cut(x.What, " ")
		return models.Known{Outages: []models.Outage{{Kind: what, Code: code, From: x.From, To: x.To}}}, x.From, &x.To
	case knownAttention:
		x := f.Attention
		return models.Known{Attention: []models.Attention{{Starts: x.Starts, From: x.From, To: x.To}}}, x.From, &x.To
	}
	x := f.OffSale
	return models.Known{OffSale: []models.OffSale{{Drink: x.Drink, From: x.From, To: x.To}}}, x.From, x.To
}

// refused takes up what the service did not store: each fault at the field that has its name.
func (t *typedKnown) refused(k knownSheet, err error) {
	fields := map[string]string{"code": "what", "kind": "what"}
	var e *models.Error
	if !errors.As(err, &e) || len(e.Fields) == 0 {
		t.wrong = append(t.wrong, models.FieldError{Detail: k.voice.Say("setup.not_saved", "why", err.Error())})
		return
	}
	for _, f := range e.Fields {
		name := f.Pointer[strings.LastIndexByte(f.Pointer, '/')+1:]
		if other, ok := fields[name]; ok && k.kind == knownOutage {
			name = other
		}
		f.Pointer = k.root() + "/" + name
		t.wrong = append(t.wrong, f)
	}
}

// form dresses the fields of what was typed or stored.
func (k knownSheet) form(doc map[string]any, raw map[string]string, wrong []models.FieldError) (fields fieldView, faulty []fieldView, general []models.FieldError) {
	f := k.way().Make(reflect.TypeFor[knownForm](), k.root(), form.At(doc, k.root()), maps.Clone(raw), wrong)
	for i := range f.Fields {
		switch f.Fields[i].Path {
		case "event.factor", "holiday.factor":
			f.Fields[i].Unit = k.voice.Say("known.unit.factor")
		case "attention.starts":
			f.Fields[i].Unit = k.voice.Say("known.unit.starts", "min", k.setup.Site.SlotMin)
		}
	}
	d := dresser{voice: k.voice, words: knownWords}
	fields = d.dress(f)
	fields.Bare = true
	for _, e := range wrong {
		if !slices.ContainsFunc(d.wrong, func(x fieldView) bool { return x.Pointer == e.Pointer }) {
			general = append(general, e)
		}
	}
	return fields, d.wrong, general
}

var knownWords = fieldWords{"known.field.", "known.help.", "known.choice.", "known.add."}

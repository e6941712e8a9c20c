package push

import (
	"bytes"
	"cmp"
	"encoding/json"

	"hotday/models"
	"hotday/planner/say"
)

// Note is what a notification shows, and all that a device is sent. The service worker (api/web/static/kitchen-worker.js) reads it.
type Note struct {
	ID       string `json:"id"` // a later attempt with the same one replaces it
	Lang     string `json:"lang"`
	Title    string `json:"heading"`
	Body     string `json:"body"`
	Page     string `json:"page"`     // to open: kitchen or weekend
	Settings string `json:"settings"` // label of the button that leads to where notifications are turned off
}

// Longest title and body in characters. Encrypted, both fit into recordSize whatever the script.
const (
	maxTitle = 100
	maxBody  = 250
)

func (n Note) encode() ([]byte, error) {
	n.Title, n.Body = models.OneLine(n.Title, maxTitle), models.OneLine(n.Body, maxBody)
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(n)
	return bytes.TrimSpace(b.Bytes()), err
}

// Writer writes notes about one site in its language and units.
type Writer struct {
	id, site string
	code     string
	reader   models.Token // of the person: what they may open
	v        say.Voice
}

// WriterFor returns the writer of a notification.
func WriterFor(id string, setup models.Setup, reader models.Token) Writer {
	return Writer{id, cmp.Or(setup.Site.Name, setup.Site.Code), setup.Site.Code, reader, say.For(setup.Site)}
}

func (w Writer) note(title, body, page string) Note {
	return Note{w.id, w.v.Language(), title, body, page, w.v.Say("push.settings")}
}

// Sheet is the note that a prep sheet is published.
func (w Writer) Sheet(s models.PrepSheet) Note {
	lines, noon := s.Lines(), s.Date.At(12*60, w.v.Location())
	body := ""
	if len(lines) > 0 {
		body = w.v.Say("push.sheet.body", "n", len(lines), "at", w.v.Moment(lines[0].At, noon))
	}
	return w.note(w.v.Say("mail.sheet.title", "day", w.v.Day(noon), "site", w.site), body, "kitchen")
}

// Warnings is the note about warnings, of which there is at least one, the most urgent first.
func (w Writer) Warnings(list []models.OpenWarning) Note {
	first := list[0].Warning
	body := w.v.WarningSentence(first)
	if len(list) > 1 {
		body = w.v.Say("push.warnings.body", "warning", body, "n", len(list)-1)
	}
	page := "kitchen"
	if w.reader.May(models.ScopeManage, w.code) {
		page = "weekend"
	}
	return w.note(w.v.Say("push.warning.title", "grade", w.v.WarningGrade(first.Grade), "site", w.site), body, page)
}

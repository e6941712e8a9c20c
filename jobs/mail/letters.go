package mail

import (
	"bytes"
	"cmp"
	"net/url"

	"hotday/models"
	"hotday/planner/paper"
	"hotday/planner/say"
	"hotday/planner/sheet"
)

// Writer writes the letters to one person about one site.
type Writer struct {
	server *Server
	mail   models.Mail
	setup  models.Setup
	reader models.Token // of the person: what they may open
	stop   string       // token of the link that ends messages of this kind
	v      say.Voice
}

// WriterFor returns the writer of a message, in the language and units of its site.
func (s *Server) WriterFor(m models.Mail, setup models.Setup, reader models.Token, stop string) Writer {
	return Writer{server: s, mail: m, setup: setup, reader: reader, stop: stop, v: say.For(setup.Site)}
}

func (w Writer) site() string { return oneLine(cmp.Or(w.setup.Site.Name, w.setup.Site.Code)) }

// letter finishes a page: its links, the reason for getting it, and the link to stop.
func (w Writer) letter(subject string, p page) (Letter, error) {
	p.Lang = w.v.Language()
	l := Letter{ID: w.mail.ID, Date: w.mail.CreatedAt.In(w.v.Location()), To: w.mail.Address, Subject: subject}
	if w.stop != "" {
		l.StopURL = w.server.publicURL + "/mail/stop?token=" + url.QueryEscape(w.stop)
		p.Foot = append(p.Foot, w.v.Say("mail.foot."+w.mail.Kind, "site", w.site()))
		p.Stop = &link{w.v.Say("mail.stop"), l.StopURL}
	}
	l.Text = p.text()
	var err error
	l.HTML, err = p.html()
	return l, err
}

// to adds a link to a page of the site if the person may open it.
func (w Writer) to(p *page, name, scope, text string) bool {
	if !w.reader.May(scope, w.setup.Site.Code) {
		return false
	}
	p.Links = append(p.Links, link{w.v.Say(text), w.server.publicURL + "/s/" + url.PathEscape(w.setup.Site.Code) + "/" + name})
	return true
}

// Sheet is the letter with a published prep sheet, as text and as PDF. plan is the sheet's; with a zero one the PDF has no chart.
func (w Writer) Sheet(s models.PrepSheet, plan models.Plan) (Letter, error) {
	noon := s.Date.At(12*60, w.v.Location())
	day := w.v.Day(noon)
	p := page{Title: w.v.Say("mail.sheet.title", "day", day, "site", w.site())}
	var written bytes.Buffer
	if err := sheet.WriteSheetText(&written, w.setup.Site, s); err != nil {
		return Letter{}, err
	}
	p.Written = written.String()
	for _, c := range s.Changes {
		p.Blocks = append(p.Blocks, block{Text: w.v.Say("text.changed") + c})
	}
	said := map[string]bool{}
	for _, t := range s.Lines() {
		b := block{At: w.v.Moment(t.At, noon), Text: t.Say}
		if t.Caution != "" && !said[t.Caution] { // each once, as on the sheet
			said[t.Caution] = true
			b.Notes = append(b.Notes, t.Caution)
		}
		p.Blocks = append(p.Blocks, b)
	}
	for _, c := range s.Cautions {
		p.Blocks = append(p.Blocks, block{Text: c})
	}
	w.to(&p, "kitchen", models.ScopeRead, "mail.to.kitchen")
	pdf, err := paper.PrepSheet(w.setup, s, plan, paper.SizeFor(w.setup.Site.Language))
	if err != nil {
		return Letter{}, err
	}
	l, err := w.letter(p.Title, p)
	l.Files = []File{{Name: "prep-sheet-" + string(s.Date) + ".pdf", Type: "application/pdf", Data: pdf}}
	return l, err
}

const fixesWritten = 3 // of a warning

// Warnings is the letter about warnings, of which there is at least one, the most urgent first.
func (w Writer) Warnings(list []models.OpenWarning) (Letter, error) {
	first := list[0].Warning
	subject := w.v.Say("mail.warning.subject", "grade", w.v.WarningGrade(first.Grade), "warning", w.v.WarningSentence(first), "site", w.site())
	if len(list) > 1 {
		subject = w.v.Say("mail.warnings.subject", "grade", w.v.WarningGrade(first.Grade), "warning", w.v.WarningSentence(first), "n", len(list)-1, "site", w.site())
	}
	p := page{Title: w.v.Say("mail.warnings.title", "site", w.site(), "at", w.v.At(w.mail.CreatedAt))}
	for _, x := range list {
		b := block{Lead: w.v.WarningGrade(x.Grade) + ":", Text: x.Cause}
		if !say.CauseSaysWhen(x.Kind) {
			b.Text = w.v.WarningSentence(x.Warning) + ". " + x.Cause
		}
		for i, f := range x.Fixes {
			if i < fixesWritten {
				b.Notes = append(b.Notes, f.Action)
			}
		}
		p.Blocks = append(p.Blocks, b)
	}
	if !w.to(&p, "weekend", models.ScopeManage, "mail.to.weekend") {
		w.to(&p, "kitchen", models.ScopeRead, "mail.to.kitchen")
	}
	return w.letter(subject, p)
}

// Confirmation is the letter with the link that confirms an address.
func (w Writer) Confirmation() (Letter, error) {
	p := page{Title: w.v.Say("mail.confirm.title"), Foot: []string{w.v.Say("mail.confirm.foot")}}
	p.Blocks = []block{{Text: w.v.Say("mail.confirm.why", "site", w.site())}, {Text: w.v.Say("mail.confirm.until", "n", int(models.LinkTime.Hours()/24))}}
	p.Links = []link{{w.v.Say("mail.confirm.do"), w.server.publicURL + "/mail/confirm?code=" + url.QueryEscape(w.mail.About)}}
	return w.letter(p.Title, p)
}

package web

import (
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// notifyLine is a shop on the account page, whose notifications this device may show.
type notifyLine struct {
	Site, Name string
	Kinds      string // what its devices show; "": nothing
	Devices    string // IDs of the person's devices that show it, for the script
}

// deviceLine is a device that shows notifications.
type deviceLine struct{ ID, Name, Where, Since string }

func deviceLines(v voice, p *pages, list []models.PushDevice, names map[string]string) (out []deviceLine) {
	for _, d := range list {
		since := v.Say("people.push.never", "since", v.Near(d.CreatedAt, p.Now()))
		if d.SentAt != nil {
			since = v.Say("people.push.last", "at", v.Near(*d.SentAt, p.Now()))
		}
		out = append(out, deviceLine{d.ID, browserName(d.Browser, v), names[d.Site], since})
	}
	return out
}

// loadNotify reads what a person's devices show of each shop.
func (v *accountView) loadNotify(c *gin.Context, p *pages, person string, sites []models.SiteSummary) error {
	ctx := c.Request.Context()
	set, err := p.Store.PushSettings(ctx, person)
	if err != nil {
		return err
	}
	if v.PushKey, _, err = p.Store.PushKey(ctx, p.Now()); err != nil {
		return err
	}
	names := map[string]string{}
	for _, s := range sites {
		names[s.Code] = s.Title()
		line := notifyLine{Site: s.Code, Name: s.Title()}
		var kinds []string
		for _, k := range set.Kinds(s.Code) {
			kinds = append(kinds, v.voice.Say("people.mail.kind."+k))
		}
		line.Kinds = strings.Join(kinds, " · ")
		var ids []string
		for _, d := range set.Devices {
			if d.Site == s.Code {
				ids = append(ids, d.ID)
			}
		}
		line.Devices = strings.Join(ids, " ")
		v.Notify = append(v.Notify, line)
	}
	for _, d := range set.Devices {
		if names[d.Site] == "" {
			names[d.Site] = d.Site
			of, err := p.Store.SiteList(ctx, models.SiteFilter{Sites: []string{d.Site}}, models.Page{Limit: 1})
			if err != nil {
				return err
			}
			for _, x := range of.Rows {
				names[d.Site] = x.Title()
			}
		}
	}
	v.Devices = deviceLines(v.voice, p, set.Devices, names)
	return nil
}

// pushLine is a person's notifications on the access page.
type pushLine struct {
	State   string // "": none has been turned on
	Kinds   []box  // what their devices show of this site
	Devices []deviceLine
	Log     []deliveryLine
}

func (v *peopleView) pushLine(c *gin.Context, p *pages, x models.Person) (*pushLine, error) {
	say := v.voice.Say
	set, err := p.Store.PushSettings(c.Request.Context(), x.ID)
	if err != nil {
		return nil, err
	}
	here := slices.DeleteFunc(set.Devices, func(d models.PushDevice) bool { return d.Site != v.Site })
	out := &pushLine{Devices: deviceLines(v.voice, p, here, nil)}
	if len(here) > 0 {
		out.State = say("people.push.devices", "n", len(here))
	}
	out.Kinds = v.kindBoxes(models.PushKinds, set.Kinds(v.Site))
	log, err := p.Store.PushLog(c.Request.Context(), x.ID, models.Page{Limit: deliveriesShown})
	for _, m := range log.Rows {
		answer := m.Answer
		if m.Status >= 300 {
			answer = v.answered(m.Status, answer)
		}
		out.Log = append(out.Log, deliveryLine{ID: m.ID, Event: say("people.mail.kind." + m.Kind), At: v.voice.Near(m.CreatedAt, p.Now()), State: say("people.delivery." + m.State), Answer: answer})
	}
	return out, err
}

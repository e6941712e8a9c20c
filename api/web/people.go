package web

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// Access manages people with their e-mail and notifications, screens, keys, sessions and webhooks, and deletes shops. Every method checks the caller's reach and writes the activity log.
type Access interface {
	SignInWithPassword(c *gin.Context, name, password string) error
	PairScreen(c *gin.Context, code string, screen models.Screen) (models.Screen, error)
	ChangeScreen(c *gin.Context, screen models.Screen) error
	RevokeScreen(c *gin.Context, id string) error
	AddPerson(c *gin.Context, p models.Person) (kept models.Person, link string, err error)
	ChangePerson(c *gin.Context, p models.Person) error
	RemovePerson(c *gin.Context, id string) error
	ErasePerson(c *gin.Context, id, confirm string) error
	DeleteSite(c *gin.Context, site, confirm string) error
	SaveGroup(c *gin.Context, g models.Group) error
	DropGroup(c *gin.Context, code string) error
	NewPasswordLink(c *gin.Context, id string) (link string, err error)
	PersonByLink(c *gin.Context, code string) (models.Person, error)
	ChangeMail(c *gin.Context, set models.MailSettings) error
	ResendConfirmation(c *gin.Context, person string) error
	MailByCode(c *gin.Context, code string) (models.MailSettings, error)
	ConfirmMail(c *gin.Context, code string) (models.MailSettings, error)
	MailStop(c *gin.Context, token string) (models.MailStop, error)
	StopMail(c *gin.Context, token string, all bool) error
	ChoosePassword(c *gin.Context, code, password string) (models.Person, error)
	ChangePassword(c *gin.Context, old, password string) error
	CreateToken(c *gin.Context, t models.Token) (kept models.Token, secret string, err error)
	RevokeToken(c *gin.Context, id string) error
	Sessions(c *gin.Context) ([]models.Session, error)
	EndSession(c *gin.Context, id string) error
	CreateCalendarKey(c *gin.Context, site string) (path string, err error)
	RemoveCalendarKey(c *gin.Context, site string) error
	AddWebhook(c *gin.Context, w models.Webhook) (kept models.Webhook, secret string, err error)
	RemoveWebhook(c *gin.Context, id string) error
	ChangePush(c *gin.Context, person string, list []models.MailSubscription) error
	RemovePushDevice(c *gin.Context, id string) error
	ReplayDelivery(c *gin.Context, webhook, delivery string) error
}

// peopleView is the access page: people, screens, access keys, sessions, webhooks and the activity log.
type peopleView struct {
	head
	Host     string
	WholeOrg bool // the caller may grant access to all sites
	MailOn   bool // a mail server is set up
	Stations []string
	Screens  []screenLine
	People   []personLine
	Keys     []keyLine
	Groups   []groupLine // those that the caller may choose
	Sessions []sessionLine
	Webhooks []webhookLine
	Calendar string // creation and use of the calendar key; "": there is none
	Audit    []auditLine
	Result   formResult
	Form     url.Values // submitted values of an invalid form
}

// formResult is the result of a form, shown in its section: errors, or a secret that is shown once.
type formResult struct {
	Section string
	Wrong   []string
	Done    string
	Once    string // the secret, to be copied
	Erasing string // ID of the person whose form to erase them has errors
}

// In reports whether the result belongs to a section.
func (o formResult) In(section string) bool { return o.Section == section }

type screenLine struct {
	ID, Name, Stations, Seen, Paired string
	Boxes                            []box // stations, for the change form
}
type personLine struct {
	ID, Name, SignIn, May, Where, State string
	Rights                              rights    // current scopes, for the change form
	Mail                                *mailLine // nil: no mail server
	Push                                *pushLine
}
type groupLine struct {
	Code, Name, Count string
	Sites             string // codes, where the caller may change them
}
type keyLine struct {
	ID, Name, May, Where, Used string
	Sandbox                    bool
}
type sessionLine struct {
	ID, Name, Browser, Address, Seen string
	Current                          bool
}
type webhookLine struct {
	ID, URL, Events, Where string
	Deliveries             []deliveryLine
}
type deliveryLine struct {
	ID, Event, At, State, Answer string
	Finished                     bool
}
type auditLine struct{ At, By, What string }

const (
	deliveriesShown = 5
	auditShown      = 30
)

// section is the section of a form: the first word of its name.
func section(form string) string {
	name, _, _ := strings.Cut(form, "-")
	return name
}

func (p *pages) people(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "people")
	if !ok {
		return
	}
	p.renderPeople(c, http.StatusOK, h, setup, formResult{}, nil)
}

// postPeople handles the page's forms. Unless there is a secret to show, it redirects to the section, so that a reload does not repeat
// the action.
func (p *pages) postPeople(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "people")
	if !ok {
		return
	}
	form, site := c.Param("form"), setup.Site.Code
	out := formResult{Section: section(form)}
	id := c.PostForm("id")
	chosen, groups := chosenReach(c, site)
	var err error
	switch form {
	case "screens-pair":
		_, err = p.Access.PairScreen(c, c.PostForm("code"), models.Screen{Name: strings.TrimSpace(c.PostForm("name")), Site: site, Stations: c.PostFormArray("station")})
	case "screens-change":
		err = p.Access.ChangeScreen(c, models.Screen{ID: id, Name: strings.TrimSpace(c.PostForm("name")), Stations: c.PostFormArray("station")})
	case "screens-end":
		err = p.Access.RevokeScreen(c, id)
	case "accounts-add":
		var person models.Person
		var link string
		person, link, err = p.Access.AddPerson(c, models.Person{Name: strings.TrimSpace(c.PostForm("name")), SignIn: c.PostForm("sign_in"),
			Scopes: c.PostFormArray("scope"), Site: chosen, Groups: groups})
		out.Done, out.Once = h.voice.Say("people.once.link", "name", person.Name, "n", int(models.LinkTime.Hours()/24)), p.Origin(c)+link
	case "accounts-change":
		err = p.Access.ChangePerson(c, models.Person{ID: id, Name: strings.TrimSpace(c.PostForm("name")), Scopes: c.PostFormArray("scope"), Site: chosen, Groups: groups})
	case "accounts-link":
		var link string
		link, err = p.Access.NewPasswordLink(c, id)
		out.Done, out.Once = h.voice.Say("people.once.new_link", "n", int(models.LinkTime.Hours()/24)), p.Origin(c)+link
	case "accounts-mail":
		err = p.Access.ChangeMail(c, models.MailSettings{Person: id, Address: strings.TrimSpace(c.PostForm("address")),
			Subscriptions: []models.MailSubscription{{Site: site, Kinds: models.SortedMailKinds(c.PostFormArray("kind"))}}})
	case "accounts-push":
		err = p.Access.ChangePush(c, id, []models.MailSubscription{{Site: site, Kinds: models.SortedPushKinds(c.PostFormArray("kind"))}})
	case "accounts-device":
		err = p.Access.RemovePushDevice(c, id)
	case "accounts-confirm":
		err = p.Access.ResendConfirmation(c, id)
	case "accounts-end":
		err = p.Access.RemovePerson(c, id)
	case "accounts-erase":
		err = p.Access.ErasePerson(c, id, strings.TrimSpace(c.PostForm("erase")))
	case "keys-add":
		var token models.Token
		token, out.Once, err = p.Access.CreateToken(c, models.Token{Name: strings.TrimSpace(c.PostForm("name")), Scopes: models.SortedScopes(c.PostFormArray("scope")), Site: chosen, Groups: groups, Sandbox: c.PostForm("sandbox") != ""})
		out.Done = h.voice.Say("people.once.key", "name", token.Name)
	case "keys-end":
		err = p.Access.RevokeToken(c, id)
	case "groups-save":
		err = p.Access.SaveGroup(c, models.Group{Code: cmp.Or(id, strings.TrimSpace(c.PostForm("code"))), Name: strings.TrimSpace(c.PostForm("name")), Sites: typedCodes(c.PostForm("sites"))})
	case "groups-end":
		err = p.Access.DropGroup(c, id)
	case "sessions-end":
		err = p.Access.EndSession(c, id)
	case "calendar-make":
		out.Once, err = p.Access.CreateCalendarKey(c, site)
		out.Done, out.Once = h.voice.Say("people.once.calendar"), p.Origin(c)+out.Once
	case "calendar-end":
		err = p.Access.RemoveCalendarKey(c, site)
	case "webhooks-add":
		_, out.Once, err = p.Access.AddWebhook(c, models.Webhook{URL: strings.TrimSpace(c.PostForm("url")), Events: c.PostFormArray("event"), Site: chosen})
		out.Done = h.voice.Say("people.once.webhook")
	case "webhooks-replay":
		err = p.Access.ReplayDelivery(c, id, c.PostForm("delivery"))
	case "webhooks-end":
		err = p.Access.RemoveWebhook(c, id)
	default:
		err = models.Errorf(models.CodeNotFound, "there is no such page")
	}
	switch models.CodeOf(err) {
	case "":
	case models.CodeInternal, models.CodeUnauthorised, models.CodeForbidden:
		p.renderError(c, err)
		return
	default:
		var typed url.Values
		erasing := ""
		if form == "accounts-erase" {
			erasing = id
		}
		if strings.HasSuffix(form, "-add") || strings.HasSuffix(form, "-pair") || (form == "groups-save" && id == "") {
			typed = c.Request.PostForm
		}
		wrong := troubles(h.voice.Catalogue, err)
		if form == "groups-end" && models.CodeOf(err) == models.CodeConflict {
			wrong = []string{h.voice.Say("people.groups.named")}
		}
		p.renderPeople(c, models.CodeOf(err).Status(), h, setup, formResult{Section: out.Section, Wrong: wrong, Erasing: erasing}, typed)
		return
	}
	if out.Once != "" {
		p.renderPeople(c, http.StatusOK, h, setup, out, nil)
		return
	}
	c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(site)+"/people#"+out.Section)
}

// chosenReach are the site and groups chosen in a form: this site, "" for all, or groups. Access checks whether the caller may choose them.
func chosenReach(c *gin.Context, site string) (string, []string) {
	switch c.PostForm("where") {
	case "all":
		return "", nil
	case "groups":
		if groups := c.PostFormArray("group"); len(groups) > 0 {
			return "", groups
		}
		return "", []string{""} // no group is called so: at least one must be chosen
	}
	return site, nil
}

// typedCodes are the codes in a text, separated by spaces, commas or lines.
func typedCodes(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return unicode.IsSpace(r) || r == ',' || r == ';' })
}

// answered is how another program answered an attempt: its status and the beginning of what it said.
func (v *peopleView) answered(status int, answer string) string {
	return strings.TrimSpace(v.voice.Say("people.webhooks.status", "status", status) + " " + truncate(answer, 120))
}

func (p *pages) renderPeople(c *gin.Context, status int, h head, setup models.Setup, o formResult, form url.Values) {
	token, _ := p.Current(c)
	v := peopleView{head: h, Host: c.Request.Host, WholeOrg: token.Everywhere(), MailOn: p.Mail, Stations: stations(setup), Result: o, Form: form}
	if err := v.load(c, p, setup.Site.Code); err != nil {
		p.renderError(c, err)
		return
	}
	p.render(c, status, "people", v)
}

// Typed is the submitted value of a field, for the template.
func (v peopleView) Typed(section, field string) string {
	if !v.Result.In(section) {
		return ""
	}
	return v.Form.Get(field)
}

// Ticked reports whether a box was ticked in the submitted form; preset if there is none.
func (v peopleView) Ticked(section, field, value string, preset bool) bool {
	if !v.Result.In(section) || v.Form == nil {
		return preset
	}
	return slices.Contains(v.Form[field], value)
}

func stations(setup models.Setup) (out []string) {
	for _, b := range setup.Brewers {
		out = append(out, b.Code)
	}
	for _, m := range setup.Ice.Makers {
		out = append(out, m.Code)
	}
	for _, m := range setup.Ice.Moulds {
		out = append(out, m.Code)
	}
	return append(out, "water", "beans", "cold store")
}

// load reads the entries of the site, and of the organisation if the caller reaches all sites.
func (v *peopleView) load(c *gin.Context, p *pages, site string) error {
	ctx, now, say := c.Request.Context(), p.Now(), v.voice.Say
	caller, _ := p.Current(c)
	here := func(of string, groups ...string) bool { return (of == site || of == "") && caller.Reaches(of, groups) }
	if err := v.loadGroups(c, p, caller); err != nil {
		return err
	}
	when := func(t *time.Time, never string) string {
		if t == nil {
			return say(never)
		}
		return v.voice.Near(*t, now)
	}
	whereOf := func(of string, groups ...string) string {
		var out []string
		if of != "" {
			out = append(out, v.SiteName)
		}
		for _, code := range groups {
			out = append(out, v.groupName(code))
		}
		return cmp.Or(strings.Join(out, ", "), say("people.where.all"))
	}
	may := func(scopes []string) string {
		var out []string
		for _, s := range scopes {
			out = append(out, say("people.scope."+s))
		}
		return strings.Join(out, ", ")
	}
	screens, err := p.Store.Screens(ctx)
	if err != nil {
		return err
	}
	for _, s := range screens {
		if s.RevokedAt == nil && here(s.Site) {
			shows := say("kitchen.all_stations")
			if len(s.Stations) > 0 {
				shows = strings.Join(s.Stations, ", ")
			}
			v.Screens = append(v.Screens, screenLine{s.ID, s.Name, shows, when(s.SeenAt, "people.never.used"), v.voice.Near(s.PairedAt, now) + ", " + s.PairedBy, boxes(v.Stations, s.Stations)})
		}
	}
	people, err := p.Store.People(ctx)
	if err != nil {
		return err
	}
	for _, x := range people {
		if !here(x.Site, x.Groups...) {
			continue
		}
		state := say("people.never.signed_in")
		switch {
		case x.LinkUntil != nil && x.LinkUntil.After(now):
			state = say("people.link.open", "until", v.voice.Near(*x.LinkUntil, now))
		case x.SignedInAt != nil:
			state = say("people.accounts.signed_in", "at", v.voice.Near(*x.SignedInAt, now))
		case !x.Ready:
			state = say("people.link.over")
		}
		line := personLine{x.ID, x.Name, x.SignIn, may(x.Scopes), whereOf(x.Site, x.Groups...), state, v.scopeBoxes(x), nil, nil}
		if v.MailOn {
			if line.Mail, err = v.mailLine(c, p, x); err != nil {
				return err
			}
		}
		if line.Push, err = v.pushLine(c, p, x); err != nil {
			return err
		}
		v.People = append(v.People, line)
	}
	keys, err := p.Store.Tokens(ctx)
	if err != nil {
		return err
	}
	for _, k := range keys {
		if k.Kind == models.TokenKey && k.RevokedAt == nil && here(k.Site, k.Groups...) {
			v.Keys = append(v.Keys, keyLine{k.ID, cmp.Or(k.Name, say("people.nameless")), may(k.Scopes), whereOf(k.Site, k.Groups...), when(k.UsedAt, "people.never.used"), k.Sandbox})
		}
	}
	if err := v.loadSessions(c, p); err != nil {
		return err
	}
	switch k, err := p.Store.CalendarKey(ctx, site); {
	case err == nil:
		v.Calendar = say("people.calendar.since", "made", v.voice.Near(k.MadeAt, now), "by", k.MadeBy, "used", when(k.UsedAt, "people.never.used"))
	case models.CodeOf(err) != models.CodeNotFound:
		return err
	}
	hooks, err := p.Store.Webhooks(ctx)
	if err != nil {
		return err
	}
	for _, w := range hooks {
		if !here(w.Site) {
			continue
		}
		line := webhookLine{ID: w.ID, URL: w.URL, Events: v.events(w.Events), Where: whereOf(w.Site)}
		deliveries, err := p.Store.Deliveries(ctx, w.ID, models.Page{Limit: deliveriesShown})
		if err != nil {
			return err
		}
		for _, d := range deliveries.Rows {
			answer := d.Answer
			if d.Status > 0 {
				answer = v.answered(d.Status, answer)
			}
			line.Deliveries = append(line.Deliveries, deliveryLine{d.ID, say("people.event." + d.Event), v.voice.Near(d.CreatedAt, now), say("people.delivery." + d.State), answer,
				d.State != models.DeliveryWaiting})
		}
		v.Webhooks = append(v.Webhooks, line)
	}
	of := []string{site}
	if v.WholeOrg {
		of = nil
	}
	entries, err := p.Store.Audit(ctx, of, models.Page{Limit: auditShown})
	for _, e := range entries.Rows {
		v.Audit = append(v.Audit, auditLine{v.voice.Near(e.At, now), cmp.Or(e.By, say("people.nameless")), say("people.did."+e.Action, "subject", e.Subject)})
	}
	return err
}

func (v *peopleView) loadSessions(c *gin.Context, p *pages) error {
	list, err := p.Access.Sessions(c)
	v.Sessions = sessionLines(list, v.voice, p.Now())
	return err
}

func sessionLines(list []models.Session, v voice, now time.Time) (out []sessionLine) {
	for _, s := range list {
		out = append(out, sessionLine{s.ID, cmp.Or(s.Name, v.Say("people.nameless")), browserName(s.Browser, v), s.Address, v.Near(s.SeenAt, now), s.Current})
	}
	return out
}

func (v *peopleView) events(list []string) string {
	var out []string
	for _, e := range list {
		out = append(out, v.voice.Say("people.event."+e))
	}
	return strings.Join(out, ", ")
}

// truncate shortens a text to n characters and adds "…".
func truncate(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n]) + "…"
	}
	return s
}

// Part is the result of a section's form.
func (v peopleView) Part(section string) formResult {
	if v.Result.In(section) {
		return v.Result
	}
	return formResult{}
}

// Wrong reports whether a section's form has errors.
func (v peopleView) Wrong(section string) bool { return len(v.Part(section).Wrong) > 0 }

type endConfirmation struct{ Site, CSRF, Form, ID, Name, Label string }

// End returns the data of a two-step button to remove or revoke something.
func (v peopleView) End(form, id, name, label string) endConfirmation {
	return endConfirmation{v.Site, v.CSRF, form, id, name, label}
}

// box is a checkbox.
type box struct {
	Value, Label string
	On           bool
}

type rights struct {
	Scopes   []box
	SiteName string
	WholeOrg bool
	All      bool
	Groups   []box // that may be chosen instead of the site
	InGroups bool  // they are chosen
}

func boxes(all, on []string) (out []box) {
	for _, s := range all {
		out = append(out, box{s, s, slices.Contains(on, s)})
	}
	return out
}

func (v peopleView) scopeBoxes(p models.Person) rights {
	r := rights{SiteName: v.SiteName, WholeOrg: v.WholeOrg, All: p.Site == "" && len(p.Groups) == 0, InGroups: len(p.Groups) > 0}
	for _, s := range allScopes {
		r.Scopes = append(r.Scopes, box{s, v.voice.Say("people.scope." + s), slices.Contains(p.Scopes, s)})
	}
	for _, g := range v.Groups {
		r.Groups = append(r.Groups, box{g.Code, g.Name, slices.Contains(p.Groups, g.Code)})
	}
	return r
}

var allScopes = []string{models.ScopeManage, models.ScopeKitchen, models.ScopeSales, models.ScopeRead}

// Rights are the scope checkboxes of a section's form.
func (v peopleView) Rights(section string) rights {
	r := rights{SiteName: v.SiteName, WholeOrg: v.WholeOrg, All: v.Typed(section, "where") == "all", InGroups: v.Typed(section, "where") == "groups"}
	if section != "webhooks" {
		for _, g := range v.Groups {
			r.Groups = append(r.Groups, box{g.Code, g.Name, v.Ticked(section, "group", g.Code, false)})
		}
	}
	for _, s := range allScopes {
		preset := section == "accounts" && s == models.ScopeKitchen
		r.Scopes = append(r.Scopes, box{s, v.voice.Say("people.scope." + s), v.Ticked(section, "scope", s, preset)})
	}
	return r
}

// Events are the webhook event checkboxes.
func (v peopleView) Events() (out []box) {
	for _, e := range models.HookEvents {
		out = append(out, box{Value: e, Label: v.voice.Say("people.event." + e)})
	}
	return out
}

// ScreenAddress is the address to open on a new screen.
func (v peopleView) ScreenAddress() string { return v.Host + "/screen" }

package jobs

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/jobs/mail"
	"hotday/jobs/mail/mailtest"
	"hotday/models"
	"hotday/planner/facts"
)

// postbox is a shop with a mail server, whose reader gets every kind of message.
type postbox struct {
	*shop
	server *mailtest.Server
	person models.Person
}

func newPostbox(t *testing.T, now string, change ...func(*models.Setup)) *postbox {
	t.Helper()
	p := &postbox{shop: newShop(t, now), server: mailtest.Start(t, mailtest.Options{})}
	var err error
	p.Mail, err = mail.NewServer(mail.Settings{Server: p.server.Addr, Roots: p.server.Roots, From: "Hotday <hotday@example.com>", PublicURL: "https://hotday.example.com"})
	require.NoError(t, err)
	setup, etag, err := p.Store.Setup(t.Context(), p.site)
	require.NoError(t, err)
	for _, f := range change {
		f(&setup)
	}
	_, _, err = p.Store.PutSetup(t.Context(), setup, etag, p.now)
	require.NoError(t, err)
	gather := p.Gather
	p.Gather = func(ctx context.Context, s models.Store, q facts.GatherQuery) (models.PlanRequest, error) {
		r, err := gather(ctx, s, q)
		r.Setup = setup
		return r, err
	}
	p.person, _, err = p.Store.AddPerson(t.Context(), models.Person{Name: "Ada", SignIn: "ada", Scopes: []string{models.ScopeManage}, Site: p.site}, p.now)
	require.NoError(t, err)
	p.put(models.MailKinds...)
	require.NoError(t, p.Store.QueueConfirmation(t.Context(), p.person.ID, p.now))
	return p
}

func (p *postbox) put(kinds ...string) {
	p.t.Helper()
	_, err := p.Store.PutMailSettings(p.t.Context(), models.MailSettings{Person: p.person.ID, Address: "ada@example.com", Subscriptions: []models.MailSubscription{{Site: p.site, Kinds: kinds}}})
	require.NoError(p.t, err)
}

// confirm sends the confirmation and follows its link.
func (p *postbox) confirm() {
	p.t.Helper()
	m := p.sent()
	require.Equal(p.t, models.DeliveryDelivered, p.log()[0].State, p.log()[0].Answer)
	_, code, found := strings.Cut(m.Text(), "https://hotday.example.com/mail/confirm?code=")
	require.True(p.t, found, m.Text())
	code, _, _ = strings.Cut(code, "\n")
	_, changed, err := p.Store.ConfirmMail(p.t.Context(), code, p.now)
	require.NoError(p.t, err)
	require.True(p.t, changed)
}

func (p *postbox) log() []models.Mail {
	p.t.Helper()
	rows, err := p.Store.MailLog(p.t.Context(), p.person.ID, models.Page{})
	require.NoError(p.t, err)
	return rows.Rows
}

// attempt makes an attempt at every waiting message.
func (p *postbox) attempt() {
	p.t.Helper()
	for _, m := range p.log() {
		effect, err := p.sendMail(p.t.Context(), models.Job{Kind: models.JobMail, Key: m.ID + "/0"})
		require.NoError(p.t, err)
		if effect != nil {
			require.NoError(p.t, p.Store.Within(p.t.Context(), effect))
		}
	}
}

// sent sends what waits and returns the one message that arrives.
func (p *postbox) sent() mailtest.Parsed {
	p.t.Helper()
	before := len(p.server.Messages())
	p.attempt()
	got := p.server.Messages()
	require.Len(p.t, got, before+1, "%+v", p.log())
	require.Equal(p.t, []string{"ada@example.com"}, got[before].To)
	return got[before].Parse(p.t)
}

// silent sends what waits, of which nothing may arrive.
func (p *postbox) silent() {
	p.t.Helper()
	before := len(p.server.Messages())
	p.attempt()
	require.Len(p.t, p.server.Messages(), before)
}

func TestTheEveningsSheetGoesOutOnceAsTextAndPDF(t *testing.T) {
	t.Parallel()
	p := newPostbox(t, "2026-07-08T18:00:00+02:00")
	p.batches = []models.BatchTask{batch(p.now.Add(14*time.Hour), 5200)}
	evening := models.Job{Kind: models.JobPublish, Site: p.site, Key: "2026-07-09"}
	p.confirm()
	p.do(evening)
	m := p.sent()
	require.Contains(t, m.Subject, "Prep sheet for Thursday 9 July")
	require.Len(t, m.Parts, 3)
	require.Equal(t, "text/plain", m.Parts[0].Type)
	sheet, err := p.Store.Sheet(t.Context(), p.site, "2026-07-09")
	require.NoError(t, err)
	require.NotEmpty(t, sheet.Tasks)
	words := strings.Join(strings.Fields(m.Text()), " ")
	for _, task := range sheet.Lines() {
		require.Contains(t, words, strings.Join(strings.Fields(task.Say), " "))
	}
	require.Contains(t, m.Text(), "https://hotday.example.com/s/"+p.site+"/kitchen")
	require.Equal(t, "text/html", m.Parts[1].Type)
	require.Equal(t, "prep-sheet-2026-07-09.pdf", m.Parts[2].File)
	require.True(t, strings.HasPrefix(string(m.Parts[2].Body), "%PDF-"))
	stop := strings.Trim(m.Header.Get("List-Unsubscribe"), "<>")
	require.Contains(t, m.Text(), "Stop these messages: "+stop)
	require.Equal(t, "List-Unsubscribe=One-Click", m.Header.Get("List-Unsubscribe-Post"))

	// Published again with changes during the evening, it is not sent again.
	p.now = p.now.Add(time.Hour)
	p.batches = []models.BatchTask{batch(p.now.Add(13*time.Hour), 3600)}
	p.do(evening)
	p.silent()
}

func TestAPublishedSheetIsSentThoughNothingChanged(t *testing.T) {
	t.Parallel()
	p := newPostbox(t, "2026-07-08T18:00:00+02:00")
	p.confirm()
	p.batches = []models.BatchTask{batch(p.now.Add(14*time.Hour), 5200)}
	server := p.Mail
	p.Mail = nil // as if it had been published by hand
	p.do(models.Job{Kind: models.JobPublish, Site: p.site, Key: "2026-07-09"})
	p.silent()
	p.Mail, p.now = server, p.now.Add(time.Minute)
	p.do(models.Job{Kind: models.JobPublish, Site: p.site, Key: "2026-07-09"})
	require.Contains(t, p.sent().Subject, "Prep sheet")
}

func TestMessagesAreInTheLanguageOfTheSite(t *testing.T) {
	t.Parallel()
	p := newPostbox(t, "2026-07-08T18:00:00+02:00", func(s *models.Setup) { s.Site.Language = "de" })
	m := p.sent()
	require.Equal(t, "E-Mail-Adresse bestätigen", m.Subject)
	require.Contains(t, m.Text(), "Der Link gilt 3 Tage.")
}

func TestAWarningIsSentOnceAndAgainWhenItMustBeActedOnNow(t *testing.T) {
	t.Parallel()
	p := newPostbox(t, "2026-07-08T18:00:00+02:00")
	p.confirm()
	p.do(models.Job{Kind: models.JobPublish, Site: p.site, Key: "2026-07-09"})
	p.sent()
	p.at("2026-07-09 08:00")
	count := 20000.0
	require.NoError(t, p.Store.AddStockCount(t.Context(), p.site, models.StockCount{CountedAt: p.now, IceG: &count}, p.now))
	at := p.now.Add(7 * time.Hour)
	today := short(50, 6000, at)
	today.Grade, today.Cause, today.Fixes = models.GradeActToday, "15:00: 1 in 2 to run out of ice.", []models.Fix{{Action: "Buy one bag.", Change: []byte(`{}`)}}
	p.warnings = []models.Warning{today}
	p.watchAt("2026-07-09 08:10")
	m := p.sent()
	require.Contains(t, m.Subject, "Act today")
	require.Contains(t, m.Text(), "15:00: 1 in 2 to run out of ice.")
	require.Contains(t, m.Text(), "Buy one bag.")
	require.Contains(t, m.Text(), "/s/"+p.site+"/weekend")
	for _, at := range []string{"08:20", "08:30", "08:40"} {
		p.warnings[0].ChancePct += 6
		p.watchAt("2026-07-09 " + at)
		p.silent()
	}
	p.warnings[0].Grade = models.GradeActNow
	p.watchAt("2026-07-09 08:50")
	require.Contains(t, p.sent().Subject, "Act now")
	p.watchAt("2026-07-09 09:00")
	p.silent()

	// What is over before it is sent, or was acknowledged, is not sent.
	p.warnings = append(p.warnings, short(60, 9000, at.Add(24*time.Hour)))
	p.warnings[1].Grade, p.warnings[1].Cause = models.GradeActNow, "Tomorrow."
	p.watchAt("2026-07-09 09:10")
	p.warnings = p.warnings[:1]
	p.watchAt("2026-07-09 09:20")
	p.silent()
	require.Equal(t, "not sent: the warning is over", p.log()[0].Answer)
}

func TestFailedMessagesAreSentAgainUnderTheSameID(t *testing.T) {
	t.Parallel()
	p := newPostbox(t, "2026-07-08T18:00:00+02:00")
	p.server.Refuse(451)
	for i, wait := range models.DeliveryWaits[:4] {
		p.silent()
		m := p.log()[0]
		require.Equal(t, models.DeliveryWaiting, m.State)
		require.Equal(t, i+1, m.Attempts)
		require.Equal(t, p.now.Add(wait).UTC(), *m.NextAt)
		require.Contains(t, m.Answer, "451")
		p.now = *m.NextAt
	}
	p.server.Refuse(0)
	p.server.Drop() // it has the message, but we never hear so
	first := p.sent()
	require.Equal(t, models.DeliveryWaiting, p.log()[0].State)
	second := p.sent()
	require.Equal(t, models.DeliveryDelivered, p.log()[0].State)
	require.NotEmpty(t, first.Header.Get("Message-ID"))
	require.Equal(t, first.Header.Get("Message-ID"), second.Header.Get("Message-ID"))
	require.Equal(t, first.Header.Get("Date"), second.Header.Get("Date"))
	p.silent()

	p.server.Refuse(550)
	require.NoError(t, p.Store.QueueConfirmation(t.Context(), p.person.ID, p.now))
	p.silent()
	require.Equal(t, models.DeliveryFailed, p.log()[0].State, "refused for good")
	p.server.Refuse(0)
	p.silent()
}

func TestOnlyWantedMessagesAreSent(t *testing.T) {
	t.Parallel()
	p := newPostbox(t, "2026-07-08T18:00:00+02:00")
	p.batches = []models.BatchTask{batch(p.now.Add(14*time.Hour), 5200)}
	p.do(models.Job{Kind: models.JobPublish, Site: p.site, Key: "2026-07-09"})
	require.Len(t, p.log(), 1, "nothing but the confirmation before the address is confirmed")
	p.confirm()
	queue := func(about string) {
		t.Helper()
		require.NoError(t, p.Store.QueueMail(t.Context(), models.MailCause{Site: p.site, Kind: models.MailSheet, About: about, At: p.now, Until: p.now.Add(time.Hour)}))
	}
	refused := func(reason string) {
		t.Helper()
		p.silent()
		require.Equal(t, models.DeliveryFailed, p.log()[0].State)
		require.Equal(t, "not sent: "+reason, p.log()[0].Answer)
		p.now = p.now.Add(time.Minute)
	}
	queue("2026-07-09")
	p.put(models.MailActNow)
	refused("no longer wanted")
	p.put(models.MailKinds...)
	queue("2026-07-20")
	refused("the sheet was removed")
	queue("2026-07-21")
	p.now = p.now.Add(2 * time.Hour)
	refused("too late")
	queue("2026-07-22")
	server := p.Mail
	p.Mail = nil
	refused("the service runs without a mail server")
	p.Mail = server
	queue("2026-07-23")
	_, err := p.Store.PutMailSettings(t.Context(), models.MailSettings{Person: p.person.ID, Address: "eve@example.com"})
	require.NoError(t, err)
	refused("the address has changed")
}

func TestTheWeeklyReviewIsSentAfterAWeekWithSales(t *testing.T) {
	t.Parallel()
	p := newPostbox(t, "2026-07-13T07:00:00+02:00")
	p.confirm()
	p.do(models.Job{Kind: models.JobReview, Site: p.site, Key: "2026-07-13"})
	p.silent()
	require.Equal(t, "not sent: no sales counts in that week", p.log()[0].Answer)

	setup, _, err := p.Store.Setup(t.Context(), p.site)
	require.NoError(t, err)
	noon := time.Date(2026, 7, 15, 10, 0, 0, 0, time.UTC)
	require.NoError(t, p.Store.PutMappings(t.Context(), p.site, []models.ItemMapping{{Source: "till", Item: "A", Drink: &setup.Drinks[0].Code, Factor: 1}}))
	_, err = p.Store.PutCounts(t.Context(), p.site, models.SalesPost{Source: "till", Counts: []models.SalesCount{{Item: "A", WindowStart: noon, WindowEnd: noon.Add(time.Hour), Count: 42}}}, noon.Add(time.Hour), "", "")
	require.NoError(t, err)
	p.at("2026-07-20 07:00")
	p.do(models.Job{Kind: models.JobReview, Site: p.site, Key: "2026-07-20"})
	m := p.sent()
	require.Contains(t, m.Subject, "Monday 13 to Sunday 19 July")
	require.Contains(t, m.Text(), "42 drinks sold.")
	require.Contains(t, m.Text(), "Wednesday 15 July")
	require.Contains(t, m.Text(), "/s/"+p.site+"/review")
}

func TestTheReviewIsQueuedOnMondaysIfThereIsAMailServer(t *testing.T) {
	t.Parallel()
	p := newPostbox(t, "2026-07-13T06:59:00+02:00")
	queued := func(clock string) []models.Job {
		t.Helper()
		since := p.now
		p.at(clock)
		require.NoError(t, p.checkSite(t.Context(), p.site, &check{at: since}, p.now))
		return p.take(models.JobReview)
	}
	require.Equal(t, []models.Job{{Kind: models.JobReview, Site: p.site, Key: "2026-07-13"}}, queued("2026-07-13 07:10"))
	require.Empty(t, queued("2026-07-14 07:10"))
	p.Mail = nil
	require.Empty(t, queued("2026-07-20 07:10"))
}

// Names come from people; none of them may add a header or another recipient.
func TestNamesCannotAddHeaders(t *testing.T) {
	t.Parallel()
	evil := "Kiosk\r\nBcc: eve@example.com\r\n\r\n<script>alert(1)</script>"
	p := newPostbox(t, "2026-07-08T18:00:00+02:00", func(s *models.Setup) {
		s.Site.Name = evil
		for i := range s.Beverages {
			s.Beverages[i].Name = evil
		}
	})
	p.confirm()
	p.batches = []models.BatchTask{batch(p.now.Add(14*time.Hour), 5200)}
	p.do(models.Job{Kind: models.JobPublish, Site: p.site, Key: "2026-07-09"})
	m := p.sent()
	require.Empty(t, m.Header.Get("Bcc"))
	require.Contains(t, m.Subject, "Kiosk Bcc: eve@example.com")
	require.Len(t, m.Parts, 3)
	require.NotContains(t, string(m.Parts[1].Body), "<script>")
}

// The queue sends a message within the transaction's promise: once it is committed.
func TestTheQueueSendsMessages(t *testing.T) {
	t.Parallel()
	x := newSender(t, "https://example.com", false)
	server := mailtest.Start(t, mailtest.Options{})
	var err error
	x.Mail, err = mail.NewServer(mail.Settings{Server: server.Addr, Roots: server.Roots, From: "hotday@example.com", PublicURL: "https://hotday.example.com"})
	require.NoError(t, err)
	p, _, err := x.st.AddPerson(t.Context(), models.Person{Name: "Ada", SignIn: "ada", Scopes: []string{models.ScopeRead}, Site: x.site}, x.now)
	require.NoError(t, err)
	_, err = x.st.PutMailSettings(t.Context(), models.MailSettings{Person: p.ID, Address: "ada@example.com"})
	require.NoError(t, err)
	require.NoError(t, x.st.QueueConfirmation(t.Context(), p.ID, x.now))
	ctx, stop := context.WithCancel(context.Background())
	ran := make(chan error, 1)
	go func() { ran <- x.st.Run(ctx, x.work()) }()
	<-server.Arrived
	stop()
	require.NoError(t, <-ran)
	rows, err := x.st.MailLog(t.Context(), p.ID, models.Page{})
	require.NoError(t, err)
	require.Equal(t, models.DeliveryDelivered, rows.Rows[0].State)
	require.Len(t, server.Messages(), 1)
}

package web

import (
	"cmp"
	"context"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/picture"
	"hotday/models"
	"hotday/planner/say"
	"hotday/planner/sheet"
)

// Time limits of the kitchen screen.
const (
	dueSoon      = 15 * time.Minute // a task may be the current one this long before it is due
	overdueAfter = 2 * time.Hour    // tasks overdue for longer come last
	lookAhead    = 26 * time.Hour   // tasks shown
	lookBack     = 20 * time.Hour
	planSlack    = 30 * time.Minute // a plan's first ice level may lie this far ahead
)

// kitchenView is the wall screen. The script re-fetches everything except the head during the day.
type kitchenView struct {
	head
	MayMark       bool
	IsScreen      bool // a paired wall screen, not a person's browser
	Now           time.Time
	Clock         string
	Minutes       int  // local time in minutes after midnight; the script advances it
	HalfDays      bool // 12-hour clock
	Day           string
	IceChart      template.HTML // for the wall
	IceChartSmall template.HTML // for a phone
	IceNow        string
	Tasks         []kitchenTask
	Current       string // ID of the task to do now; "": none is due
	Idle          string // text if no task is due
	LastMarked    string // ID of the task marked last, for undo
	Warnings      []warningView
	Seen          int // number of acknowledged warnings that are still open
	Changes       []string
	Sheet         string // date, revision and publication time of the sheet
	Marked        []markedLine
	Dates         string   // of the sheets with tasks of today, separated by spaces
	Stations      []string // stations with tasks, and those of the screen
	Mine          []string // stations of the screen; empty: all
	Program       string   // version of the pages: an outdated screen reloads itself
	HasSheet      bool
	People        int // who prep now, at least 1: each has a current task, up to two
	Ice           countItem
	Down          []downView
	Breakable     []breakable
	OffSale       []saleView // drinks off sale now or later today
	StopSelling   []saleView // those to take off sale
	Delays        []delayChoice
	Stays         []string     // what a delay does not move
	Delayed       *delayReport // the latest; nil: none lately
	Pounds        bool
	Gallons       bool
	ZoneMinutes   int     // the site's UTC offset now
	MassUnit      string  // unit of the weights
	MassPer       float64 // g per MassUnit
	Steps         []massStep
	Strengths     []strengthStep
}

// strengthStep is a step of the strength control in percentage points.
type strengthStep struct {
	Pct float64
	Say string
}

var strengthSteps = []strengthStep{{-0.1, "−0.10"}, {-0.01, "−0.01"}, {0.01, "+0.01"}, {0.1, "+0.10"}}

// massStep is a step of a weight control.
type massStep struct {
	G   float64
	Say string
}

// massSteps are round numbers in the site's units.
func massSteps(v voice) []massStep {
	steps := []massStep{{-500, ""}, {-100, ""}, {100, ""}, {500, ""}}
	if v.Pounds() {
		lb, oz := say.Per("lb"), say.Per("oz")
		steps = []massStep{{-lb, ""}, {-4 * oz, ""}, {4 * oz, ""}, {lb, ""}}
	}
	for i, st := range steps {
		steps[i].Say = signed(st.G, v.ExactMass(math.Abs(st.G)))
	}
	return steps
}

// kitchenTask is a task on the wall screen: numbers are emphasised, and a batch's steps are numbered.
type kitchenTask struct {
	ID, State, Kind string
	At              time.Time
	Clock           string // with the weekday if not today
	Station         string
	Place           string // the station for people
	Title           string // the beverage of a batch
	Lines           []template.HTML
	Short           string // in the list of next tasks
	Then            string // the batch's next step
	Step            string // "Step 1 of 2"
	Why, Caution    string
	Done            string    // label of the button
	Until           time.Time // when it counts as done without a mark; zero: it wants one
	Line            string    // ID of the task whose mark counts for it
	With            string    // IDs of the tasks that somebody else can do at the same time, separated by spaces
	Step1           bool      // the first of several steps that share a mark: it is marked as started
	Apart           bool      // a later step of those: in the list of next tasks only once it is due
	Grams           float64   // expected weight if it is asked for, else 0
	TDS             float64   // expected strength, %
	Current, Mine   bool
	Answers         []lookAnswer // of a look: what may be left
}

func (p *pages) kitchen(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeRead, "kitchen")
	if !ok {
		return
	}
	token, _ := p.Current(c)
	h.Scripts = []string{"kitchen.js"}
	v := kitchenView{head: h, MayMark: token.May(models.ScopeKitchen, setup.Site.Code), IsScreen: token.Kind == models.TokenScreen, Now: p.Now(), Program: program}
	err := p.Store.Read(c.Request.Context(), func(s models.Store) error {
		if v.IsScreen {
			screen, err := s.Screen(c.Request.Context(), token.ID)
			if err != nil {
				return err
			}
			v.Mine = screen.Stations
		}
		return v.load(c.Request.Context(), s, setup)
	})
	if err != nil {
		p.renderError(c, err)
		return
	}
	if c.Query("part") == "board" {
		p.render(c, http.StatusOK, "board", v)
		return
	}
	p.render(c, http.StatusOK, "kitchen", v)
}

func (v *kitchenView) load(ctx context.Context, s models.Store, setup models.Setup) error {
	site, loc := setup.Site, setup.Site.Location()
	today := site.ServiceDayOf(v.Now)
	q := v.voice
	local := v.Now.In(loc)
	v.Clock, v.Day, v.Minutes, v.HalfDays = q.Clock(v.Now), q.Day(v.Now), local.Hour()*60+local.Minute(), site.Shown().Clock == models.Clock12
	v.Pounds, v.Gallons = q.Pounds(), q.Gallons()
	_, ahead := local.Zone()
	v.ZoneMinutes = ahead / 60
	v.MassUnit, v.MassPer, v.Steps = q.MassUnit(), say.Per(q.MassUnit()), massSteps(q)
	v.Strengths = strengthSteps
	sheets, err := s.Sheets(ctx, site.Code, today, today.AddDays(4))
	if err != nil {
		return err
	}
	marks, err := s.Marks(ctx, site.Code, today, today.AddDays(4))
	if err != nil {
		return err
	}
	v.HasSheet = len(sheets) > 0
	v.selectTasks(sheets, setup)
	v.LastMarked = lastMarked(v.Tasks, marks)
	v.listMarked(sheets, marks, setup)
	for _, s := range sheets {
		if len(v.Tasks) > 0 && v.Sheet == "" {
			v.Sheet = q.Say("kitchen.sheet", "day", q.Day(s.Date.At(720, loc)), "revision", s.Revision, "published", q.Near(s.PublishedAt, v.Now))
			v.Changes = s.Changes
		}
	}
	plan, err := s.LatestPlanAlone(ctx, site.Code)
	if err != nil && models.CodeOf(err) != models.CodeNotFound {
		return err
	}
	v.drawIce(&plan, site)
	v.pairTasks(site, sheets, &plan)
	v.previewDelays(sheets, setup)
	if err := v.countIce(ctx, s, setup, plan); err != nil {
		return err
	}
	open, err := s.OpenWarnings(ctx, site.Code)
	if err != nil {
		return err
	}
	if err := v.listOutages(ctx, s, setup, &plan, open); err != nil {
		return err
	}
	if err := v.listOffSale(ctx, s, setup, &plan); err != nil {
		return err
	}
	for _, w := range open {
		switch {
		case w.Grade == models.GradeNote:
		case w.AckedAt != nil:
			v.Seen++
		default:
			said := newWarningView(w.Warning, q)
			said.ID, said.MayMark = w.ID, v.MayMark
			v.Warnings = append(v.Warnings, said)
		}
	}
	slices.SortStableFunc(v.Warnings, func(a, b warningView) int {
		return slices.Index(gradeOrder, a.Grade) - slices.Index(gradeOrder, b.Grade)
	})
	return nil
}

// selectTasks selects the tasks to show and the current one.
func (v *kitchenView) selectTasks(sheets []models.PrepSheet, setup models.Setup) {
	var all []models.Task
	for _, sheet := range sheets {
		all = append(all, sheet.Tasks...)
	}
	slices.SortStableFunc(all, func(a, b models.Task) int { return cmp.Or(a.At.Compare(b.At), kindOrder(a)-kindOrder(b)) })
	var next *models.Task
	for i := range all {
		t := &all[i]
		open := t.State == models.Due || t.State == models.Started
		if open && next == nil && t.PartOf == "" && t.At.After(v.Now.Add(dueSoon)) && (len(v.Mine) == 0 || slices.Contains(v.Mine, t.Station)) {
			next = t
		}
		if t.At.Before(v.Now.Add(-lookBack)) || t.At.After(v.Now.Add(lookAhead)) {
			continue
		}
		v.Tasks = append(v.Tasks, newKitchenTask(*t, all, setup, v.Now, v.voice))
	}
	// Long overdue tasks go last, so that they do not block the next one.
	slices.SortStableFunc(v.Tasks, func(a, b kitchenTask) int { return overdueLast(a, v.Now) - overdueLast(b, v.Now) })
	v.Stations = slices.Clone(v.Mine)
	for i := range v.Tasks {
		t := &v.Tasks[i]
		if !slices.Contains(v.Stations, t.Station) {
			v.Stations = append(v.Stations, t.Station)
		}
		if t.Mine = len(v.Mine) == 0 || slices.Contains(v.Mine, t.Station); t.Mine && v.Current == "" && t.open(v.Now) && !t.At.After(v.Now.Add(dueSoon)) {
			v.Current, t.Current = t.ID, true
		}
	}
	slices.Sort(v.Stations)
	if v.Current == "" {
		v.Idle = v.voice.Say("kitchen.all_done")
		if next != nil {
			v.Idle = v.voice.Say("kitchen.script.next", "when", v.voice.Near(next.At, v.Now), "what", shortTask(*next, setup, v.voice))
		}
	}
}

// kindOrder puts preparations before the batches that need them if both are due at once.
func kindOrder(t models.Task) int {
	switch t.Kind {
	case models.TaskPull:
		return 0
	case models.TaskWaterDraw:
		return 1
	case models.TaskIceTake, models.TaskIceRefill: // before other trays are filled
		return 2
	case models.TaskIceFill, models.TaskIceCheck, models.TaskLook:
		return 3
	}
	return 4
}

func overdueLast(t kitchenTask, now time.Time) int {
	if t.At.Before(now.Add(-overdueAfter)) {
		return 1
	}
	return 0
}

// lastMarked returns the ID of the most recently marked task that still has the state of its mark.
func lastMarked(tasks []kitchenTask, marks []models.TaskMark) string {
	for i := len(marks) - 1; i >= 0; i-- {
		for _, t := range tasks {
			if t.ID == marks[i].Task && t.State == marks[i].State && t.State != models.Due {
				return t.ID
			}
		}
	}
	return ""
}

// drawIce draws the ice level of the working day from the latest plan, whether or not it is published.
func (v *kitchenView) drawIce(plan *models.Plan, site models.Site) {
	from, to := v.Now.Add(-2*time.Hour), v.Now.Add(10*time.Hour)
	for _, sp := range site.StaffSpans(site.ServiceDayOf(v.Now)) {
		if v.Now.After(sp.From.Add(-time.Hour)) && v.Now.Before(sp.To) {
			from, to = sp.From, sp.To
			if v.Now.Before(from) {
				from = v.Now
			}
		}
	}
	level, ok := picture.LevelAt(plan.Ice.Levels, v.Now)
	if n := len(plan.Ice.Levels); !ok && n > 0 && plan.Ice.Levels[0].At.After(v.Now) && plan.Ice.Levels[0].At.Before(v.Now.Add(planSlack)) {
		level, ok = plan.Ice.Levels[0], true // a plan starts at the next slot
	}
	if !ok || len(plan.Ice.Levels) == 0 || plan.Ice.Levels[len(plan.Ice.Levels)-1].At.Before(v.Now) {
		return
	}
	v.IceChart = picture.IceStrip(plan, from, to, v.Now, v.voice.Writer, 1500, 110)
	v.IceChartSmall = picture.IceStrip(plan, from, to, v.Now, v.voice.Writer, 420, 110)
	v.IceNow = v.voice.GlanceMass(level.G)
}

func newKitchenTask(t models.Task, all []models.Task, setup models.Setup, now time.Time, q voice) kitchenTask {
	v := kitchenTask{ID: t.ID, Line: cmp.Or(t.PartOf, t.ID), State: t.State, Kind: t.Kind, At: t.At, Clock: q.Near(t.At, now), Station: t.Station, Place: say.For(setup.Site).StationName(t.Station, &setup.Ice), Why: t.Why, Caution: withFoodSafetyRules(&t, q),
		Short: shortTask(t, setup, q), Done: q.Say("kitchen.done"), Apart: t.PartOf != ""}
	if !t.WantsMark() {
		v.Until = t.Until.Add(passesAfter)
	}
	if t.Beverage == "" || t.Kind == models.TaskDiscard && t.Discard == nil { // the latter: published by an earlier version
		v.Lines = []template.HTML{emphasiseNumbers(t.Say)}
		return v
	}
	v.Title = beverageName(setup.Beverages, t.Beverage)
	if t.Choice != nil {
		v.askWhatIsLeft(&t, setup, q)
		return v
	}
	v.Lines = beverageLines(t, setup, q)
	if t.Batch == nil {
		return v
	}
	var steps []models.Task
	for _, o := range all {
		if o.Batch != nil && o.Batch.ID == t.Batch.ID && o.Kind != models.TaskDiscard {
			steps = append(steps, o)
		}
	}
	at := slices.IndexFunc(steps, func(o models.Task) bool { return o.ID == t.ID })
	if at >= 0 && len(steps) > 1 {
		v.Step = q.Say("kitchen.step", "at", at+1, "of", len(steps))
		if at+1 < len(steps) {
			v.Then = q.Near(steps[at+1].At, now) + " " + sheet.Act(steps[at+1], setup)
		}
	}
	last := at+1 == len(steps) || at >= 0 && cmp.Or(steps[at+1].PartOf, steps[at+1].ID) != v.Line
	switch {
	case t.Until.IsZero(): // of an earlier version: every step is marked
		v.Done = q.Say("kitchen.made")
	case last && v.markedBy(all):
		v.Until, v.Done = time.Time{}, q.Say("kitchen.made")
	case last: // of a batch whose later line is marked
		v.Until = t.Until.Add(passesAfter)
	default:
		v.Until, v.Step1 = t.Until.Add(passesAfter), t.PartOf == ""
		if v.Step1 {
			v.Done = q.Say("kitchen.started")
		}
	}
	if t.Kind != models.TaskBrew && t.Kind != models.TaskDiscard && at == len(steps)-1 {
		v.Grams, v.TDS = t.Batch.BeverageG, t.Batch.ExpectedTDSPct
	}
	return v
}

// passesAfter is how long after its end a task that wants no mark stays on the screen.
const passesAfter = 5 * time.Minute

// markedBy reports whether the line of a step wants a mark.
func (t *kitchenTask) markedBy(all []models.Task) bool {
	return slices.ContainsFunc(all, func(o models.Task) bool { return o.ID == t.Line && o.WantsMark() })
}

// open reports whether a task is still to be done.
func (t *kitchenTask) open(now time.Time) bool {
	if t.State == models.Made || t.State == models.Skipped || t.Step1 && t.State == models.Started {
		return false
	}
	return t.Until.IsZero() || t.Until.After(now)
}

// withFoodSafetyRules is the caution of a task with the addition that local food safety rules come first, unless it says so itself.
func withFoodSafetyRules(t *models.Task, q voice) string {
	if t.Caution == "" || slices.ContainsFunc(t.CautionCodes, say.NamesTheRules) {
		return t.Caution
	}
	return t.Caution + " " + q.Say("frame.local_rules")
}

// beverageLines returns a task with a beverage as lines with one action each, without the beverage's name.
func beverageLines(t models.Task, setup models.Setup, q voice) []template.HTML {
	b := t.Batch
	line := func(key string, args ...any) template.HTML { return emphasiseNumbers(q.Say(key, args...)) }
	switch t.Kind {
	case models.TaskBrew:
		steeps := !b.StrainAt.IsZero()
		first := line("kitchen.pour", "water", q.ExactMass(b.BrewWaterG))
		if steeps {
			first = line("kitchen.wet", "water", q.ExactMass(b.BrewWaterG))
		}
		out := []template.HTML{first, insertName(line("kitchen.over", "dose", q.ExactMass(b.DoseG), "brewer", namePlaceholder), b.Brewer)}
		if steeps {
			out = append(out, line("kitchen.strain_at", "when", q.At(b.StrainAt)))
		}
		return out
	case models.TaskChill:
		var out []template.HTML
		switch {
		case b.CoolToBeforeIceC == nil:
		case b.BathIceG >= 0.5:
			out = append(out, line("kitchen.cool_bath", "temp", q.Temp(*b.CoolToBeforeIceC), "ice", q.GlanceMass(b.BathIceG)))
			if b.BathWaterL > 0 {
				out = append(out, line("kitchen.bath_water", "water", q.Volume(b.BathWaterL)))
			}
		default:
			out = append(out, line("kitchen.cool", "temp", q.Temp(*b.CoolToBeforeIceC)))
		}
		if b.IceG >= 0.5 {
			out = append(out, line("kitchen.stir", "ice", q.ExactMass(b.IceG)))
		}
		return append(out, line("kitchen.reach", "temp", q.Temp(b.FinalTempC), "when", q.Clock(b.Ready)))
	case models.TaskStore:
		return []template.HTML{line("kitchen.store", "mass", q.GlanceMass(b.BeverageG)), line("kitchen.label", "when", q.Near(b.UseBy.Truncate(5*time.Minute), t.At))}
	}
	return []template.HTML{emphasiseNumbers(say.Capital(sheet.Act(t, setup)))}
}

// namePlaceholder stands for a name that is inserted after emphasiseNumbers, so that numbers in the name stay plain.
const namePlaceholder = "\ue000"

func insertName(s template.HTML, name string) template.HTML {
	return template.HTML(strings.Replace(string(s), namePlaceholder, "<i>"+template.HTMLEscapeString(name)+"</i>", 1)) //nolint:gosec // escaped here
}

// emphasiseNumbers escapes a text and puts its numbers, with their units, in bold.
func emphasiseNumbers(s string) template.HTML {
	var b strings.Builder
	for i, word := range strings.Split(s, " ") {
		if i > 0 {
			b.WriteByte(' ')
		}
		text := template.HTMLEscapeString(word)
		switch {
		case say.IsFigure(word):
			core := strings.TrimRight(word, ".,;")
			text = "<b>" + template.HTMLEscapeString(core) + "</b>" + word[len(core):]
		case strings.Contains(word, "-"):
			text = `<span class="whole">` + text + "</span>" // lot names do not break at a hyphen
		}
		b.WriteString(text)
	}
	return template.HTML(b.String()) //nolint:gosec // every word is escaped
}

// shortTask describes a task in a few words for the list of next tasks.
func shortTask(t models.Task, setup models.Setup, q voice) string {
	name := ""
	if t.Beverage != "" {
		name = beverageName(setup.Beverages, t.Beverage)
	}
	key := "kitchen.short." + t.Kind
	switch t.Kind {
	case models.TaskBrew:
		return q.Say(key, "mass", q.GlanceMass(t.Batch.BeverageG), "beverage", name, "station", t.Station)
	case models.TaskChill, models.TaskStrain, models.TaskStore:
		return q.Say(key, "beverage", name)
	case models.TaskHandover:
		return q.Say(key)
	case models.TaskLook:
		return q.Say(key, "beverage", name)
	case models.TaskDiscard:
		return q.Say(key, "beverage", nameOr(name, t.Station))
	case models.TaskIceFill, models.TaskIceTake, models.TaskIceRefill, models.TaskIceCheck:
		return q.Say(key, "station", t.Station)
	case models.TaskMix:
		return q.Say(key, "code", t.Mix.Code)
	case models.TaskGet:
		if t.Well != nil {
			return q.Say("kitchen.short.well", "well", t.Well.Well, "mass", q.GlanceMass(t.Well.G))
		}
		if len(t.Supplies) > 0 {
			return q.Say(key, "n", len(t.Supplies))
		}
	case models.TaskTempLog:
		if t.Reading.Of == models.ReadingStore {
			return q.Say("kitchen.short.log_store")
		}
		return q.Say(key, "beverage", beverageName(setup.Beverages, t.Reading.Of))
	case models.TaskWaterDraw:
		if t.Draw != nil {
			return q.Say(key, "water", q.Volume(t.Draw.DrawL))
		}
	case models.TaskPull:
		if len(t.Pulls) > 1 {
			return q.Say("kitchen.short.pulls", "n", len(t.Pulls))
		}
		if len(t.Pulls) > 0 {
			return q.Say(key, "mass", q.GlanceMass(t.Pulls[0].G), "coffee", t.Pulls[0].Coffee)
		}
	}
	return t.Say
}

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
	"hotday/planner/quantity"
)

// How far the wall looks: tasks that fall due within soon are the ones to do, those of a day are on the screen.
const (
	soon      = 15 * time.Minute
	leftOver  = 2 * time.Hour // what is due for longer no longer comes before what is due now
	lookAhead = 26 * time.Hour
	lookBack  = 20 * time.Hour
	justMade  = 30 * time.Minute
)

// kitchenView is what the wall screen shows. Everything but the head changes through the day and is fetched again by itself.
type kitchenView struct {
	head
	MayMark   bool
	IsScreen  bool // a paired wall screen, not somebody's browser
	Now       time.Time
	Clock     string
	Minutes   int  // the clock again, in minutes from midnight, for the script to move on
	HalfDays  bool // it goes to twelve, twice
	Day       string
	Tide      template.HTML // for the wall
	TideSmall template.HTML // for a phone
	TideSays  string
	Tasks     []stepView
	Current   string // id of the task to do now; empty: nothing is due
	Idle      string // what to say then
	Last      string // id of the task marked last, to be taken back
	Warnings  []warningView
	Seen      int // warnings that somebody here has seen and that are still open
	Changes   []string
	Sheet     string   // which sheet this is
	Stations  []string // that have tasks in sight, or that the screen was let in for
	Mine      []string // the stations that the screen was let in for; empty: all
	Program   string   // changes with the program: a screen of an older one loads itself anew
	HasSheet  bool
	Pounds    bool
	MassUnit  string  // of the field in which ice is counted
	MassPer   float64 // grams in one of it
	Steps     []massStep
	Strengths []strengthStep
}

// strengthStep is by how much one touch moves a strength, percentage points.
type strengthStep struct {
	Pct float64
	Say string
}

var strengthSteps = []strengthStep{{-0.1, "−0.10"}, {-0.01, "−0.01"}, {0.01, "+0.01"}, {0.1, "+0.10"}}

// massStep is by how much one touch moves a weight.
type massStep struct {
	G   float64
	Say string
}

// massSteps are round in the site's units.
func massSteps(v voice) []massStep {
	steps := []massStep{{-500, ""}, {-100, ""}, {100, ""}, {500, ""}}
	if v.Pounds() {
		lb, oz := quantity.Per("lb"), quantity.Per("oz")
		steps = []massStep{{-lb, ""}, {-4 * oz, ""}, {4 * oz, ""}, {lb, ""}}
	}
	for i, st := range steps {
		steps[i].Say = signed(st.G, v.Grams(math.Abs(st.G)))
	}
	return steps
}

// stepView is a task as the wall says it: numbers stand out, a batch's steps follow one another.
type stepView struct {
	ID, State, Kind string
	At              time.Time
	Clock           string // of the day, with the weekday where it is another
	Station         string
	Title           string // the beverage, where it is a batch
	Lines           []template.HTML
	Short           string // in the list of what comes next
	Then            string // the batch's next step
	Step            string // "Step 1 of 2"
	Why, Caution    string
	Done            string  // the word on the control
	Grams           float64 // what the batch should weigh, where it matters what it weighed; else 0
	TDS             float64 // and its strength, %
	Current, Mine   bool
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
		return v.read(c.Request.Context(), s, setup)
	})
	if err != nil {
		p.trouble(c, err)
		return
	}
	if c.Query("part") == "board" {
		p.render(c, http.StatusOK, "board", v)
		return
	}
	p.render(c, http.StatusOK, "kitchen", v)
}

func (v *kitchenView) read(ctx context.Context, s models.Store, setup models.Setup) error {
	site, loc := setup.Site, setup.Site.Location()
	today := site.ServiceDayOf(v.Now)
	q := v.voice
	local := v.Now.In(loc)
	v.Clock, v.Day, v.Minutes, v.HalfDays = q.Clock(v.Now), q.Day(v.Now), local.Hour()*60+local.Minute(), site.Shown().Clock == models.Clock12
	v.Pounds = q.Pounds()
	v.MassUnit, v.MassPer, v.Steps = q.MassUnit(), quantity.Per(q.MassUnit()), massSteps(q)
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
	v.tasks(sheets, setup)
	v.Last = lastMarked(v.Tasks, marks)
	for _, sheet := range sheets {
		if len(v.Tasks) > 0 && v.Sheet == "" {
			v.Sheet = q.Say("kitchen.sheet", "day", q.Day(sheet.Date.At(720, loc)), "revision", sheet.Revision, "published", q.Near(sheet.PublishedAt, v.Now))
			v.Changes = sheet.Changes
		}
	}
	if err := v.tide(ctx, s, site); err != nil {
		return err
	}
	open, err := s.OpenWarnings(ctx, site.Code)
	if err != nil {
		return err
	}
	for _, w := range open {
		switch {
		case w.Grade == models.GradeNote:
		case w.AckedAt != nil:
			v.Seen++
		default:
			said := warningOf(w.Warning, q)
			said.ID, said.MayMark = w.ID, v.MayMark
			v.Warnings = append(v.Warnings, said)
		}
	}
	slices.SortStableFunc(v.Warnings, func(a, b warningView) int {
		return slices.Index(gradeOrder, a.Grade) - slices.Index(gradeOrder, b.Grade)
	})
	v.Warnings = v.Warnings[:min(3, len(v.Warnings))]
	return nil
}

// tasks lays out what falls in the wall's sight, and chooses what to do now.
func (v *kitchenView) tasks(sheets []models.PrepSheet, setup models.Setup) {
	var all []models.Task
	for _, sheet := range sheets {
		all = append(all, sheet.Tasks...)
	}
	slices.SortStableFunc(all, func(a, b models.Task) int { return cmp.Or(a.At.Compare(b.At), kindOrder(a)-kindOrder(b)) })
	var next *models.Task
	for i := range all {
		t := &all[i]
		open := t.State == models.Due || t.State == models.Started
		if open && next == nil && t.At.After(v.Now.Add(soon)) && (len(v.Mine) == 0 || slices.Contains(v.Mine, t.Station)) {
			next = t
		}
		if t.At.Before(v.Now.Add(-lookBack)) || t.At.After(v.Now.Add(lookAhead)) {
			continue
		}
		v.Tasks = append(v.Tasks, stepOf(*t, all, setup, v.Now, v.voice))
	}
	// Left-over tasks go to the end: nobody who is late with one should be kept from the next.
	slices.SortStableFunc(v.Tasks, func(a, b stepView) int { return leftLast(a, v.Now) - leftLast(b, v.Now) })
	v.Stations = slices.Clone(v.Mine)
	for i := range v.Tasks {
		t := &v.Tasks[i]
		if !slices.Contains(v.Stations, t.Station) {
			v.Stations = append(v.Stations, t.Station)
		}
		if t.Mine = len(v.Mine) == 0 || slices.Contains(v.Mine, t.Station); t.Mine && v.Current == "" && (t.State == models.Due || t.State == models.Started) && !t.At.After(v.Now.Add(soon)) {
			v.Current, t.Current = t.ID, true
		}
	}
	slices.Sort(v.Stations)
	if v.Current == "" {
		v.Idle = v.voice.Say("kitchen.all_done")
		if next != nil {
			v.Idle = v.voice.Say("kitchen.next_is", "when", v.voice.Near(next.At, v.Now), "what", shortly(*next, setup, v.voice))
		}
	}
}

// kindOrder puts what a batch needs before the batch, where both are due at once.
func kindOrder(t models.Task) int {
	switch t.Kind {
	case models.TaskPull:
		return 0
	case models.TaskWaterDraw:
		return 1
	case models.TaskIceTake: // before the forms are filled again
		return 2
	case models.TaskIceFill, models.TaskIceCheck:
		return 3
	}
	return 4
}

func leftLast(t stepView, now time.Time) int {
	if t.At.Before(now.Add(-leftOver)) {
		return 1
	}
	return 0
}

// lastMarked is the task that was said to be done last and still stands so.
func lastMarked(tasks []stepView, marks []models.TaskMark) string {
	for i := len(marks) - 1; i >= 0; i-- {
		for _, t := range tasks {
			if t.ID == marks[i].Task && t.State == marks[i].State && t.State != models.Due {
				return t.ID
			}
		}
	}
	return ""
}

// tide draws the slim tide of the working day as the latest plan sees it: the ice does not wait for a sheet to be published.
func (v *kitchenView) tide(ctx context.Context, s models.Store, site models.Site) error {
	plan, _, err := s.LatestPlan(ctx, site.Code)
	if models.CodeOf(err) == models.CodeNotFound {
		return nil
	}
	if err != nil {
		return err
	}
	from, to := v.Now.Add(-2*time.Hour), v.Now.Add(10*time.Hour)
	for _, sp := range site.PeopleSpans(site.ServiceDayOf(v.Now)) {
		if v.Now.After(sp.From.Add(-time.Hour)) && v.Now.Before(sp.To) {
			from, to = sp.From, sp.To
			if v.Now.Before(from) {
				from = v.Now
			}
		}
	}
	level, ok := picture.LevelAt(plan.Ice.Levels, v.Now)
	if n := len(plan.Ice.Levels); !ok && n > 0 && plan.Ice.Levels[0].At.After(v.Now) && plan.Ice.Levels[0].At.Before(v.Now.Add(justMade)) {
		level, ok = plan.Ice.Levels[0], true // a plan begins with the next slot
	}
	if !ok || len(plan.Ice.Levels) == 0 || plan.Ice.Levels[len(plan.Ice.Levels)-1].At.Before(v.Now) {
		return nil
	}
	v.Tide = picture.Slim(plan.Ice.Levels, from, to, v.Now, v.voice.Writer, 1500, 110)
	v.TideSmall = picture.Slim(plan.Ice.Levels, from, to, v.Now, v.voice.Writer, 420, 110)
	v.TideSays = v.voice.Mass(level.G)
	return nil
}

// stepOf says a task for the wall.
func stepOf(t models.Task, all []models.Task, setup models.Setup, now time.Time, q voice) stepView {
	v := stepView{ID: t.ID, State: t.State, Kind: t.Kind, At: t.At, Clock: q.Near(t.At, now), Station: t.Station, Why: t.Why, Caution: deferring(t.Caution, q),
		Short: shortly(t, setup, q), Done: q.Say("kitchen.done")}
	if t.Batch == nil {
		v.Lines = []template.HTML{stressed(t.Say)}
		return v
	}
	v.Title = beverageNameIn(setup.Beverages, t.Batch.Beverage)
	v.Lines = batchLines(t, q)
	switch t.Kind {
	case models.TaskBrew, models.TaskChill, models.TaskStrain:
		v.Done = q.Say("kitchen.made")
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
			v.Then = q.Near(steps[at+1].At, now) + " " + afterColon(steps[at+1].Say)
		}
	}
	if (t.Kind == models.TaskChill || t.Kind == models.TaskStrain) && at == len(steps)-1 {
		v.Grams, v.TDS = t.Batch.BeverageG, t.Batch.ExpectedTDSPct
	}
	return v
}

// deferring adds whose rules stand above a caution, where it does not say so itself.
func deferring(caution string, q voice) string {
	if caution == "" || strings.Contains(caution, "local food code") || strings.Contains(caution, "stand above") {
		return caution
	}
	return caution + " " + q.Say("kitchen.food_code")
}

func beverageNameIn(list []models.Beverage, code string) string {
	for _, b := range list {
		if b.Code == code {
			return nameOr(b.Name, b.Code)
		}
	}
	return code
}

// afterColon leaves out the name of the beverage that a sheet's sentence begins with.
func afterColon(s string) string {
	if _, rest, ok := strings.Cut(s, ": "); ok {
		return rest
	}
	return s
}

// batchLines says the step of a batch, one thing to do a line.
func batchLines(t models.Task, q voice) []template.HTML {
	b := t.Batch
	line := func(key string, args ...any) template.HTML { return stressed(q.Say(key, args...)) }
	switch t.Kind {
	case models.TaskBrew:
		steeps := !b.StrainAt.IsZero()
		first := line("kitchen.pour", "water", q.Grams(b.BrewWaterG))
		if steeps {
			first = line("kitchen.wet", "water", q.Grams(b.BrewWaterG))
		}
		out := []template.HTML{first, named(line("kitchen.over", "dose", q.Grams(b.DoseG), "brewer", aName), b.Brewer)}
		if steeps {
			out = append(out, line("kitchen.strain_at", "when", q.At(b.StrainAt)))
		}
		return out
	case models.TaskChill:
		var out []template.HTML
		switch {
		case b.CoolToBeforeIceC == nil:
		case b.BathIceG >= 0.5:
			out = append(out, line("kitchen.cool_bath", "temp", q.Temp(*b.CoolToBeforeIceC), "ice", q.Mass(b.BathIceG)))
		default:
			out = append(out, line("kitchen.cool", "temp", q.Temp(*b.CoolToBeforeIceC)))
		}
		if b.IceG >= 0.5 {
			out = append(out, line("kitchen.stir", "ice", q.Grams(b.IceG)))
		}
		return append(out, line("kitchen.reach", "temp", q.Temp(b.FinalTempC), "when", q.Clock(b.Ready)))
	}
	return []template.HTML{stressed(afterColon(t.Say))}
}

// aName stands in a text where a name is put in once its words have been set.
const aName = "\ue000"

func named(s template.HTML, name string) template.HTML {
	return template.HTML(strings.Replace(string(s), aName, "<i>"+template.HTMLEscapeString(name)+"</i>", 1)) //nolint:gosec // escaped here
}

// stressed puts a text's numbers, with their units, into large type.
func stressed(s string) template.HTML {
	var b strings.Builder
	for i, word := range strings.Split(s, " ") {
		if i > 0 {
			b.WriteByte(' ')
		}
		text := template.HTMLEscapeString(word)
		switch {
		case word != "" && (word[0] >= '0' && word[0] <= '9' || strings.HasPrefix(word, "−")):
			core := strings.TrimRight(word, ".,;")
			text = "<b>" + template.HTMLEscapeString(core) + "</b>" + word[len(core):]
		case strings.Contains(word, "-"):
			text = `<span class="whole">` + text + "</span>" // the name of a lot is not broken at its hyphen
		}
		b.WriteString(text)
	}
	return template.HTML(b.String()) //nolint:gosec // every word was escaped
}

// shortly says a task in a few words for the list of what comes next.
func shortly(t models.Task, setup models.Setup, q voice) string {
	name := ""
	if t.Batch != nil {
		name = beverageNameIn(setup.Beverages, t.Batch.Beverage)
	}
	key := "kitchen.short." + t.Kind
	switch t.Kind {
	case models.TaskBrew:
		return q.Say(key, "mass", q.Mass(t.Batch.BeverageG), "beverage", name, "station", t.Station)
	case models.TaskChill, models.TaskStrain:
		return q.Say(key, "beverage", name)
	case models.TaskDiscard:
		return q.Say(key, "beverage", nameOr(name, t.Station))
	case models.TaskIceFill, models.TaskIceTake, models.TaskIceCheck:
		return q.Say(key, "station", t.Station)
	case models.TaskWaterDraw:
		if t.Draw != nil {
			return q.Say(key, "water", q.Litres(t.Draw.DrawL))
		}
	case models.TaskPull:
		if t.Pull != nil {
			return q.Say(key, "mass", q.Mass(t.Pull.G), "coffee", t.Pull.Coffee)
		}
	}
	return t.Say
}

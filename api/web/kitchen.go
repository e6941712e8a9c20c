package web

import (
	"cmp"
	"context"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/picture"
	"hotday/api/web/say"
	"hotday/models"
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
	Now       time.Time
	Clock     string
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
	Sheet     string // which sheet this is
	HasSheet  bool
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
	Current         bool
}

func (p *pages) kitchen(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeRead, "kitchen", "Kitchen")
	if !ok {
		return
	}
	token, _ := p.Current(c)
	h.Scripts = []string{"kitchen.js"}
	v := kitchenView{head: h, MayMark: token.May(models.ScopeKitchen, setup.Site.Code), Now: p.Now()}
	err := p.Store.Read(c.Request.Context(), func(s models.Store) error {
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
	v.Clock, v.Day = say.Clock(v.Now, loc), say.Day(v.Now, loc)
	sheets, err := s.Sheets(ctx, site.Code, today, today.AddDays(4))
	if err != nil {
		return err
	}
	marks, err := s.Marks(ctx, site.Code, today, today.AddDays(4))
	if err != nil {
		return err
	}
	v.HasSheet = len(sheets) > 0
	v.tasks(sheets, setup, loc)
	v.Last = lastMarked(v.Tasks, marks)
	for _, sheet := range sheets {
		if len(v.Tasks) > 0 && v.Sheet == "" {
			v.Sheet = "Prep sheet of " + say.Day(sheet.Date.At(720, loc), loc) + ", plan " + strconv.Itoa(sheet.Revision) + ", published " + say.Near(sheet.PublishedAt, v.Now, loc)
			v.Changes = sheet.Changes
		}
	}
	if err := v.tide(ctx, s, site, loc); err != nil {
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
			said := warningOf(w.Warning, loc)
			said.ID = w.ID
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
func (v *kitchenView) tasks(sheets []models.PrepSheet, setup models.Setup, loc *time.Location) {
	var all []models.Task
	for _, sheet := range sheets {
		all = append(all, sheet.Tasks...)
	}
	slices.SortStableFunc(all, func(a, b models.Task) int { return cmp.Or(a.At.Compare(b.At), kindOrder(a)-kindOrder(b)) })
	var next *models.Task
	for i := range all {
		t := &all[i]
		open := t.State == models.Due || t.State == models.Started
		if open && next == nil && t.At.After(v.Now.Add(soon)) {
			next = t
		}
		if t.At.Before(v.Now.Add(-lookBack)) || t.At.After(v.Now.Add(lookAhead)) {
			continue
		}
		v.Tasks = append(v.Tasks, stepOf(*t, all, setup, v.Now, loc))
	}
	// Left-over tasks go to the end: nobody who is late with one should be kept from the next.
	slices.SortStableFunc(v.Tasks, func(a, b stepView) int { return leftLast(a, v.Now) - leftLast(b, v.Now) })
	for i := range v.Tasks {
		if t := &v.Tasks[i]; v.Current == "" && (t.State == models.Due || t.State == models.Started) && !t.At.After(v.Now.Add(soon)) {
			v.Current, t.Current = t.ID, true
		}
	}
	if v.Current == "" {
		v.Idle = "Nothing more on the prep sheet."
		if next != nil {
			v.Idle = "Next: " + say.Near(next.At, v.Now, loc) + ", " + shortly(*next, setup)
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
func (v *kitchenView) tide(ctx context.Context, s models.Store, site models.Site, loc *time.Location) error {
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
	v.Tide = picture.Slim(plan.Ice.Levels, from, to, v.Now, loc, 1500, 110)
	v.TideSmall = picture.Slim(plan.Ice.Levels, from, to, v.Now, loc, 420, 110)
	v.TideSays = say.Mass(level.G)
	return nil
}

// stepOf says a task for the wall.
func stepOf(t models.Task, all []models.Task, setup models.Setup, now time.Time, loc *time.Location) stepView {
	v := stepView{ID: t.ID, State: t.State, Kind: t.Kind, At: t.At, Clock: say.Near(t.At, now, loc), Station: t.Station, Why: t.Why, Caution: deferring(t.Caution),
		Short: shortly(t, setup), Done: "Done"}
	if t.Batch == nil {
		v.Lines = []template.HTML{stressed(t.Say)}
		return v
	}
	v.Title = beverageNameIn(setup.Beverages, t.Batch.Beverage)
	v.Lines = batchLines(t, loc)
	switch t.Kind {
	case models.TaskBrew, models.TaskChill, models.TaskStrain:
		v.Done = "Made"
	}
	var steps []models.Task
	for _, o := range all {
		if o.Batch != nil && o.Batch.ID == t.Batch.ID && o.Kind != models.TaskDiscard {
			steps = append(steps, o)
		}
	}
	at := slices.IndexFunc(steps, func(o models.Task) bool { return o.ID == t.ID })
	if at >= 0 && len(steps) > 1 {
		v.Step = "Step " + strconv.Itoa(at+1) + " of " + strconv.Itoa(len(steps))
		if at+1 < len(steps) {
			v.Then = say.Near(steps[at+1].At, now, loc) + " " + afterColon(steps[at+1].Say)
		}
	}
	if (t.Kind == models.TaskChill || t.Kind == models.TaskStrain) && at == len(steps)-1 {
		v.Grams = t.Batch.BeverageG
	}
	return v
}

// deferring adds whose rules stand above a caution, where it does not say so itself.
func deferring(caution string) string {
	if caution == "" || strings.Contains(caution, "local food code") || strings.Contains(caution, "stand above") {
		return caution
	}
	return caution + " Your local food code stands above this."
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
func batchLines(t models.Task, loc *time.Location) []template.HTML {
	b := t.Batch
	line := func(s string) template.HTML { return stressed(s) }
	switch t.Kind {
	case models.TaskBrew:
		verb := "Pour "
		if !b.StrainAt.IsZero() {
			verb = "Wet with "
		}
		out := []template.HTML{line(verb + say.Grams(b.BrewWaterG) + " water"), line("over "+say.Grams(b.DoseG)+" dose") + named(" in ", b.Brewer)}
		if !b.StrainAt.IsZero() {
			out = append(out, line("Strain "+say.At(b.StrainAt, loc)))
		}
		return out
	case models.TaskChill:
		var out []template.HTML
		if b.CoolToBeforeIceC != nil {
			how := ""
			if b.BathIceG >= 0.5 {
				how = " in a bath with " + say.Mass(b.BathIceG) + " plain ice"
			}
			out = append(out, line("Cool to "+say.Temp(*b.CoolToBeforeIceC)+how))
		}
		if b.IceG >= 0.5 {
			out = append(out, line("Stir in "+say.Grams(b.IceG)+" ice, slowly"))
		}
		return append(out, line("Reach "+say.Temp(b.FinalTempC)+" by "+say.Clock(b.Ready, loc)))
	}
	return []template.HTML{stressed(afterColon(t.Say))}
}

func named(before, name string) template.HTML {
	return template.HTML(template.HTMLEscapeString(before) + "<i>" + template.HTMLEscapeString(name) + "</i>") //nolint:gosec // escaped here
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
func shortly(t models.Task, setup models.Setup) string {
	name := ""
	if t.Batch != nil {
		name = beverageNameIn(setup.Beverages, t.Batch.Beverage)
	}
	switch t.Kind {
	case models.TaskBrew:
		return "brew " + say.Mass(t.Batch.BeverageG) + " " + name + " in " + t.Station
	case models.TaskChill:
		return "chill " + name
	case models.TaskStrain:
		return "strain " + name
	case models.TaskDiscard:
		return "throw away what is left of " + nameOr(name, t.Station)
	case models.TaskIceFill:
		return "fill " + t.Station
	case models.TaskIceTake:
		return "take the ice from " + t.Station
	case models.TaskIceCheck:
		return "look into " + t.Station
	case models.TaskWaterDraw:
		if t.Draw != nil {
			return "draw " + say.Litres(t.Draw.DrawL) + " water"
		}
	case models.TaskPull:
		if t.Pull != nil {
			return "pull " + say.Mass(t.Pull.G) + " " + t.Pull.Coffee
		}
	}
	return t.Say
}

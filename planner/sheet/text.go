package sheet

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"hotday/models"
	"hotday/planner/say"
)

// WriteText writes a plan for people to read: aligned columns, no colour, times by the site's clock. It returns the error of w.
func WriteText(w io.Writer, r models.PlanRequest, p models.Plan) error {
	t := newTextPlan(&r, &p)
	t.head()
	t.warnings()
	for _, s := range PrepSheets(r, p, nil, p.ComputedAt) {
		t.day(s)
	}
	t.foot()
	_, err := io.WriteString(w, plainSpaces(t.out.String()))
	return err
}

func newTextPlan(r *models.PlanRequest, p *models.Plan) *textPlan {
	t := &textPlan{req: r, plan: p, loc: r.Site.Location(), q: say.For(r.Site), names: map[string]string{}}
	for _, b := range r.Beverages {
		t.names[b.Code] = cmp.Or(b.Name, b.Code)
	}
	return t
}

// textPlan is a plan on its way to text.
type textPlan struct {
	q     say.Voice
	req   *models.PlanRequest
	names map[string]string // of beverages
	plan  *models.Plan
	loc   *time.Location
	out   bytes.Buffer
}

func (t *textPlan) line(format string, args ...any) {
	t.out.WriteString(strings.TrimRight(fmt.Sprintf(format, args...), " ") + "\n")
}

// say writes a text of the catalogue as a line.
func (t *textPlan) say(key string, args ...any) { t.line("%s", t.q.Say(key, args...)) }

func (t *textPlan) head() {
	last := t.plan.From.AddDays(t.plan.Days - 1)
	days := t.date(t.plan.From)
	if last != t.plan.From {
		days = t.q.Say("text.days", "first", days, "last", t.date(last))
	}
	t.say("text.title", "site", cmp.Or(t.req.Site.Name, t.req.Site.Code), "days", days)
	if t.plan.Revision > 0 {
		t.say("text.revision", "revision", t.plan.Revision, "at", t.q.ShortAt(t.plan.ComputedAt))
	} else {
		t.say("text.computed", "at", t.q.ShortAt(t.plan.ComputedAt))
	}
	t.line("")
	t.paragraph("", t.plan.Summary.Text)
}

// WriteSheetText writes a prep sheet for people to read: each line with its time, what to do, and the cautions of the
// work.
// It returns the error of w.
func WriteSheetText(w io.Writer, site models.Site, s models.PrepSheet) error {
	t := newTextPlan(&models.PlanRequest{Setup: models.Setup{Site: site}}, &models.Plan{})
	t.say("text.sheet", "site", cmp.Or(site.Name, site.Code), "day", t.date(s.Date))
	t.say("text.sheet_from", "revision", s.Revision, "at", t.q.ShortAt(s.PublishedAt))
	for _, ch := range s.Changes {
		t.paragraph("  "+t.q.Say("text.changed"), ch)
	}
	t.line("")
	care := map[string]int{} // the number of each caution, which is written out once and then named by its number
	for _, task := range s.Lines() {
		lead := fmt.Sprintf("  %-9s  ", t.by(task.At, s.Date))
		say := task.Say
		if task.State != models.Due && task.State != "" {
			say = t.q.Say("text.state", "state", t.q.Say("text.state."+task.State), "text", say)
		}
		var known []int
		var fresh []caution
		for _, c := range t.cautionsOf(&task) {
			if n, said := care[c.key]; said {
				known = append(known, n)
			} else {
				care[c.key] = len(care) + 1
				fresh = append(fresh, c)
			}
		}
		if len(known) > 0 {
			slices.Sort(known)
			var list []string
			for _, n := range known {
				list = append(list, strconv.Itoa(n))
			}
			say += t.q.Say("text.care_again", "n", strings.Join(list, t.q.Say("said.comma")))
		}
		t.paragraph(lead, say)
		for _, c := range fresh {
			t.paragraph(fmt.Sprintf("%s! %d ", strings.Repeat(" ", utf8.RuneCountInString(lead)), care[c.key]), c.text)
		}
	}
	if len(s.Cautions) > 0 {
		t.line("")
		t.say("text.care")
		for _, c := range s.Cautions {
			t.paragraph("  - ", c)
		}
	}
	_, err := io.WriteString(w, plainSpaces(t.out.String()))
	return err
}

// caution is a caution with its code, or where an earlier version stored none, its text as the key.
type caution struct{ key, text string }

func (t *textPlan) cautionsOf(task *models.Task) []caution {
	if task.Caution == "" {
		return nil
	}
	if len(task.CautionCodes) == 0 {
		return []caution{{task.Caution, task.Caution}}
	}
	var out []caution
	for _, code := range task.CautionCodes {
		out = append(out, caution{string(code), t.q.Caution(code)})
	}
	return out
}

// by is a time of day, with the weekday where it is on another date.
func (t *textPlan) by(at time.Time, date models.Date) string {
	if models.DateOf(at, t.loc) == date {
		return t.q.Clock(at)
	}
	return t.q.ShortAt(at)
}

func (t *textPlan) date(d models.Date) string { return t.q.DayYear(d.At(720, t.loc)) }

// textWidth is the most characters in a line of text.
const textWidth = 110

// paragraph writes a sentence in lines of up to textWidth; the first begins with lead, the others are indented as far.
func (t *textPlan) paragraph(lead, text string) {
	line := lead
	indent := strings.Repeat(" ", utf8.RuneCountInString(lead))
	empty := true
	for word := range strings.SplitSeq(strings.TrimSpace(text), " ") {
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > textWidth {
			t.line("%s", line)
			line, empty = indent, true
		}
		if !empty {
			line += " "
		}
		line, empty = line+word, false
	}
	t.line("%s", line)
}

func (t *textPlan) warnings() {
	t.line("")
	if len(t.plan.Warnings) == 0 {
		t.say("text.nothing")
		return
	}
	t.say("text.look")
	shown := map[string]bool{} // fixes by their change
	for _, w := range t.plan.Warnings {
		cause := w.Cause
		if w.ChancePct > 0 && w.ChancePct < 100 && !say.CauseSaysChance(w.Kind) {
			cause = t.q.Say("text.chance", "warning", cause, "chance", t.q.Chance(w.ChancePct))
		}
		t.paragraph(fmt.Sprintf("  %-9s  %-9s  ", t.q.ShortAt(w.At), t.q.Say("text.grade."+w.Grade)), cause)
		again := 0
		for _, o := range w.Fixes {
			if key := string(o.Change); key != "" && key != "{}" && shown[key] {
				again++
				continue
			}
			shown[string(o.Change)] = true
			t.paragraph(strings.Repeat(" ", 24)+"→ ", o.Action+t.effect(w, o)+t.alsoFor(w, o))
		}
		if again > 0 {
			t.paragraph(strings.Repeat(" ", 24)+"→ ", t.q.Say("text.again"))
		}
	}
}

// alsoFor says what a fix does for the warnings after the one that it is listed with.
func (t *textPlan) alsoFor(first models.Warning, o models.Fix) string {
	out, after := "", false
	for _, w := range t.plan.Warnings {
		if w.Kind == first.Kind && w.At.Equal(first.At) && w.Cause == first.Cause {
			after = true
			continue
		}
		for _, x := range w.Fixes {
			if after && len(o.Change) > 2 && string(x.Change) == string(o.Change) && w.ChancePct > 0 {
				out += t.q.Say("text.also", "at", t.q.ShortAt(w.At), "then", t.q.Chance(x.Effect.ChancePct), "now", t.q.Chance(w.ChancePct))
			}
		}
	}
	return out
}

// effect says what a fix changes and costs.
func (t *textPlan) effect(w models.Warning, o models.Fix) string {
	var parts []string
	now, then := t.q.Chance(w.ChancePct), t.q.Chance(o.Effect.ChancePct)
	switch {
	case w.ChancePct >= 100 && o.Effect.ChancePct == 0:
		parts = append(parts, t.q.Say("text.solves"))
	case w.ChancePct > 0 && now != then:
		parts = append(parts, t.q.Say("text.then", "now", now, "then", then))
	case o.Effect.Amount < w.Amount:
		parts = append(parts, t.q.Say("text.less", "then", t.q.WarningAmount(o.Effect.Amount, w.Unit), "now", t.q.WarningAmount(w.Amount, w.Unit)))
	}
	switch {
	case o.Cost >= say.LeastMoney(t.req.Site.Currency):
		parts = append(parts, t.q.Say("text.costs", "money", t.q.WholeMoney(o.Cost, t.req.Site.Currency)))
	case o.Cost <= -say.LeastMoney(t.req.Site.Currency):
		parts = append(parts, t.q.Say("text.saves", "money", t.q.WholeMoney(-o.Cost, t.req.Site.Currency)))
	}
	if len(parts) == 0 {
		return ""
	}
	return t.q.Say("text.effect", "effects", strings.Join(parts, t.q.Say("said.comma")))
}

// expected says what the plan is expected to sell, miss and pour away, and what that costs.
func (t *textPlan) expected() {
	e := &t.plan.Expected
	t.line("")
	t.say("money.title")
	if all := t.q.Expected(e, t.req.Site.Currency); all != "" {
		t.paragraph("  ", all)
	}
	if len(e.PouredAway) > 0 {
		var items []string
		for _, p := range e.PouredAway {
			items = append(items, t.q.Say("money.poured_item", "mass", t.q.GlanceMass(p.G), "beverage", t.names[p.Beverage]))
		}
		t.paragraph("  ", t.q.Say("money.poured_list", "list", strings.Join(items, t.q.Say("said.comma"))))
	}
	c := &e.Cost
	t.paragraph("  ", t.q.Say("money.sum", "total", t.money(c.Total), "brewing", t.money(c.Brewing), "aging", t.money(c.Aging),
		"poured", t.money(c.PouredAway), "missed", t.money(c.MissedSales)))
}

func (t *textPlan) money(minor float64) string { return t.q.Money(minor, t.req.Site.Currency) }

func (t *textPlan) foot() {
	t.expected()
	if len(t.plan.Cautions) > 0 {
		t.line("")
		t.say("text.care")
		for _, s := range t.plan.Cautions {
			t.paragraph("  - ", s)
		}
	}
}

// table is rows of cells under a head; numbers are aligned right, words left.
type table struct {
	head  []string
	right []bool
	rows  [][]string
}

// table makes a table with columns of these names; ">" before a name aligns the column right.
func (t *textPlan) table(columns ...string) *table {
	out := &table{}
	for _, c := range columns {
		name, right := strings.CutPrefix(c, ">")
		out.head, out.right = append(out.head, t.q.Say("text.column."+name)), append(out.right, right)
	}
	return out
}

func (t *table) add(cells ...string) { t.rows = append(t.rows, cells) }

// write writes the table without the columns that are empty in every row.
func (t *table) write(p *textPlan, indent string) {
	width := make([]int, len(t.head))
	for _, row := range t.rows {
		for i, c := range row {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	for _, row := range append([][]string{t.head}, t.rows...) {
		line := indent
		for i, c := range row {
			if width[i] == 0 {
				continue
			}
			n := max(width[i], utf8.RuneCountInString(t.head[i]))
			pad := strings.Repeat(" ", n-utf8.RuneCountInString(c))
			if t.right[i] {
				line += pad + c + "  "
			} else {
				line += c + pad + "  "
			}
		}
		p.line("%s", line)
	}
}

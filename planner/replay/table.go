package replay

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// Sums are the totals of a span of days under every policy.
type Sums struct {
	Name         string
	Figures      [methods]Figures // of each method as it is
	Points       []Figures        // of the Result's Points
	Rows, Inside float64
}

// Spans are the totals by month, of Saturdays and Sundays, of days above 28 °C, and last of the whole season.
func (r *Result) Spans() []Sums {
	v := say.For(r.Site)
	var months []Sums
	weekend, hot, all := Sums{Name: v.Say("replay.weekends")}, Sums{Name: v.Say("replay.hot_days", "temp", v.WholeTemp(parHotC))}, Sums{Name: v.Say("replay.whole_season")}
	month := ""
	for i := range r.Days {
		d := &r.Days[i]
		if m := string(d.Date[:7]); m != month {
			month = m
			months = append(months, Sums{Name: v.Say("replay.month", "month", monthOf(v, d.Date), "year", m[:4])})
		}
		months[len(months)-1].add(d)
		all.add(d)
		if w := d.Date.Weekday(); w == time.Saturday || w == time.Sunday {
			weekend.add(d)
		}
		if d.TempC > parHotC {
			hot.add(d)
		}
	}
	for _, s := range []Sums{weekend, hot} {
		if s.Figures[Plan].OpenDays > 0 {
			months = append(months, s)
		}
	}
	return append(months, all)
}

func (s *Sums) add(d *DayResult) {
	for m := range s.Figures {
		s.Figures[m].add(&d.Figures[m])
	}
	if s.Points == nil {
		s.Points = make([]Figures, len(d.Points))
	}
	for k := range d.Points {
		s.Points[k].add(&d.Points[k])
	}
	s.Rows += d.Rows
	s.Inside += d.Inside
}

// monthOf is the name of a date's month.
func monthOf(v say.Voice, d models.Date) string {
	return v.Say("date.month." + strconv.Itoa(int(d.At(12*60, time.UTC).Month())))
}

// dates are the first and last day of the result, in words.
func (r *Result) dates(v say.Voice) (from, to string) {
	if len(r.Days) == 0 {
		return string(r.From), string(r.To)
	}
	return v.DayYear(r.From.At(12*60, v.Location())), v.DayYear(r.To.At(12*60, v.Location()))
}

var methodKeys = [methods]string{"replay.method.plan", "replay.method.no_choices", "replay.method.replanned", "replay.method.par", "replay.method.foresight"}

// WriteText writes a table to read.
func WriteText(w io.Writer, r *Result) error {
	var b strings.Builder
	t := textWriter{r: r, Voice: say.For(r.Site), decimals: say.MoneyDecimals(r.Site.Currency)}
	t.head(&b)
	spans := r.Spans()
	t.rows = r.compared()
	for _, s := range spans {
		t.span(&b, &s)
	}
	t.foot(&b, &spans[len(spans)-1])
	t.curve(&b)
	_, err := io.WriteString(w, b.String())
	return err
}

type textWriter struct {
	say.Voice
	r        *Result
	decimals int      // of the currency
	rows     []Policy // of each span
}

// columns are the cells of the table's rows after the name.
const columns = " %12s %12s %12s %10s %10s %9s %9s"

func (t *textWriter) head(b *strings.Builder) {
	from, to := t.r.dates(t.Voice)
	b.WriteString(t.Say("replay.title", "site", t.r.Site.Name, "from", from, "to", to) + "\n")
	if t.r.Title != "" {
		b.WriteString(wrap(t.r.Title, 100))
	}
	b.WriteString("\n")
	var rows [2][]any // each heading has two lines
	for _, key := range []string{"cost", "above", "total", "poured", "missed", "ice_short", "inside"} {
		first, second, _ := strings.Cut(t.Say("replay.column."+key, "currency", t.r.Site.Currency, "mass", t.MassUnit()), "\n")
		rows[0], rows[1] = append(rows[0], first), append(rows[1], second)
	}
	for _, row := range rows {
		b.WriteString(strings.TrimRight(fmt.Sprintf("%-19s"+columns, append([]any{""}, row...)...), " ") + "\n")
	}
}

func (t *textWriter) span(b *strings.Builder, s *Sums) {
	b.WriteString("\n" + t.Say("replay.span", "span", s.Name, "n", s.Figures[Plan].OpenDays, "drinks", say.Number(s.Figures[Plan].Demand, 0)) + "\n")
	least := s.Figures[Foresight].Cost()
	for _, p := range t.rows {
		f := t.r.of(s, p)
		share := "–"
		if p == (Policy{Method: Plan}) && s.Rows > 0 {
			share = t.Say("replay.pct", "pct", say.Number(100*s.Inside/s.Rows, 0))
		}
		fmt.Fprintf(b, "  %-17s"+columns+"\n", policyName(t.Voice, p), t.money(f.Cost()), t.money(f.Cost()-least), t.money(f.Total()),
			say.Number(f.PouredG/say.Per(t.MassUnit()), 1), t.Number(f.Missed, 1), t.Number(f.IceShortH, 2), share)
	}
	best := t.r.BestPar()
	par := t.r.of(s, best)
	if par.Cost() <= 0 {
		return
	}
	compare := func(key string, f *Figures, args ...any) {
		b.WriteString("  " + t.Say(key, append(args, "cost", t.relativeTo(f.Cost(), par.Cost()), "total", t.relativeTo(f.Total(), par.Total()))...) + "\n")
	}
	if best.Setting > 0 {
		compare("replay.plan_cost_best", &s.Figures[Plan], "factor", plainNumber(best.Setting))
	} else {
		compare("replay.plan_cost", &s.Figures[Plan])
	}
	if slices.Contains(t.r.Methods, Replanned) {
		compare("replay.replanned_cost", &s.Figures[Replanned])
	}
}

// curve lists every policy's coffee poured away and drinks missed over the whole season.
func (t *textWriter) curve(b *strings.Builder) {
	points := t.r.Curve()
	if len(points) <= len(t.r.Methods) {
		return
	}
	b.WriteString("\n" + t.Say("replay.curve.head") + "\n")
	head := []any{""}
	for _, key := range []string{"cost", "above", "poured", "missed"} {
		head = append(head, strings.ReplaceAll(t.Say("replay.column."+key, "currency", t.r.Site.Currency, "mass", t.MassUnit()), "\n", " "))
	}
	const row = "  %-24s %14s %16s %16s %14s\n"
	fmt.Fprintf(b, row, head...)
	least := 0.0
	for _, x := range points {
		if x.Method == Foresight {
			least = x.Figures.Cost()
		}
	}
	for _, x := range points {
		f := &x.Figures
		fmt.Fprintf(b, row, policyName(t.Voice, x.Policy), t.money(f.Cost()), t.money(f.Cost()-least), say.Number(f.PouredG/say.Per(t.MassUnit()), 1), t.Number(f.Missed, 1))
	}
	b.WriteString("\n" + wrap(t.Say("replay.terms_par"), 100))
}

// relativeTo is the difference of x from by in words.
func (t *textWriter) relativeTo(x, by float64) string {
	if pct := 100 * (x/by - 1); pct > 0 {
		return t.Say("replay.more", "pct", t.Number(pct, 1))
	}
	return t.Say("replay.less", "pct", t.Number(100*(1-x/by), 1))
}

// money formats minor units in the site's currency.
func (t *textWriter) money(minor float64) string {
	x := minor / math.Pow10(t.decimals)
	if x == 0 || math.Abs(x) < 0.5*math.Pow10(-t.decimals) {
		x = 0
	}
	return fmt.Sprintf("%.*f", t.decimals, x)
}

// foot breaks down the total cost and explains the terms.
func (t *textWriter) foot(b *strings.Builder, all *Sums) {
	const row = "  %-17s %10s %12s %12s %12s %12s %12s\n"
	head := []any{""}
	for _, key := range []string{"batches", "batch_cost", "poured_cost", "disposal", "ageing", "missed_cost"} {
		head = append(head, t.Say("replay.part."+key))
	}
	b.WriteString("\n" + t.Say("replay.parts") + "\n")
	fmt.Fprintf(b, row, head...)
	for _, p := range t.rows {
		x := t.r.of(all, p)
		fmt.Fprintf(b, row, policyName(t.Voice, p), strconv.Itoa(x.Batches), t.money(x.BatchCost), t.money(x.PouredCoffee), t.money(x.Disposal), t.money(x.Aging), t.money(x.Lost))
	}
	b.WriteString("\n" + wrap(t.Say("replay.terms", "temp", t.WholeTemp(parHotC)), 100))
}

// wrap breaks text into lines of at most width characters.
func wrap(s string, width int) string {
	var b strings.Builder
	n := 0
	for _, word := range strings.Fields(s) {
		switch l := len([]rune(word)); {
		case n == 0:
			n = l
		case n+1+l > width:
			b.WriteByte('\n')
			n = l
		default:
			b.WriteByte(' ')
			n += 1 + l
		}
		b.WriteString(word)
	}
	b.WriteByte('\n')
	return b.String()
}

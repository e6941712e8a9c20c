package replay

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"golang.org/x/text/currency"

	"hotday/models"
)

// Sums are the totals of a span of days under every method.
type Sums struct {
	Name         string
	Figures      [methods]Figures
	Rows, Inside float64
}

// Spans are the totals by month, of Saturdays and Sundays, of days above 28 °C, and last of the whole season.
func (r *Result) Spans() []Sums {
	var months []Sums
	weekend, hot, all := Sums{Name: "Saturdays and Sundays"}, Sums{Name: fmt.Sprintf("days above %.0f °C", parHotC)}, Sums{Name: "whole season"}
	for i := range r.Days {
		d := &r.Days[i]
		name := monthOf(d.Date)
		if len(months) == 0 || months[len(months)-1].Name != name {
			months = append(months, Sums{Name: name})
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
	s.Rows += d.Rows
	s.Inside += d.Inside
}

func monthOf(d models.Date) string {
	t := d.At(12*60, time.UTC)
	return t.Month().String() + t.Format(" 2006")
}

// WriteText writes a table to read.
func WriteText(w io.Writer, r *Result) error {
	var b strings.Builder
	t := textWriter{r: r, digits: 2}
	if u, err := currency.ParseISO(r.Currency); err == nil {
		t.digits, _ = currency.Standard.Rounding(u)
	}
	t.head(&b)
	spans := r.Spans()
	for _, s := range spans {
		t.span(&b, &s)
	}
	t.foot(&b, &spans[len(spans)-1])
	_, err := io.WriteString(w, b.String())
	return err
}

type textWriter struct {
	r      *Result
	digits int
}

func (t *textWriter) head(b *strings.Builder) {
	r := t.r
	fmt.Fprintf(b, "%s, %s to %s\n", r.Site, r.From, r.To)
	if r.Title != "" {
		b.WriteString(wrap(r.Title, 100))
	}
	row := func(name string, cells ...any) {
		fmt.Fprintf(b, "%s\n", strings.TrimRight(fmt.Sprintf("%-18s %12s %12s %12s %10s %10s %9s %9s", append([]any{name}, cells...)...), " "))
	}
	b.WriteString("\n")
	row("", "cost", "above", "with all", "poured", "drinks", "ice", "inside")
	row("", r.Currency, "foresight", "coffee", "away kg", "missed", "short h", "10–90 %")
}

func (t *textWriter) span(b *strings.Builder, s *Sums) {
	days := "days"
	if s.Figures[Plan].OpenDays == 1 {
		days = "day"
	}
	fmt.Fprintf(b, "\n%s, %d open %s, %.0f drinks asked for\n", s.Name, s.Figures[Plan].OpenDays, days, s.Figures[Plan].Asked)
	least := s.Figures[Foresight].Cost()
	for _, m := range t.r.Methods {
		f := &s.Figures[m]
		share := "–"
		if m == Plan && s.Rows > 0 {
			share = fmt.Sprintf("%.0f %%", 100*s.Inside/s.Rows)
		}
		fmt.Fprintf(b, "  %-16s %12s %12s %12s %10.1f %10.1f %9.2f %9s\n", m, t.money(f.Cost()), t.money(f.Cost()-least), t.money(f.Total()), f.PouredG/1000, f.Missed, f.IceShortH, share)
	}
	if par := &s.Figures[Par]; par.Cost() > 0 {
		fmt.Fprintf(b, "  The plan's cost is %s the par sheet's; with all coffee %s.\n", relativeTo(s.Figures[Plan].Cost(), par.Cost()), relativeTo(s.Figures[Plan].Total(), par.Total()))
		if f := &s.Figures[Replanned]; slices.Contains(t.r.Methods, Replanned) {
			fmt.Fprintf(b, "  Replanned through the day it is %s; with all coffee %s.\n", relativeTo(f.Cost(), par.Cost()), relativeTo(f.Total(), par.Total()))
		}
	}
}

// relativeTo is the difference of x from by in words.
func relativeTo(x, by float64) string {
	word, pct := "below", 100*(1-x/by)
	if pct < 0 {
		word, pct = "above", -pct
	}
	return fmt.Sprintf("%.1f %% %s", pct, word)
}

// money formats minor units in the site's currency.
func (t *textWriter) money(minor float64) string {
	x := minor / math.Pow10(t.digits)
	if x == 0 || math.Abs(x) < 0.5*math.Pow10(-t.digits) {
		x = 0
	}
	return fmt.Sprintf("%.*f", t.digits, x)
}

// foot explains the parts of the total cost and the terms.
func (t *textWriter) foot(b *strings.Builder, all *Sums) {
	f := &all.Figures
	b.WriteString("\nWhat the cost of the season is made of\n")
	fmt.Fprintf(b, "  %-16s %10s %12s %12s %12s %12s %12s\n", "", "batches", "batch cost", "coffee gone", "disposal", "ageing", "drinks lost")
	for _, m := range t.r.Methods {
		x := &f[m]
		fmt.Fprintf(b, "  %-16s %10d %12s %12s %12s %12s %12s\n", m, x.Batches, t.money(x.BatchCost), t.money(x.PouredCoffee), t.money(x.Disposal), t.money(x.Aging), t.money(x.Lost))
	}
	b.WriteString("\n")
	b.WriteString(wrap("Cost is batches, coffee poured away, disposal, ageing and the contribution of drinks missed, in the set-up's own prices: the schedule's "+
		"objective on the demand that came, less the coffee of the drinks asked for, which is the same for all; \"with all coffee\" has it in. "+
		"The par sheet is the average of the last four same weekdays, and 20 % more on a day above 28 °C, its batches laid out by the same solver.", 100))
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

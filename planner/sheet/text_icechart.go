package sheet

import (
	"io"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// The ice chart in characters: rows in eighths, a column for each span of time.
const (
	chartRows  = 5
	chartWidth = 64 // columns at most
)

var chartEighths = []rune(" ▁▂▃▄▅▆▇█")

// WriteIceChart draws the ice for drinks in the bin over the working hours of a day, with its scale, its hours and its lowest point. It
// writes nothing for a day on which nobody works or for which the plan has no levels. It returns the error of w.
func WriteIceChart(w io.Writer, setup models.Setup, p models.Plan, d models.Date) error {
	t := newTextPlan(&models.PlanRequest{Setup: setup}, &p)
	t.iceChart(d)
	_, err := io.WriteString(w, plainSpaces(t.out.String()))
	return err
}

// iceChart draws the ice chart of a day.
func (t *textPlan) iceChart(d models.Date) {
	people := t.req.Site.StaffSpans(d)
	if len(people) == 0 {
		return
	}
	span := models.Span{From: people[0].From, To: people[len(people)-1].To}
	levels := levelsWithin(t.plan.Ice.Levels, span)
	if len(levels) == 0 {
		return
	}
	step := chartStep(span)
	top, lowest := 0.0, levels[0]
	var columns []float64 // the lowest level of each, so that a short dip shows
	for _, l := range levels {
		top = max(top, l.G)
		if l.G < lowest.G {
			lowest = l
		}
		i := int(l.At.Sub(span.From) / step)
		for len(columns) < i { // columns without a level, such as those before a plan of the rest of a day begins
			before := l.G
			if n := len(columns); n > 0 {
				before = columns[n-1]
			}
			columns = append(columns, before)
		}
		if i == len(columns) {
			columns = append(columns, l.G)
		} else {
			columns[i] = min(columns[i], l.G)
		}
	}
	t.line("")
	empty := ""
	for _, r := range t.plan.RunOuts() {
		if span.Contains(r.At) {
			empty = t.q.Say("text.bin_empty", "at", t.by(r.At, d), "chance", t.q.AboutChance(r.ChancePct))
			break
		}
	}
	t.line("  %s", t.q.Say("text.bin", "mass", t.q.GlanceMass(levels[0].G), "at", t.by(levels[0].At, d), "lowest", t.q.GlanceMass(lowest.G), "when", t.by(lowest.At, d), "empty", empty))
	for row := chartRows; row >= 1; row-- {
		label, axis := "", "|"
		switch row {
		case chartRows:
			label = t.q.GlanceMass(top)
		case (chartRows + 1) / 2:
			label = t.q.GlanceMass(top * (float64(row) - 0.5) / chartRows)
		}
		line := ""
		for _, g := range columns {
			line += string(chartEighths[eighths(g, top, row)])
		}
		t.line("    %s %s%s", right(label, 9), axis, line)
	}
	ruler, clock := chartHours(t, span, step, len(columns))
	t.line("    %s +%s", right("0", 9), ruler)
	t.line("    %s  %s", right("", 9), clock)
}

// eighths is how much of a row, counted from 1 at the bottom, a level fills. Any ice at all fills at least one.
func eighths(g, top float64, row int) int {
	if top <= 0 || g <= 0 {
		return 0
	}
	n := int(g/top*chartRows*8+0.5) - 8*(row-1)
	if row == 1 {
		n = max(n, 1)
	}
	return min(max(n, 0), 8)
}

// chartStep is the time of a column: a quarter, a half or whole hours, so that the day fits.
func chartStep(span models.Span) time.Duration {
	for _, step := range []time.Duration{15 * time.Minute, 30 * time.Minute, time.Hour} {
		if span.To.Sub(span.From) <= step*chartWidth {
			return step
		}
	}
	return 2 * time.Hour
}

// chartHours returns the ruler under the chart and the hours under that.
func chartHours(t *textPlan, span models.Span, step time.Duration, columns int) (ruler, clock string) {
	marks, words := []rune(strings.Repeat("-", columns)), []rune(strings.Repeat(" ", columns+8))
	free := 0
	for i := range columns {
		at := span.From.Add(time.Duration(i) * step).In(t.loc)
		if at.Minute() != 0 || at.Hour()%2 != 0 {
			continue
		}
		marks[i] = '+'
		word := []rune(plainSpaces(t.q.Hour(at)))
		if i >= free {
			copy(words[i:], word)
			free = i + len(word) + 1
		}
	}
	return string(marks), strings.TrimRight(string(words), " ")
}

func levelsWithin(levels []models.IceLevel, span models.Span) []models.IceLevel {
	var out []models.IceLevel
	for _, l := range levels {
		if !l.At.Before(span.From) && !l.At.After(span.To) {
			out = append(out, l)
		}
	}
	return out
}

func right(s string, width int) string {
	return strings.Repeat(" ", max(0, width-len([]rune(plainSpaces(s))))) + s
}

// plainSpaces replaces no-break spaces by ordinary ones, which people can search for. The lines are broken already.
func plainSpaces(s string) string {
	return strings.NewReplacer(say.NoBreak, " ", "\u00a0", " ").Replace(s)
}

var asciiFor = strings.NewReplacer("▁", ".", "▂", ".", "▃", ":", "▄", ":", "▅", "+", "▆", "+", "▇", "#", "█", "#", "·", "-", "–", "-", "−", "-", "→", "->",
	"\u202f°", " deg ", " °", " deg ", "°", " deg ", "…", "...", "×", "x", "“", `"`, "”", `"`, "’", "'", "\u00a0", " ", say.NoBreak, " ",
	"ä", "a", "ö", "o", "ü", "u", "Ä", "A", "Ö", "O", "Ü", "U", "ß", "ss", "é", "e", "è", "e", "ê", "e", "à", "a", "â", "a", "ç", "c", "ñ", "n", "É", "E")

// ASCII rewrites a text for a terminal that shows nothing else: the ice chart in dots and crosses, "?" for characters without a likeness.
func ASCII(s string) string {
	return strings.Map(func(r rune) rune {
		if r > '~' {
			return '?'
		}
		return r
	}, asciiFor.Replace(s))
}

package sheet

import (
	"io"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// The tide in characters: rows of eighths, one column for a span of time.
const (
	tideRows  = 5
	tideWidth = 64 // columns at most
)

var tideEighths = []rune(" ▁▂▃▄▅▆▇█")

// WriteTideText draws the drink ice in the bin over the working hours of a day, with its scale, its hours and its lowest point. A day
// on which nobody works, or of which the plan knows no levels, gives nothing.
func WriteTideText(w io.Writer, setup models.Setup, p models.Plan, d models.Date) error {
	t := newTextPlan(&models.PlanRequest{Setup: setup}, &p)
	t.tideOf(d)
	_, err := io.WriteString(w, plainSpaces(t.out.String()))
	return err
}

// tideOf draws the tide of a day.
func (t *textPlan) tideOf(d models.Date) {
	people := t.req.Site.PeopleSpans(d)
	if len(people) == 0 {
		return
	}
	span := models.Span{From: people[0].From, To: people[len(people)-1].To}
	levels := levelsWithin(t.plan.Ice.Levels, span)
	if len(levels) == 0 {
		return
	}
	step := tideStep(span)
	top, lowest := 0.0, levels[0]
	var columns []float64 // the lowest of each: a short dip is not passed over
	for _, l := range levels {
		top = max(top, l.G)
		if l.G < lowest.G {
			lowest = l
		}
		i := int(l.At.Sub(span.From) / step)
		if i == len(columns) {
			columns = append(columns, l.G)
		} else if i < len(columns) {
			columns[i] = min(columns[i], l.G)
		} else {
			columns = append(columns, columns[len(columns)-1], l.G)
		}
	}
	t.line("")
	key, empty := "text.tide", ""
	for _, l := range levels {
		if l.P10G <= 1 {
			key, empty = "text.tide_empty", t.by(l.At, d)
			break
		}
	}
	t.line("  %s", t.q.Say(key, "mass", t.q.Mass(levels[0].G), "at", t.by(levels[0].At, d), "lowest", t.q.Mass(lowest.G), "when", t.by(lowest.At, d), "empty", empty))
	for row := tideRows; row >= 1; row-- {
		label, axis := "", "|"
		switch row {
		case tideRows:
			label = t.q.Mass(top)
		case (tideRows + 1) / 2:
			label = t.q.Mass(top * (float64(row) - 0.5) / tideRows)
		}
		line := ""
		for _, g := range columns {
			line += string(tideEighths[eighths(g, top, row)])
		}
		t.line("    %s %s%s", right(label, 9), axis, line)
	}
	ruler, clock := tideHours(t, span, step, len(columns))
	t.line("    %s +%s", right("0", 9), ruler)
	t.line("    %s  %s", right("", 9), clock)
}

// eighths is how much of a row, counted from 1 at the bottom, a level fills. What is left of a last bit of ice is shown.
func eighths(g, top float64, row int) int {
	if top <= 0 || g <= 0 {
		return 0
	}
	n := int(g/top*tideRows*8+0.5) - 8*(row-1)
	if row == 1 {
		n = max(n, 1)
	}
	return min(max(n, 0), 8)
}

// tideStep is the span of a column: a quarter, a half or whole hours, so that the day fits.
func tideStep(span models.Span) time.Duration {
	for _, step := range []time.Duration{15 * time.Minute, 30 * time.Minute, time.Hour} {
		if span.To.Sub(span.From) <= step*tideWidth {
			return step
		}
	}
	return 2 * time.Hour
}

// tideHours are the ruler under the tide and the hours under it.
func tideHours(t *textPlan, span models.Span, step time.Duration, columns int) (ruler, clock string) {
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

// plainSpaces has ordinary spaces where numbers are parted by one that does not break a line: text for a terminal does not break
// there, and an ordinary space can be searched for.
func plainSpaces(s string) string { return strings.ReplaceAll(s, say.Narrow, " ") }

var asciiFor = strings.NewReplacer("▁", ".", "▂", ".", "▃", ":", "▄", ":", "▅", "+", "▆", "+", "▇", "#", "█", "#", "·", "-", "–", "-", "−", "-", "→", "->",
	"\u202f°", " deg ", " °", " deg ", "°", " deg ", "…", "...", "×", "x", "“", `"`, "”", `"`, "’", "'", "\u00a0", " ", say.Narrow, " ",
	"ä", "a", "ö", "o", "ü", "u", "Ä", "A", "Ö", "O", "Ü", "U", "ß", "ss", "é", "e", "è", "e", "ê", "e", "à", "a", "â", "a", "ç", "c", "ñ", "n", "É", "E")

// ASCII writes a text for a terminal that shows nothing else: the tide in dots and crosses, "?" for what has no likeness.
func ASCII(s string) string {
	return strings.Map(func(r rune) rune {
		if r > '~' {
			return '?'
		}
		return r
	}, asciiFor.Replace(s))
}

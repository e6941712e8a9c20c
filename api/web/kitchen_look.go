package web

import (
	"math"

	"hotday/models"
	"hotday/planner/sheet"
)

// lookAnswer is an answer to a look at what is left of a beverage, one touch on the wall screen.
type lookAnswer struct {
	LeftG float64
	Left  string // "3 jugs"
}

// mostJugs is the number of answers in whole jugs that fit on the wall screen.
const mostJugs = 9

// askWhatIsLeft words a look: what each answer means, and the answers. They are whole jugs where the site has named one, else the ranges.
func (t *kitchenTask) askWhatIsLeft(look *models.Task, setup models.Setup, q voice) {
	c := look.Choice
	t.Title = q.Say("kitchen.left_of", "beverage", t.Title)
	jug := setup.Site.JugG
	last := 0.0
	for k, o := range c.Options {
		left, act := sheet.LookOption(c, k, setup)
		t.Lines = append(t.Lines, emphasiseNumbers(q.Say("kitchen.left_means", "left", left, "act", act)))
		g := last
		if o.BelowG != nil {
			g = (last + *o.BelowG) / 2
			last = *o.BelowG
		}
		if jug <= 0 {
			t.Answers = append(t.Answers, lookAnswer{LeftG: g, Left: left})
		}
	}
	if jug > 0 {
		most := min(int(math.Ceil(last/jug))+1, mostJugs)
		for n := range most + 1 {
			key := "kitchen.jugs"
			if n == most {
				key = "kitchen.jugs_or_more"
			}
			t.Answers = append(t.Answers, lookAnswer{LeftG: float64(n) * jug, Left: q.Say(key, "n", n)})
		}
	}
	t.Lines = append(t.Lines, emphasiseNumbers(q.Say("kitchen.left_counts")))
}

package audit

import (
	"time"

	"hotday/models"
)

var choiceRules = []Rule{
	{"choices.options", "The more is left, the less is brewed; the last option has no limit, and the default is what the plan brews.", choiceOptions},
	{"choices.sizes", "Every size of a choice is the same recipe.", choiceSizes},
	{"choices.look", "A look is on the day of its batch, at its start or up to an hour before, with at most three a day and one of a beverage.", choiceLooks},
	{"choices.sheet", "Each look is a line of the sheet that wants an answer, and its batch says that it waits for it.", choiceSheet},
}

// lookAhead is how long before its batch a look may be.
const lookAhead = time.Hour

func choiceOptions(p *Papers, report report) {
	for _, c := range p.plan.Choices {
		if len(c.Options) < 2 {
			report(c.ID, "%d options leave nothing to choose", len(c.Options))
			continue
		}
		below, share := 0.0, 0.0
		for k, o := range c.Options {
			last := k == len(c.Options)-1
			switch {
			case last != (o.BelowG == nil):
				report(c.ID, "option %d of %d: only the last is for any amount", k+1, len(c.Options))
			case !last && *o.BelowG <= below:
				report(c.ID, "below %.0f g after below %.0f g", *o.BelowG, below)
			case !last:
				below = *o.BelowG
			}
			if k > 0 && grams(o.Batch) >= grams(c.Options[k-1].Batch) {
				report(c.ID, "%.0f g where more is left than for %.0f g", grams(o.Batch), grams(c.Options[k-1].Batch))
			}
			share += o.Chance
		}
		if !near(share, 1, 1e-6, 0) {
			report(c.ID, "chances of %.3f in all", share)
		}
		b := p.batchOf(c.ID)
		switch {
		case c.Default < 0 || c.Default >= len(c.Options):
			report(c.ID, "default %d of %d options", c.Default, len(c.Options))
		case c.Options[c.Default].Batch == nil && b != nil:
			report(c.ID, "%s is in the plan and not the default", b.ID)
		case c.Options[c.Default].Batch != nil && (b == nil || !near(b.BeverageG, grams(c.Options[c.Default].Batch), 1, 0)):
			report(c.ID, "the plan does not brew the default")
		}
		if c.Saves <= 0 {
			report(c.ID, "saves nothing")
		}
	}
}

// grams is what a batch makes, 0 for none.
func grams(b *batch) float64 {
	if b == nil {
		return 0
	}
	return b.BeverageG
}

// batchOf is the batch of the plan that a choice is about.
func (p *Papers) batchOf(choice string) *batch {
	for i := range p.plan.Batches {
		if p.plan.Batches[i].Choice == choice {
			return &p.plan.Batches[i]
		}
	}
	return nil
}

func choiceSizes(p *Papers, report report) {
	for _, c := range p.plan.Choices {
		own := p.batchOf(c.ID)
		if own == nil {
			continue
		}
		for _, o := range c.Options {
			b := o.Batch
			if b == nil {
				continue
			}
			share := b.BeverageG / own.BeverageG
			lots := 0.0
			for _, l := range b.Lots {
				lots += l.G
			}
			var all float64
			for _, l := range own.Lots {
				all += l.G
			}
			for _, x := range []struct {
				what      string
				want, has float64
			}{{"coffee", own.DoseG * share, b.DoseG}, {"water", own.BrewWaterG * share, b.BrewWaterG}, {"ice", own.IceG * share, b.IceG}, {"beans", all * share, lots}} {
				if !near(x.has, x.want, 25, 0.04) {
					report(c.ID, "%.0f g of %s where the recipe has %.0f g", x.has, x.what, x.want)
				}
			}
		}
	}
}

func choiceLooks(p *Papers, report report) {
	days, seen := map[models.Date]int{}, map[string]bool{}
	for _, c := range p.plan.Choices {
		if b := p.batchOf(c.ID); b != nil && (c.LookAt.After(b.Start) || c.LookAt.Before(b.Start.Add(-lookAhead))) {
			report(c.ID, "a look at %s for a batch at %s", p.clock(c.LookAt), p.clock(b.Start))
		}
		if c.LookAt.Before(p.plan.ComputedAt) {
			report(c.ID, "a look at %s, before the plan", p.clock(c.LookAt))
		}
		if days[c.Date]++; days[c.Date] > 3 {
			report(c.ID, "%d looks on %s", days[c.Date], c.Date)
		}
		if key := string(c.Date) + c.Beverage; seen[key] {
			report(c.ID, "looked at twice on %s", c.Date)
		} else {
			seen[key] = true
		}
	}
}

func choiceSheet(p *Papers, report report) {
	for _, c := range p.plan.Choices {
		found, waits := false, false
		for _, t := range p.tasks {
			if t.Kind == models.TaskLook && t.Choice != nil && t.Choice.ID == c.ID {
				found = true
				if !t.Mark {
					report(c.ID, "nobody is asked to answer")
				}
				if !t.At.Equal(c.LookAt) {
					report(c.ID, "at %s on the sheet, %s in the plan", p.clock(t.At), p.clock(c.LookAt))
				}
			}
			if t.Kind == models.TaskBrew && t.Batch != nil && t.Batch.Choice == c.ID {
				waits = true
			}
		}
		if !found {
			report(c.ID, "on no sheet")
		}
		if p.batchOf(c.ID) != nil && !waits {
			report(c.ID, "its batch does not wait for it")
		}
	}
}

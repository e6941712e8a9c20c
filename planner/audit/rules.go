package audit

import (
	"cmp"
	"fmt"
	"slices"

	"hotday/models"
)

// Finding is a breach of a rule. Of names the batch, task, fill or warning that it is about.
type Finding struct {
	Rule string `json:"rule"`
	Of   string `json:"of"`
	Text string `json:"text"`
}

func (f Finding) String() string { return f.Rule + " · " + f.Of + ": " + f.Text }

// Rule is one rule for plans and prep sheets.
type Rule struct {
	Code  string
	Says  string
	check func(p *Papers, report report)
}

// report notes a finding of the rule being checked.
type report func(of, format string, args ...any)

// Rules lists the rules.
func Rules() []Rule {
	return slices.Concat(waterRules, beanRules, iceRules, trayRules, bathRules, peopleRules, handsRules, amountRules, foodRules, cautionRules, moneyRules, choiceRules, sheetRules)
}

// Findings checks every rule. It is empty if there is nothing to find.
func (p *Papers) Findings() []Finding {
	var out []Finding
	for _, rule := range Rules() {
		rule.check(p, func(of, format string, args ...any) {
			out = append(out, Finding{rule.Code, of, fmt.Sprintf(format, args...)})
		})
	}
	return out
}

// Readable is the rule that the documents can be read at all, with every date and time in them. No other rule is checked where they
// cannot.
const Readable = "documents.readable"

// Audit reads a plan and its prep sheets and checks every rule.
func Audit(r *models.PlanRequest, planJSON, sheetsJSON []byte) []Finding {
	p, err := Read(r, planJSON, sheetsJSON)
	if err != nil {
		return []Finding{{Readable, "documents", err.Error()}}
	}
	return p.Findings()
}

// Count is how many findings a rule has in how many plans, with the first of them.
type Count struct {
	Rule     string
	Findings int
	Plans    int
	First    string
}

// Tally counts findings by rule, the rules with most plans first. Each element of all is one plan's; names name the plans.
func Tally(names []string, all [][]Finding) []Count {
	byRule := map[string]*Count{}
	for i, list := range all {
		seen := map[string]bool{}
		for _, f := range list {
			c := byRule[f.Rule]
			if c == nil {
				c = &Count{Rule: f.Rule, First: names[i] + ": " + f.Of + ": " + f.Text}
				byRule[f.Rule] = c
			}
			c.Findings++
			if !seen[f.Rule] {
				seen[f.Rule] = true
				c.Plans++
			}
		}
	}
	var out []Count
	for _, c := range byRule {
		out = append(out, *c)
	}
	slices.SortFunc(out, func(a, b Count) int { return cmp.Or(b.Plans-a.Plans, cmp.Compare(a.Rule, b.Rule)) })
	return out
}

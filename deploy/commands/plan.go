package commands

import (
	"bytes"
	"context"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/ical"
	"hotday/planner/paper"
	"hotday/planner/sheet"
)

// Plan computes the plan of a request document without a server.
type Plan struct {
	File   string `arg:"" complete:"file" help:"Request document (JSON); - for standard input."`
	Format string `enum:"text,json,sheets,pdf,ics" default:"text" help:"Output format: text, json (the whole plan), sheets (the prep sheets as a JSON list, one per service day), pdf (chart of the days and prep sheets) or ics (tasks as a calendar)."`
	Paper  string `enum:"a4,letter" default:"a4" help:"Paper size of a PDF: ${enum}."`
	Out    string `short:"o" complete:"file" placeholder:"FILE" help:"Write to this file instead of standard output."`
}

func (Plan) Help() string {
	return `Examples:

    hotday plan weekend.json
    hotday plan weekend.json --format pdf -o weekend.pdf
    hotday plan weekend.json --format sheets -o sheets.json
    hotday plan weekend.json --format ics -o weekend.ics
    hotday plan - --format json < weekend.json`
}

func (c *Plan) Run(ctx context.Context, s Streams) error {
	if c.Format == "pdf" && (c.Out == "" || c.Out == "-") && s.isTerminal() {
		return models.Invalid("/out", "-o FILE, or a pipe", "a terminal cannot show a PDF")
	}
	doc, err := readAll(c.File, s)
	if err != nil {
		return err
	}
	var req models.PlanRequest
	if err := models.DecodeStrict(doc, &req); err != nil {
		return err
	}
	plan, err := planner.Compute(ctx, req)
	if err != nil {
		return err
	}
	out, err := c.write(req, plan, s)
	if err != nil {
		return err
	}
	return writeWhole(c.Out, s.Out, out)
}

func (c *Plan) write(req models.PlanRequest, plan models.Plan, s Streams) ([]byte, error) {
	var out bytes.Buffer
	sheets := func() []models.PrepSheet { return sheet.PrepSheets(req, plan, nil, plan.ComputedAt) }
	switch c.Format {
	case "json":
		err := writeJSON(&out, plan)
		return out.Bytes(), err
	case "sheets":
		err := writeJSON(&out, sheets())
		return out.Bytes(), err
	case "pdf":
		size, _ := paper.SizeNamed(c.Paper)
		return paper.Plan(req, plan, sheets(), size)
	case "ics":
		return ical.Feed(req.Site, sheets(), nil)
	}
	if err := sheet.WriteText(&out, req, plan); err != nil {
		return nil, err
	}
	if (c.Out == "" || c.Out == "-") && s.isASCII() {
		return []byte(sheet.ASCII(out.String())), nil
	}
	return out.Bytes(), nil
}

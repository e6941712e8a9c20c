package commands

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"time"

	"hotday/api/setupfile"
	"hotday/deploy/demo"
	"hotday/models"
	"hotday/planner"
	"hotday/planner/ical"
	"hotday/planner/paper"
	"hotday/planner/sheet"
	"hotday/planner/tables"
)

// Plan computes the plan of a request document without a server.
type Plan struct {
	File    string `arg:"" complete:"file" help:"Request document (JSON) or workbook (XLSX); - for standard input."`
	Example bool   `help:"Write a workbook to fill in, with an example shop, to FILE, which must not exist."`

	Format string `enum:"text,json,sheets,pdf,xlsx,ics" default:"text" help:"Output format: text, json (the whole plan), sheets (prep sheets as JSON, one per service day), pdf (chart and prep sheets), xlsx (days, batches, ice, water, beans) or ics (tasks as a calendar)."`
	Paper  string `enum:"a4,letter" default:"a4" help:"Paper size of a PDF: ${enum}."`
	Out    string `short:"o" complete:"file" placeholder:"FILE" help:"Write to this file instead of standard output."`
}

func (Plan) Help() string {
	return `Examples:

    hotday plan --example weekend.xlsx
    hotday plan weekend.xlsx
    hotday plan weekend.xlsx --format xlsx -o plan.xlsx
    hotday plan weekend.json
    hotday plan weekend.json --format pdf -o weekend.pdf
    hotday plan weekend.json --format sheets -o sheets.json
    hotday plan weekend.json --format ics -o weekend.ics
    hotday plan - --format json < weekend.json`
}

func (c *Plan) Run(ctx context.Context, s Streams) error {
	if (c.Format == "pdf" || c.Format == "xlsx") && (c.Out == "" || c.Out == "-") && s.isTerminal() {
		return models.Invalid("/out", "-o FILE, or a pipe", "a terminal cannot show a file of the format %s", c.Format)
	}
	if c.Example {
		return c.writeExample(s, time.Now())
	}
	doc, err := readAll(c.File, s)
	if err != nil {
		return err
	}
	req, err := readRequest(doc)
	if err != nil {
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

// readRequest reads a request document, or a workbook, whose faults are named by sheet and cell: "Demand!D5".
func readRequest(doc []byte) (req models.PlanRequest, err error) {
	if !bytes.HasPrefix(doc, []byte("PK\x03\x04")) {
		return req, models.DecodeStrict(doc, &req)
	}
	req, faults, err := setupfile.ReadRequest(doc)
	if err != nil || len(faults) == 0 {
		return req, err
	}
	bad := models.Errorf(models.CodeInvalid, "the workbook has cells to correct")
	for _, f := range faults {
		at := f.Sheet
		if f.Cell != "" {
			at += "!" + f.Cell
		}
		bad.Fields = append(bad.Fields, models.FieldError{Pointer: at, Detail: f.Detail, Accepted: f.Accepted})
	}
	return req, bad
}

// writeExample writes the workbook of an example weekend, the first that begins after now.
func (c *Plan) writeExample(s Streams, now time.Time) error {
	if _, err := os.Stat(c.File); c.File != "-" && !errors.Is(err, fs.ErrNotExist) {
		return models.Invalid("/file", "the name of a new file", "%s is there already", c.File)
	}
	saturday := models.DateOf(now, now.Location()).AddDays(1)
	for saturday.Weekday() != time.Saturday {
		saturday = saturday.AddDays(1)
	}
	book, err := setupfile.WriteRequest(demo.Example(saturday))
	if err != nil {
		return err
	}
	return writeWhole(c.File, s.Out, book)
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
	case "xlsx":
		return tables.XLSX(tables.Plan(req, plan, sheets()))
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

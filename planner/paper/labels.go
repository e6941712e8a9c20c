package paper

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"hotday/models"
)

// Label is a label format, mm: a sheet of labels in rows and columns, or one label per page.
type Label struct {
	Width, Height float64
	Columns, Rows int // of a sheet; 0: one label per page
	Page          Size
	Left, Top     float64 // of the first label of a sheet
}

// Label sheets by name.
var labelSheets = map[string]Label{
	"a4-3x8":      {Width: 70, Height: 37, Columns: 3, Rows: 8, Page: A4, Left: 0, Top: 0.5},
	"a4-2x7":      {Width: 99.1, Height: 38.1, Columns: 2, Rows: 7, Page: A4, Left: 4.65, Top: 15.15},
	"letter-3x10": {Width: 66.7, Height: 25.4, Columns: 3, Rows: 10, Page: Letter, Left: 4.75, Top: 12.7},
}

// LabelFormats describes the formats that LabelNamed accepts, for error messages.
const LabelFormats = "a4-3x8, a4-2x7, letter-3x10, or the width and height of a single label in mm such as 62x29"

// LabelNamed returns a label format: a sheet by its name, or a single label by width and height in mm, such as "62x29", from
// 40 × 20 to 210 × 297. ok is false for any other name.
func LabelNamed(name string) (l Label, ok bool) {
	if l, ok := labelSheets[strings.ToLower(name)]; ok {
		return l, true
	}
	w, h, found := strings.Cut(strings.ToLower(name), "x")
	width, err1 := strconv.ParseFloat(w, 64)
	height, err2 := strconv.ParseFloat(h, 64)
	if !found || err1 != nil || err2 != nil || !(width >= 40 && width <= 210 && height >= 20 && height <= 297) {
		return Label{}, false
	}
	return Label{Width: width, Height: height, Page: Size{name, width, height}}, true
}

// Labels writes a label for each batch that is ready on the sheet's day, in order of time: beverage, time made and use-by time with
// weekdays, lines for the actual times, and the allergens of the drinks made from it. The copies of a label are consecutive. A day without batches gives a page that says
// so.
func Labels(setup models.Setup, sheet models.PrepSheet, l Label, copies int) ([]byte, error) {
	d := newDoc(setup.Site, l.Page.Width, l.Page.Height, "paper.labels.title", sheet.Date, sheet.PublishedAt)
	at := 0
	put := func(draw func(x, y float64)) {
		n := max(1, l.Columns*l.Rows)
		if at%n == 0 {
			d.pdf.AddPage()
		}
		c := max(1, l.Columns)
		draw(l.Left+float64(at%n%c)*l.Width, l.Top+float64(at%n/c)*l.Height)
		at++
	}
	batches := batchesOf(setup.Site, sheet)
	for _, b := range batches {
		for range max(1, copies) {
			put(func(x, y float64) { d.label(&setup, b, x, y, l.Width, l.Height) })
		}
	}
	if len(batches) == 0 {
		put(func(x, y float64) {
			d.ink(black)
			d.textFit("B", 10, 6, x+4, y+8, l.Width-8, d.Say("paper.labels.none"))
		})
	}
	return d.bytes()
}

// batchesOf lists the batches that are ready on a sheet's day, in order of time.
func batchesOf(site models.Site, sheet models.PrepSheet) []models.BatchTask {
	var out []models.BatchTask
	for _, t := range sheet.Tasks {
		if t.Batch == nil || t.Kind == models.TaskDiscard || t.State == models.Skipped || site.ServiceDayOf(t.Batch.Ready) != sheet.Date {
			continue
		}
		if !slices.ContainsFunc(out, func(b models.BatchTask) bool { return b.ID == t.Batch.ID }) {
			out = append(out, *t.Batch)
		}
	}
	slices.SortFunc(out, func(a, b models.BatchTask) int { return cmp.Or(a.Ready.Compare(b.Ready), cmp.Compare(a.ID, b.ID)) })
	return out
}

// label draws one label in the largest type that fits.
func (d *doc) label(setup *models.Setup, b models.BatchTask, x, y, w, h float64) {
	edge := 3.0
	if h > 34 {
		edge = 4
	}
	tall := 21.0
	allergens := setup.BeverageAllergens(b.Beverage)
	if len(allergens) > 0 {
		tall = 24
	}
	unit := min((h-2*edge)/tall, (w-2*edge)/56) // scale relative to a label of 62 × 29
	unit = min(unit, 2.6)
	pt := func(size float64) float64 { return size * unit }
	left, right := x+edge, x+w-edge
	d.ink(black)
	top := y + max(edge, (h-tall*unit)/2)
	amount := d.GlanceMass(b.BeverageG)
	d.font("", pt(8))
	amountWidth := d.widthOf(amount)
	name := beverageName(setup, b.Beverage)
	lines := d.nameLines(name, pt, right-left-amountWidth-2)
	for i, l := range lines {
		d.line(left, top+mm(l.words[0].pt)*(0.95+1.1*float64(i)), l)
	}
	d.font("", pt(8))
	d.textEnd(right, top+mm(pt(13))*0.95, amount)

	row := top + mm(pt(13))*1.2 + unit*4.2
	put := func(what string, t time.Time, style string, size float64) {
		d.font("", pt(7.5))
		d.ink(grey)
		d.text(left, row, what)
		d.ink(black)
		d.font("B", pt(size))
		clock := d.Clock(t)
		room := right - left - 10.5*unit - d.widthOf(clock) - 1.5
		words := d.Day(t)
		for s := size; ; s -= 0.25 {
			if d.font(style, pt(s)); d.widthOf(words) <= room || s < 5 {
				break
			}
		}
		d.text(left+10.5*unit, row, words)
		d.font("B", pt(size))
		d.textEnd(right, row, clock)
	}
	put(d.Say("paper.label.made"), b.Ready, "", 9)
	row += unit * 5.4
	put(d.Say("paper.label.use_by"), b.UseBy, "B", 12)
	row += unit * 5.6
	// A line for the actual time, with the hold time for recalculating the use-by time.
	d.font("", pt(6.5))
	d.ink(grey)
	half := left + (right-left)*0.46
	for _, f := range []struct {
		at, to float64
		words  string
	}{{left, half - 1.5*unit, d.Say("paper.label.really")}, {half, right, d.Say("paper.label.later", "hold", d.Span(b.UseBy.Sub(b.Ready)))}} {
		d.text(f.at, row, f.words)
		d.rule(black, 0.2, f.at+d.widthOf(f.words)+1, row+0.6, f.to, row+0.6)
	}
	if len(allergens) > 0 {
		d.ink(black)
		d.textFit("", pt(6.5), 4, left, row+unit*3, right-left, d.Say("supplies.label", "allergens", d.Listed(allergens)))
	}
}

// nameLines wraps a name to one line, or two in smaller type.
func (d *doc) nameLines(name string, pt func(float64) float64, width float64) []line {
	for _, size := range []float64{13, 11.5, 10} {
		if l := d.wrap(name, pt(size), pt(size), true, width); len(l) == 1 {
			return l
		}
	}
	for size := 7.5; ; size -= 0.5 {
		if l := d.wrap(name, pt(size), pt(size), true, width); len(l) <= 2 || size <= 3 {
			return l
		}
	}
}

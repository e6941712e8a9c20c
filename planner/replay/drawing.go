package replay

import (
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"hotday/planner/say"
)

// drawing is what the charts of a result share: SVG text in the words of its site.
type drawing struct {
	say.Voice
	r *Result
	b strings.Builder
}

func newDrawing(r *Result) drawing { return drawing{r: r, Voice: say.For(r.Site)} }

func (d *drawing) put(format string, args ...any) { fmt.Fprintf(&d.b, format, args...) }

func (d *drawing) escape(s string) { _ = xml.EscapeText(&d.b, []byte(s)) }

func (d *drawing) text(x, y float64, class, anchor, s string) {
	d.put(`<text x="%.1f" y="%.1f" class="%s" text-anchor="%s">`, x, y, class, anchor)
	d.escape(s)
	d.b.WriteString("</text>\n")
}

// open begins the drawing: its title, its text alternative, its style beside chartStyle, and its ground. The ids of title and description
// begin with id, as several drawings may stand on one page.
func (d *drawing) open(width, height float64, id, title, description, style string) {
	d.put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" role="img" aria-labelledby="%[3]st %[3]sd">`+"\n<title id=\"%[3]st\">", width, height, id)
	d.escape(title)
	d.put("</title>\n<desc id=\"%sd\">", id)
	d.escape(description)
	d.put("</desc>\n<style>%s%s</style>\n", chartStyle, style)
	d.put(`<rect width="%g" height="%g" style="fill:var(--paper)"/>`+"\n", width, height)
}

// writeTo ends the drawing and writes it.
func (d *drawing) writeTo(w io.Writer) error {
	d.b.WriteString("</svg>\n")
	_, err := io.WriteString(w, d.b.String())
	return err
}

// span names the site and the days of the result.
func (d *drawing) span() string {
	from, to := d.r.dates(d.Voice)
	return d.Say("replay.title", "site", d.r.Site.Name, "from", from, "to", to)
}

// headed is the title of a drawing: what it shows of whom and when.
func (d *drawing) headed(head string) string {
	return d.Say("replay.headed", "span", d.span(), "head", head)
}

// noted is the line below the head of a drawing, with a note on how to read it.
func (d *drawing) noted(key string) string {
	return d.Say("replay.noted", "span", d.span(), "note", d.Say(key))
}

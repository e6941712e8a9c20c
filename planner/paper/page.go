// Package paper writes PDFs with embedded fonts: the prep sheet of a day, labels for its batches, and a chart of the days. Equal
// arguments give identical bytes.
package paper

import (
	"bytes"
	_ "embed"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"codeberg.org/go-pdf/fpdf"

	"hotday/models"
	"hotday/planner/say"
)

// The fonts are Noto Sans, which has tabular figures; licence in font/OFL.txt.
var (
	//go:embed font/NotoSans-Regular.ttf
	regular []byte
	//go:embed font/NotoSans-Bold.ttf
	bold []byte
)

// Size is a paper size in portrait orientation, mm.
type Size struct {
	Name          string
	Width, Height float64
}

// Common paper sizes.
var (
	A4     = Size{"A4", 210, 297}
	Letter = Size{"Letter", 215.9, 279.4}
)

// SizeNamed returns the size of a name, ignoring case; ok is false for an unknown one.
func SizeNamed(name string) (s Size, ok bool) {
	for _, s := range []Size{A4, Letter} {
		if strings.EqualFold(s.Name, name) {
			return s, true
		}
	}
	return Size{}, false
}

// SizeFor is the usual paper size for the first tag of an Accept-Language header: Letter in North America and a few other
// countries, else A4.
func SizeFor(acceptLanguage string) Size {
	tag, _, _ := strings.Cut(acceptLanguage, ",")
	tag, _, _ = strings.Cut(tag, ";")
	_, region, _ := strings.Cut(strings.ToUpper(strings.TrimSpace(tag)), "-")
	switch region {
	case "US", "CA", "MX", "PH", "CL", "CO", "VE", "PR":
		return Letter
	}
	return A4
}

// margin is wide enough for the unprintable margin of printers, mm.
const margin = 10

// ink is a colour; all of them can be told apart in greyscale.
type ink struct{ r, g, b int }

var (
	black  = ink{20, 26, 32}
	grey   = ink{95, 103, 110}
	light  = ink{205, 210, 213}
	faint  = ink{241, 243, 244}
	water  = ink{19, 104, 122}  // ice level, cold phases
	shoal  = ink{150, 200, 208} // ice level up to P10
	foam   = ink{216, 236, 239} // ice level up to P90
	amber  = ink{222, 146, 44}  // heat
	ground = ink{84, 74, 64}
)

// mm converts points to mm.
func mm(pt float64) float64 { return pt * 25.4 / 72 }

// doc is a document being written. Lengths are mm from the upper left corner, font sizes points.
type doc struct {
	pdf *fpdf.Fpdf
	say.Voice
	width, height float64
	pt            float64
}

// newDoc starts a document. Its date is the time given rather than the clock's, for identical bytes; title is a text key.
func newDoc(site models.Site, width, height float64, title string, date models.Date, at time.Time) *doc {
	v := say.For(site)
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: sizeOf(width, height)})
	pdf.SetMargins(0, 0, 0)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(at.UTC())
	pdf.SetModificationDate(at.UTC())
	pdf.SetProducer("hotday", true)
	pdf.SetTitle(clean(v.Say(title, "date", date, "site", siteName(site))), true)
	pdf.SetLang(v.Language())
	pdf.AddUTF8FontFromBytes("sans", "", regular)
	pdf.AddUTF8FontFromBytes("sans", "B", bold)
	d := &doc{pdf: pdf, Voice: v, width: width, height: height}
	d.font("", 10)
	return d
}

// bytes finishes the document.
func (d *doc) bytes() ([]byte, error) {
	var out bytes.Buffer
	if err := d.pdf.Output(&out); err != nil {
		return nil, fmt.Errorf("write a PDF: %w", err)
	}
	return out.Bytes(), nil
}

func (d *doc) font(style string, pt float64) {
	d.pt = pt
	d.pdf.SetFont("sans", style, pt)
}

func (d *doc) ink(c ink) { d.pdf.SetTextColor(c.r, c.g, c.b) }

// clean replaces characters that cannot be written: the library panics above U+FFFF, control characters have no glyph, and the
// font has no minus sign or arrow, for which a dash and an angle quote stand in.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '−':
			return '–'
		case r == '→':
			return '›'
		case r > 0xFFFF:
			return utf8.RuneError
		case r < ' ', r == 0x7F:
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, string(utf8.RuneError)))
}

func (d *doc) widthOf(s string) float64 { return d.pdf.GetStringWidth(clean(s)) }

// text writes from x on a baseline at y.
func (d *doc) text(x, y float64, s string) {
	if s = clean(s); strings.TrimSpace(s) != "" {
		d.pdf.Text(x, y, s)
	}
}

// textEnd writes right-aligned at x.
func (d *doc) textEnd(x, y float64, s string) { d.text(x-d.widthOf(s), y, s) }

// textFit writes at pt points, or smaller to fit the width but at least least points; longer text wraps to further lines. It
// returns the number of lines.
func (d *doc) textFit(style string, pt, least, x, y, width float64, s string) int {
	d.font(style, pt)
	for d.widthOf(s) > width && pt > least {
		pt = max(least, pt-0.25)
		d.font(style, pt)
	}
	lines := d.wrap(s, pt, pt, style == "B", width)
	for i, l := range lines {
		d.line(x, y+float64(i)*mm(pt)*1.15, l)
	}
	return len(lines)
}

func (d *doc) fill(c ink, x, y, w, h float64) {
	d.pdf.SetFillColor(c.r, c.g, c.b)
	d.pdf.Rect(x, y, w, h, "F")
}

func (d *doc) frame(c ink, thick, x, y, w, h float64) {
	d.pen(c, thick)
	d.pdf.Rect(x, y, w, h, "D")
}

func (d *doc) rule(c ink, thick, x0, y0, x1, y1 float64) {
	d.pen(c, thick)
	d.pdf.Line(x0, y0, x1, y1)
}

func (d *doc) pen(c ink, thick float64) {
	d.pdf.SetDrawColor(c.r, c.g, c.b)
	d.pdf.SetLineWidth(thick)
}

func (d *doc) polygon(c ink, pts []fpdf.PointType) {
	if len(pts) > 2 {
		d.pdf.SetFillColor(c.r, c.g, c.b)
		d.pdf.Polygon(pts, "F")
	}
}

func (d *doc) polyline(c ink, thick float64, pts []fpdf.PointType) {
	if len(pts) < 2 {
		return
	}
	d.pen(c, thick)
	d.pdf.SetLineJoinStyle("round")
	d.pdf.MoveTo(pts[0].X, pts[0].Y)
	for _, p := range pts[1:] {
		d.pdf.LineTo(p.X, p.Y)
	}
	d.pdf.DrawPath("D")
}

func sizeOf(width, height float64) fpdf.SizeType { return fpdf.SizeType{Wd: width, Ht: height} }

package paper_test

import (
	"context"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/font/sfnt"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/paper"
	"hotday/planner/sheet"
)

var sizes = []paper.Size{paper.A4, paper.Letter}

// printed is a request with its plan and sheets.
type printed struct {
	req    models.PlanRequest
	plan   models.Plan
	sheets []models.PrepSheet
}

// load reads the demo's weekend with its plan from testdata, and plans a one-day request; once for all tests.
var load = sync.OnceValues(func() (map[string]printed, error) {
	var one, weekend printed
	err := errors.Join(read("requests/one-day.json", &one.req), read("text/request.json", &weekend.req), read("text/plan.json", &weekend.plan))
	if err != nil {
		return nil, err
	}
	if one.plan, err = planner.Compute(context.Background(), one.req); err != nil {
		return nil, err
	}
	out := map[string]printed{"one-day": one, "weekend": weekend}
	for name, p := range out {
		p.sheets = sheet.PrepSheets(p.req, p.plan, nil, p.plan.ComputedAt)
		out[name] = p
	}
	return out, nil
})

func read(name string, v any) error {
	doc, err := os.ReadFile(filepath.Join("..", "..", "testdata", name))
	if err != nil {
		return err
	}
	if req, ok := v.(*models.PlanRequest); ok {
		return models.DecodeStrict(doc, req)
	}
	return json.Unmarshal(doc, v)
}

func planned(t *testing.T, name string) printed {
	t.Helper()
	all, err := load()
	require.NoError(t, err)
	return all[name]
}

// poppler runs a program of poppler-utils on a PDF.
func poppler(t *testing.T, pdf []byte, program string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		const missing = "NOT TESTED: the PDFs as read by poppler; install it (Debian: apt-get install poppler-utils)"
		if os.Getenv("HOTDAY_REQUIRE_TOOLS") == "1" {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
	file := filepath.Join(t.TempDir(), "paper.pdf")
	require.NoError(t, os.WriteFile(file, pdf, 0o600))
	for i, a := range args {
		if a == "FILE" {
			args[i] = file
		}
	}
	out, err := exec.Command(program, args...).CombinedOutput()
	require.NoError(t, err, "%s: %s", program, out)
	return strings.ToValidUTF8(string(out), "")
}

func textOf(t *testing.T, pdf []byte) string {
	t.Helper()
	return poppler(t, pdf, "pdftotext", "-raw", "FILE", "-")
}

func pagesOf(t *testing.T, pdf []byte) int {
	t.Helper()
	n := regexp.MustCompile(`(?m)^Pages:\s+(\d+)`).FindStringSubmatch(poppler(t, pdf, "pdfinfo", "FILE"))
	require.NotNil(t, n)
	pages, err := strconv.Atoi(n[1])
	require.NoError(t, err)
	return pages
}

// plain removes whitespace, as line breaks depend on the layout.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || unicode.IsControl(r) {
			return -1
		}
		if r == '−' {
			return '–' // as in the font
		}
		return r
	}, s)
}

// onThePage checks that every word is within its page.
func onThePage(t *testing.T, pdf []byte) {
	t.Helper()
	var doc struct {
		Pages []struct {
			Width  float64 `xml:"width,attr"`
			Height float64 `xml:"height,attr"`
			Words  []struct {
				XMin float64 `xml:"xMin,attr"`
				YMin float64 `xml:"yMin,attr"`
				XMax float64 `xml:"xMax,attr"`
				YMax float64 `xml:"yMax,attr"`
				Text string  `xml:",chardata"`
			} `xml:"word"`
		} `xml:"body>doc>page"`
	}
	dec := xml.NewDecoder(strings.NewReader(poppler(t, pdf, "pdftotext", "-bbox", "FILE", "-")))
	dec.Strict = false
	dec.Entity = xml.HTMLEntity
	require.NoError(t, dec.Decode(&doc))
	require.NotEmpty(t, doc.Pages)
	for i, p := range doc.Pages {
		for _, w := range p.Words {
			if w.XMin < 0 || w.YMin < 0 || w.XMax > p.Width || w.YMax > p.Height {
				t.Errorf("page %d: %q at (%.0f, %.0f) to (%.0f, %.0f) is outside %.0f × %.0f", i+1, w.Text, w.XMin, w.YMin, w.XMax, w.YMax, p.Width, p.Height)
			}
		}
	}
}

func TestPrepSheetHasAllTexts(t *testing.T) {
	t.Parallel()
	p := planned(t, "weekend")
	for _, size := range sizes {
		for _, s := range p.sheets {
			pdf, err := paper.PrepSheet(p.req.Setup, s, p.plan, size)
			require.NoError(t, err)
			text := plain(textOf(t, pdf))
			for _, task := range s.Lines() {
				assert.Contains(t, text, plain(task.At.In(p.req.Site.Location()).Format("15:04")+task.Say), size.Name)
				for c := range strings.SplitSeq(task.Caution, ". ") { // once a sheet
					assert.Contains(t, text, plain(c), size.Name)
				}
			}
			for _, c := range s.Cautions {
				assert.Contains(t, text, plain(c), size.Name)
			}
			assert.Contains(t, text, plain(s.Date.At(720, time.UTC).Format("Monday 2 January 2006")))
			assert.Contains(t, text, plain(p.req.Site.Name))
			assert.Regexp(t, `lowest|runout`, text, "labels of the ice level")
			onThePage(t, pdf)
		}
	}
}

// Longer German words stay within their page, and umlauts are there.
func TestPaperInGerman(t *testing.T) {
	t.Parallel()
	p := planned(t, "weekend")
	p.req.Site.Language = "de"
	p.sheets = sheet.PrepSheets(p.req, p.plan, nil, p.plan.ComputedAt)
	for _, size := range sizes {
		for _, s := range p.sheets {
			pdf, err := paper.PrepSheet(p.req.Setup, s, p.plan, size)
			require.NoError(t, err)
			text := plain(textOf(t, pdf))
			for _, task := range s.Lines() {
				assert.Contains(t, text, plain(task.Say), size.Name)
			}
			assert.Contains(t, text, "DieörtlichenLebensmittelvorschriftengehenvor.")
			onThePage(t, pdf)
		}
		pdf, err := paper.Weekend(p.req, p.plan, size)
		require.NoError(t, err)
		assert.Contains(t, plain(textOf(t, pdf)), "Samstag,11.Juli")
		onThePage(t, pdf)
	}
	label, ok := paper.LabelNamed("62x29")
	require.True(t, ok)
	pdf, err := paper.Labels(p.req.Setup, p.sheets[0], label, 1)
	require.NoError(t, err)
	assert.Contains(t, plain(textOf(t, pdf)), "Haltbarbis")
	onThePage(t, pdf)
}

func TestTypicalDayFitsOnePage(t *testing.T) {
	t.Parallel()
	p := planned(t, "one-day")
	require.GreaterOrEqual(t, len(p.sheets[0].Tasks), 10)
	for _, size := range sizes {
		pdf, err := paper.PrepSheet(p.req.Setup, p.sheets[0], p.plan, size)
		require.NoError(t, err)
		assert.Equal(t, 1, pagesOf(t, pdf), "%s, %d tasks", size.Name, len(p.sheets[0].Tasks))
	}
	w := planned(t, "weekend")
	for _, size := range sizes {
		pdf, err := paper.Weekend(w.req, w.plan, size)
		require.NoError(t, err)
		assert.LessOrEqual(t, pagesOf(t, pdf), 2, size.Name)
	}
}

func TestFontsAreEmbedded(t *testing.T) {
	t.Parallel()
	p := planned(t, "weekend")
	pdf, err := paper.Plan(p.req, p.plan, p.sheets, paper.A4)
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(poppler(t, pdf, "pdffonts", "FILE")), "\n")
	require.Len(t, lines, 4, "two header lines and two fonts")
	for _, l := range lines[2:] {
		f := strings.Fields(l)
		assert.Equal(t, "yes", f[len(f)-5], "embedded: %s", l)
		assert.Equal(t, "yes", f[len(f)-3], "with a Unicode map: %s", l)
	}
	assert.Less(t, len(pdf), 250<<10, "subset to the glyphs used")
}

func TestPDFIsDeterministic(t *testing.T) {
	t.Parallel()
	p := planned(t, "weekend")
	one, err := paper.Plan(p.req, p.plan, p.sheets, paper.A4)
	require.NoError(t, err)
	for range 3 {
		again, err := paper.Plan(p.req, p.plan, p.sheets, paper.A4)
		require.NoError(t, err)
		require.Equal(t, one, again)
	}
	// The dates do not depend on the clock.
	info := poppler(t, one, "pdfinfo", "-rawdates", "FILE")
	day := p.plan.ComputedAt.UTC().Format("20060102150405")
	assert.Regexp(t, `CreationDate:\s+D:`+day, info)
	assert.Regexp(t, `ModDate:\s+D:`+day, info)
}

// many repeats the tasks of a sheet up to n, each with a number.
func many(s models.PrepSheet, n int) models.PrepSheet {
	tasks := s.Tasks
	s.Tasks = nil
	for i := range n {
		task := tasks[i%len(tasks)]
		task.ID = fmt.Sprint(i)
		task.Say, task.PartOf = fmt.Sprintf("%s Nr. %d.", task.Say, 1000+i), ""
		s.Tasks = append(s.Tasks, task)
	}
	return s
}

func TestLongDaySpansPages(t *testing.T) {
	t.Parallel()
	p := planned(t, "weekend")
	s := many(p.sheets[0], 120)
	for _, size := range sizes {
		pdf, err := paper.PrepSheet(p.req.Setup, s, p.plan, size)
		require.NoError(t, err)
		pages := pagesOf(t, pdf)
		require.Greater(t, pages, 1)
		text := textOf(t, pdf)
		day := s.Date.At(720, time.UTC).Format("Monday 2 January 2006")
		assert.Equal(t, pages, strings.Count(text, day), "each page shows the date")
		assert.Contains(t, text, fmt.Sprintf("page %d of %d", pages, pages))
		for i := range s.Tasks {
			assert.Equal(t, 1, strings.Count(plain(text), fmt.Sprintf("Nr.%d.", 1000+i)), "task %d appears once", i)
		}
		onThePage(t, pdf)
	}
}

func TestFontCoversTheTexts(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"Regular", "Bold"} {
		file, err := os.ReadFile("font/NotoSans-" + name + ".ttf")
		require.NoError(t, err)
		font, err := sfnt.Parse(file)
		require.NoError(t, err)
		var buf sfnt.Buffer
		p := planned(t, "weekend")
		texts, err := filepath.Glob("../say/words/*/*.json")
		require.NoError(t, err)
		require.NotEmpty(t, texts)
		said := []string{}
		for _, file := range texts {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			said = append(said, string(text))
		}
		for _, s := range p.sheets {
			said = append(said, s.Cautions...)
			for _, task := range s.Tasks {
				said = append(said, task.Say, task.Why, task.Caution)
			}
		}
		for _, s := range said {
			for _, r := range paper.Clean(s) {
				glyph, err := font.GlyphIndex(&buf, r)
				require.NoError(t, err)
				require.NotZero(t, glyph, "%s has no glyph for %q in %q", name, r, s)
			}
		}
	}
}

func TestLongAndNonLatinNamesAreNotCutOff(t *testing.T) {
	t.Parallel()
	p := planned(t, "one-day")
	for name, odd := range map[string]string{
		"long":     strings.Repeat("Verylongname", 16),
		"words":    strings.TrimSpace(strings.Repeat("a kettle beside the window ", 7)),
		"greek":    "Παγωμένος καφές",
		"cyrillic": "Холодный кофе",
		"accents":  "Crème glacée, Żółw, Ängström",
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			setup, s := p.req.Setup, p.sheets[0]
			setup.Site.Name = odd
			setup.Beverages = append([]models.Beverage(nil), setup.Beverages...)
			for i := range setup.Beverages {
				setup.Beverages[i].Name = odd
			}
			s.Tasks = append([]models.Task(nil), s.Tasks...)
			for i := range s.Tasks {
				s.Tasks[i].Station = odd
				s.Tasks[i].Say += " " + odd
			}
			pdf, err := paper.PrepSheet(setup, s, p.plan, paper.A4)
			require.NoError(t, err)
			assert.GreaterOrEqual(t, strings.Count(plain(textOf(t, pdf)), plain(odd)), len(s.Lines()))
			onThePage(t, pdf)
			l, ok := paper.LabelNamed("62x29")
			require.True(t, ok)
			pdf, err = paper.Labels(setup, s, l, 1)
			require.NoError(t, err)
			assert.Contains(t, plain(textOf(t, pdf)), plain(odd))
			onThePage(t, pdf)
		})
	}
}

func TestUnsupportedCharactersDoNotFail(t *testing.T) {
	t.Parallel()
	p := planned(t, "one-day")
	for _, odd := range []string{"冷たいコーヒー", "قهوة باردة", "🧊☕ 34 °C", "\x00\x07\t\n", "\xff\xfe", "\U0010FFFF\uFFFF", ""} {
		setup, s, plan := p.req.Setup, p.sheets[0], p.plan
		setup.Site.Name = odd
		s.Changes, s.Cautions = []string{odd}, []string{odd}
		s.Tasks = append([]models.Task(nil), s.Tasks...)
		for i := range s.Tasks {
			s.Tasks[i].Station, s.Tasks[i].Say, s.Tasks[i].Why, s.Tasks[i].Caution = odd, odd, odd, odd
		}
		plan.Summary.Text = odd
		for _, size := range sizes {
			pdf, err := paper.PrepSheet(setup, s, plan, size)
			require.NoError(t, err, "%q", odd)
			assert.Positive(t, pagesOf(t, pdf))
			req := p.req
			req.Setup = setup
			_, err = paper.Plan(req, plan, []models.PrepSheet{s}, size)
			require.NoError(t, err, "%q", odd)
		}
	}
}

func TestEmptyDayHasAPage(t *testing.T) {
	t.Parallel()
	p := planned(t, "one-day")
	s := models.PrepSheet{Date: p.plan.From, PublishedAt: p.plan.ComputedAt}
	pdf, err := paper.PrepSheet(p.req.Setup, s, models.Plan{}, paper.A4)
	require.NoError(t, err)
	assert.Contains(t, textOf(t, pdf), "Nothing to prep.")
	l, _ := paper.LabelNamed("62x29")
	pdf, err = paper.Labels(p.req.Setup, s, l, 1)
	require.NoError(t, err)
	assert.Contains(t, plain(textOf(t, pdf)), plain("No batch is ready on this day."))
}

func TestTaskStatesAreShown(t *testing.T) {
	t.Parallel()
	p := planned(t, "one-day")
	s := p.sheets[0]
	s.Tasks = append([]models.Task(nil), s.Tasks...)
	s.Tasks = s.Lines()
	s.Tasks[0].State, s.Tasks[1].State, s.Tasks[2].State = models.Made, models.Skipped, models.Started
	s.Changes = []string{"Left, 07:15: 600 g more."}
	pdf, err := paper.PrepSheet(p.req.Setup, s, p.plan, paper.A4)
	require.NoError(t, err)
	text := plain(textOf(t, pdf))
	for i, word := range []string{"(made)", "(skipped)", "(started)"} {
		assert.Contains(t, text, word+plain(s.Tasks[i].Say))
	}
	assert.Contains(t, text, plain("New on this sheet"))
	assert.Contains(t, text, plain(s.Changes[0]))
}

func TestLabelsListTheBatches(t *testing.T) {
	t.Parallel()
	p := planned(t, "weekend")
	loc := p.req.Site.Location()
	for _, s := range p.sheets {
		batches := paper.BatchesOf(p.req.Site, s)
		require.NotEmpty(t, batches)
		for _, form := range []string{"62x29", "100x60", "a4-3x8", "a4-2x7", "letter-3x10"} {
			l, ok := paper.LabelNamed(form)
			require.True(t, ok, form)
			pdf, err := paper.Labels(p.req.Setup, s, l, 2)
			require.NoError(t, err)
			want := 2 * len(batches)
			if l.Columns > 0 {
				want = (want + l.Columns*l.Rows - 1) / (l.Columns * l.Rows)
			}
			assert.Equal(t, want, pagesOf(t, pdf), form)
			text := plain(textOf(t, pdf))
			for _, b := range batches {
				assert.Contains(t, text, plain(b.Ready.In(loc).Format("Monday 2 January 15:04")), form)
				assert.Contains(t, text, plain(b.UseBy.In(loc).Format("Monday 2 January 15:04")), form)
			}
			assert.Equal(t, 2*len(batches), strings.Count(text, "actual"), form)
			onThePage(t, pdf)
		}
	}
}

func TestLabelFormats(t *testing.T) {
	t.Parallel()
	for _, bad := range []string{"", "x", "62", "62x", "0x0", "39x29", "62x19", "211x29", "62x298", "NaNxNaN", "InfxInf", "a4", "62x29x10"} {
		_, ok := paper.LabelNamed(bad)
		assert.False(t, ok, bad)
	}
	l, ok := paper.LabelNamed("62X29")
	assert.True(t, ok)
	assert.Equal(t, 62.0, l.Width)
}

func TestPaperSizeFollowsTheLanguage(t *testing.T) {
	t.Parallel()
	for lang, want := range map[string]paper.Size{"en-US,en;q=0.8": paper.Letter, "fr-CA": paper.Letter, "en-GB": paper.A4, "de": paper.A4, "": paper.A4, "es-MX;q=1": paper.Letter} {
		assert.Equal(t, want, paper.SizeFor(lang), lang)
	}
	s, ok := paper.SizeNamed("letter")
	assert.True(t, ok)
	assert.Equal(t, paper.Letter, s)
	_, ok = paper.SizeNamed("a5")
	assert.False(t, ok)
}

func TestWeekendListsItsWarnings(t *testing.T) {
	t.Parallel()
	p := planned(t, "weekend")
	for _, size := range sizes {
		pdf, err := paper.Weekend(p.req, p.plan, size)
		require.NoError(t, err)
		text := plain(textOf(t, pdf))
		assert.Contains(t, text, plain(p.plan.Summary.Text))
		for _, w := range p.plan.Warnings {
			assert.Contains(t, text, plain(w.Cause))
		}
		for i := range p.plan.Days {
			assert.Contains(t, text, plain(p.plan.From.AddDays(i).At(720, time.UTC).Format("Monday 2 January")))
		}
		onThePage(t, pdf)
	}
}

func TestPaperUsesTheSitesUnits(t *testing.T) {
	t.Parallel()
	p := planned(t, "weekend")
	req := p.req
	req.Site.Units = &models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}
	pdf, err := paper.PrepSheet(req.Setup, p.sheets[0], p.plan, paper.Letter)
	require.NoError(t, err)
	text := plain(textOf(t, pdf))
	assert.Contains(t, text, "Saturday,July11,2026")
	assert.Contains(t, text, "7:00am")
	onThePage(t, pdf)
	pdf, err = paper.Weekend(req, p.plan, paper.Letter)
	require.NoError(t, err)
	text = plain(textOf(t, pdf))
	assert.Regexp(t, `\dlb`, text, "ice in pounds")
	assert.Regexp(t, `\d°F`, text)
	onThePage(t, pdf)
	l, _ := paper.LabelNamed("62x29")
	pdf, err = paper.Labels(req.Setup, p.sheets[0], l, 1)
	require.NoError(t, err)
	assert.Contains(t, plain(textOf(t, pdf)), "Saturday,July11")
	onThePage(t, pdf)
}

func TestFortnightAndClosedDaysAreDrawn(t *testing.T) {
	t.Parallel()
	p := planned(t, "weekend")
	req, plan := p.req, p.plan
	plan.Days = 14
	req.Site.Opening = nil
	for _, o := range p.req.Site.Opening {
		if o.Weekday != "mon" {
			req.Site.Opening = append(req.Site.Opening, o)
		}
	}
	pdf, err := paper.Weekend(req, plan, paper.A4)
	require.NoError(t, err)
	text := textOf(t, pdf)
	assert.Equal(t, 2, strings.Count(text, ": closed"), "two Mondays")
	assert.Contains(t, text, "Friday 24 July")
	onThePage(t, pdf)
}

func BenchmarkPrepSheet(b *testing.B) {
	all, err := load()
	if err != nil {
		b.Fatal(err)
	}
	p := all["weekend"]
	for b.Loop() {
		if _, err := paper.PrepSheet(p.req.Setup, p.sheets[0], p.plan, paper.A4); err != nil {
			b.Fatal(err)
		}
	}
}

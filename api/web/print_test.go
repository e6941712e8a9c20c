package web_test

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// paper prints the page to PDF on paper of a size in inches, and returns its text and number of pages by poppler.
func (b *tab) paper(width, height float64) (text string, pages int) {
	b.t.Helper()
	if _, err := exec.LookPath("pdftotext"); err != nil {
		notTested(b.t, "NOT TESTED: printed pages; install poppler (Debian: apt-get install poppler-utils)")
	}
	pdf, err := chromedp.Run(b.ctx, func(ctx context.Context, t *chromedp.Target) ([]byte, error) {
		res, err := cdp.Call(ctx, t, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: width, PaperHeight: height})
		return res.Data, err
	})
	require.NoError(b.t, err)
	file := filepath.Join(b.t.TempDir(), "paper.pdf")
	require.NoError(b.t, os.WriteFile(file, pdf, 0o600))
	out, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	require.NoError(b.t, err)
	info, err := exec.Command("pdfinfo", file).Output()
	require.NoError(b.t, err)
	n := regexp.MustCompile(`(?m)^Pages:\s+(\d+)`).FindSubmatch(info)
	require.NotNil(b.t, n)
	pages, err = strconv.Atoi(string(n[1]))
	require.NoError(b.t, err)
	return string(bytes.ToValidUTF8(out, nil)), pages
}

// plain removes spaces, since a PDF may have any kind of space between number and unit.
func plain(text string) string {
	return strings.Map(func(r rune) rune {
		if strings.ContainsRune(" \u00a0\u202f\n\f", r) {
			return -1
		}
		return r
	}, text)
}

func TestPrintedPages(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	b.click("button[name=again]")
	b.until(`document.body.dataset.revision === "1"`)
	b.click("#publish")
	b.says("Published ")
	sheet, err := s.store.Sheet(context.Background(), site, saturday)
	require.NoError(t, err)
	number := regexp.MustCompile(`\d[\d.]*`)
	for name, paper := range map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}} {
		b.goTo(s.base + "/v1/sites/lido/prep-sheets/2026-07-11")
		text, pages := b.paper(paper[0], paper[1])
		said := plain(text)
		for _, task := range sheet.Tasks {
			for _, n := range number.FindAllString(plain(task.Say), -1) {
				assert.Contains(t, said, n, "%s: %s", name, task.Say)
			}
		}
		assert.LessOrEqual(t, pages, 2, name)
		b.goTo(s.base + "/s/lido/weekend")
		b.until(`document.querySelectorAll('.papers a[href$="as=pdf"]').length >= 2 && document.querySelectorAll('.papers a[href$="/labels"]').length >= 1`)
		text, pages = b.paper(paper[0], paper[1])
		assert.Contains(t, text, "Saturday 11 July", name)
		assert.Contains(t, text, "Batches", name)
		assert.NotContains(t, text, "Plan again", name)
		assert.LessOrEqual(t, pages, 8, name)
	}
}

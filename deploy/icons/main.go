// Command icons draws the icons of the installed pages from api/web/static/mark.svg. It needs Chromium.
//
//	go run ./deploy/icons
package main

import (
	"context"
	"encoding/base64"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"

	"github.com/chromedp/chromedp"
)

const (
	mark   = "api/web/static/mark.svg"
	folder = "api/web/static/icons"
	paper  = "#f7f2e8" // behind the mark
)

// icon is a square picture of a size in px. share is the mark's part of its side: a maskable icon is cut to any shape within the inner
// four fifths, by diameter.
type icon struct {
	file  string
	side  int64
	share float64
}

var icons = []icon{
	{"icon-192.png", 192, 0.84},
	{"icon-512.png", 512, 0.84},
	{"icon-maskable-512.png", 512, 0.56},
}

func main() {
	if err := run(context.Background()); err != nil {
		fmt.Fprintln(os.Stderr, "icons:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context) error {
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		return fmt.Errorf("Chromium is needed (Debian: apt-get install chromium): %w", err)
	}
	svg, err := os.ReadFile(mark)
	if err != nil {
		return err
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium))
	if os.Geteuid() == 0 {
		opts = append(opts, chromedp.NoSandbox) // the sandbox does not work as root
	}
	ctx, cancel := chromedp.NewExecAllocator(ctx, opts...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	for _, i := range icons {
		if err := i.draw(ctx, svg); err != nil {
			return fmt.Errorf("%s: %w", i.file, err)
		}
	}
	return nil
}

func (i icon) draw(ctx context.Context, svg []byte) error {
	width := float64(i.side) * i.share
	page := fmt.Sprintf(`<body style="margin:0;height:100vh;display:grid;place-items:center;background:%s"><img width="%g" src="data:image/svg+xml;base64,%s">`, //nolint:misspell // the name is CSS's
		paper, width, base64.StdEncoding.EncodeToString(svg))
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(i.side, i.side)); err != nil {
		return err
	}
	if err := chromedp.Do(ctx, chromedp.Navigate("data:text/html;base64,"+base64.StdEncoding.EncodeToString([]byte(page)))); err != nil {
		return err
	}
	picture, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(folder, i.file), picture, 0o644)
}

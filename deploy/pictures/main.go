// Command pictures takes the README's pictures of the demo: Weekend on a laptop and the wall screen. It needs Chromium.
//
//	go run ./deploy/pictures
package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// folder is where the pictures are kept, most their size together in bytes.
const (
	folder = "deploy/pictures"
	most   = 200 << 10
)

// shot is a picture of a page in a window of a size, taken once the page shows what is selected.
type shot struct {
	file, page, shows string
	width, height     int64
}

var shots = []shot{
	{"weekend.jpg", "/s/ladder-lane/weekend", ".best", 1280, 800},
	{"wall.jpg", "/s/ladder-lane/kitchen", "#alarms", 1280, 720},
}

func main() {
	if err := run(context.Background()); err != nil {
		fmt.Fprintln(os.Stderr, "pictures:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context) (err error) {
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		return fmt.Errorf("Chromium is needed (Debian: apt-get install chromium): %w", err)
	}
	dir, err := os.MkdirTemp("", "hotday-pictures-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	link, stop, err := startDemo(ctx, filepath.Join(dir, "hotday"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, stop()) }()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.UserDataDir(filepath.Join(dir, "profile")))
	if os.Geteuid() == 0 {
		opts = append(opts, chromedp.NoSandbox) // the sandbox does not work as root
	}
	ctx, cancel := chromedp.NewExecAllocator(ctx, opts...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.Navigate(link)); err != nil {
		return fmt.Errorf("sign in: %w", err)
	}
	address, _, _ := strings.Cut(link, "/sign-in")
	sum := 0
	for _, s := range shots {
		n, err := s.take(ctx, address+s.page)
		if err != nil {
			return err
		}
		sum += n
	}
	if sum > most {
		return fmt.Errorf("the pictures have %d bytes together; the README allows %d", sum, most)
	}
	return nil
}

// startDemo builds the program, starts its demo on the hot Saturday in July, and returns the link that signs in once and what ends it.
func startDemo(ctx context.Context, program string) (link string, stop func() error, err error) {
	if out, err := exec.CommandContext(ctx, "go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		return "", nil, fmt.Errorf("build: %w\n%s", err, out)
	}
	cmd := exec.CommandContext(ctx, program, "demo", "--port", "0", "--speed", "1", "--at", "2026-07-11T11:20")
	out, err := cmd.StdoutPipe()
	if err != nil {
		return "", nil, err
	}
	if err := cmd.Start(); err != nil {
		return "", nil, err
	}
	stop = func() error { return errors.Join(cmd.Process.Signal(syscall.SIGTERM), cmd.Wait()) }
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if after, found := strings.CutPrefix(lines.Text(), "Sign in once with "); found {
			return after, stop, nil
		}
	}
	return "", nil, errors.Join(errors.New("the demo has not begun"), stop())
}

// Until the demo has found its warnings, pages are loaded again every retry, at most for patience.
const retry, patience = time.Second, 2 * time.Minute

// take takes the picture and returns its size.
func (s shot) take(ctx context.Context, address string) (int, error) {
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(s.width, s.height)); err != nil {
		return 0, err
	}
	for there := false; !there; {
		if err := chromedp.Do(ctx, chromedp.Navigate(address)); err != nil {
			return 0, fmt.Errorf("open %s: %w", address, err)
		}
		select {
		case <-ctx.Done():
			return 0, fmt.Errorf("%s does not show %s: %w", address, s.shows, ctx.Err())
		case <-time.After(retry): // it draws itself, and fetches what is new
		}
		var err error
		if there, err = chromedp.Run(ctx, chromedp.Evaluate[bool](fmt.Sprintf("document.querySelector(%q) !== null", s.shows))); err != nil {
			return 0, err
		}
	}
	quality := int64(60)
	picture, err := chromedp.Run(ctx, func(ctx context.Context, t *chromedp.Target) ([]byte, error) {
		r, err := cdp.Call(ctx, t, page.CaptureScreenshot, page.CaptureScreenshotParams{Format: page.CaptureScreenshotFormatJpeg, Quality: &quality})
		if err != nil {
			return nil, err
		}
		return r.Data, nil
	})
	if err != nil {
		return 0, fmt.Errorf("picture of %s: %w", address, err)
	}
	return len(picture), os.WriteFile(filepath.Join(folder, s.file), picture, 0o644)
}

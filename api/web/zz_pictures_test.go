package web_test

import (
	"os"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestZZPictures(t *testing.T) {
	ctx := browser(t)
	s := newShop(t)
	wall := open(t, ctx, s.base+"/sign-in")
	s.publish(t, wall, models.TaskChill)
	for name, size := range map[string][2]int64{"phone": {390, 844}, "laptop": {1440, 900}, "wall": {1920, 1080}} {
		require.NoError(t, chromedp.Do(wall.ctx, chromedp.EmulateViewport(size[0], size[1])))
		wall.goTo(s.base + "/s/lido/kitchen")
		wall.until(`document.querySelector("#next")`)
		b, err := chromedp.Run(wall.ctx, chromedp.CaptureScreenshot())
		require.NoError(t, err)
		require.NoError(t, os.WriteFile("/tmp/hd/sheetdemo/k-"+name+".png", b, 0o644))
		wall.eval(`document.querySelectorAll("details").forEach((d) => { if (d.id === "behind" || d.id === "marked") d.open = true; })`)
		b, err = chromedp.Run(wall.ctx, chromedp.FullScreenshot(90))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile("/tmp/hd/sheetdemo/k-"+name+"-open.png", b, 0o644))
	}
}

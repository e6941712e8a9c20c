package web_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// A prep sheet opened in a browser is ticked there, and what is ticked stands after a reload and on Kitchen.
func TestAPrepSheetIsTickedOnAScreen(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	brew := s.publish(t, b, models.TaskBrew)
	row, box := `[id="`+brew.ID+`"]`, `[id="`+brew.ID+`"] input[type=checkbox]`
	b.goTo(s.base + "/v1/sites/lido/prep-sheets/2026-07-11")
	require.Equal(t, "false", b.eval(`document.querySelector('`+box+`').checked`))
	b.click(box)
	b.until(`document.querySelector('` + row + `').classList.contains("over") && !localStorage.getItem("hotday.marks.lido")?.includes("` + brew.ID + `")`)
	mark, ok := s.standing(t, brew.ID)
	require.True(t, ok)
	assert.Equal(t, models.Made, mark.State)
	assert.Nil(t, mark.BeverageG)

	b.typeIn(row+" .really input", "4 950\t")
	b.until(`fetch("/v1/sites/lido/prep-sheets/2026-07-11").then(() => !localStorage.getItem("hotday.marks.lido")?.includes("beverage_g"))`)
	mark, _ = s.standing(t, brew.ID)
	require.NotNil(t, mark.BeverageG)
	assert.InDelta(t, 4950, *mark.BeverageG, 1e-9)

	b.goTo(s.base + "/v1/sites/lido/prep-sheets/2026-07-11")
	require.Equal(t, "true", b.eval(`document.querySelector('`+box+`').checked`), "after a reload")
	assert.Equal(t, "4950", b.eval(`document.querySelector('`+row+` .really input').value`))
	b.goTo(s.base + "/s/lido/kitchen")
	b.until(stateOf(brew.ID) + ` === "made"`)
	b.goTo(s.base + "/v1/sites/lido/prep-sheets/2026-07-11")
	b.click(box)
	b.until(`!document.querySelector('` + row + `').classList.contains("over") && !localStorage.getItem("hotday.marks.lido")?.includes("due")`)
	_, ok = s.standing(t, brew.ID)
	assert.False(t, ok, "unticked again")
	b.quiet()
}

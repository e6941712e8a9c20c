package web

import (
	"encoding/json"
	"errors"
	"io"
	"maps"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/api/setupfile"
	"hotday/api/web/form"
	"hotday/models"
)

const workbookType = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

// bookView is the set-up as a spreadsheet: to take away, and what one that came back would change.
type bookView struct {
	head
	Faults   []setupfile.CellError
	General  string
	Same     bool
	Changes  []bookChange
	Document string // the set-up that was read, to be taken
	Etag     string
}

type bookChange struct{ What, Before, After string }

// getBook gives the set-up as a workbook.
func (p *pages) getBook(c *gin.Context) {
	_, setup, ok := p.enter(c, models.ScopeManage, "setup")
	if !ok {
		return
	}
	data, err := setupfile.Write(setup)
	if err != nil {
		p.trouble(c, err)
		return
	}
	c.Header("Content-Disposition", `attachment; filename="`+url.PathEscape(setup.Site.Code)+`-setup.xlsx"`)
	c.Data(http.StatusOK, workbookType, data)
}

// postBook reads a workbook and shows what it would change; nothing is stored.
func (p *pages) postBook(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "setup")
	if !ok {
		return
	}
	v := bookView{head: h}
	v.head.Title = h.voice.Say("setup.book.title") + " · " + h.Title
	file, err := c.FormFile("book")
	var data []byte
	if err == nil {
		data, err = contents(file)
	}
	if err != nil {
		v.General = h.voice.Say("setup.book.none")
		p.render(c, http.StatusUnprocessableEntity, "book", v)
		return
	}
	read, faults, err := setupfile.Read(data)
	switch {
	case err != nil:
		v.General = err.Error()
	case len(faults) > 0:
		v.Faults = faults
	case read.Site.Code != setup.Site.Code:
		v.General = h.voice.Say("setup.book.other_site", "other", read.Site.Code, "site", setup.Site.Code)
	}
	if v.General != "" || len(v.Faults) > 0 {
		p.render(c, http.StatusUnprocessableEntity, "book", v)
		return
	}
	if _, v.Etag, err = p.Store.Setup(c.Request.Context(), setup.Site.Code); err != nil {
		p.trouble(c, err)
		return
	}
	for _, s := range setupSections {
		if same(setup, read, s) {
			continue
		}
		v.Changes = append(v.Changes, bookChange{h.voice.Say("setup.section." + s.name), s.counted(setup, h.voice), s.counted(read, h.voice)})
	}
	v.Same = len(v.Changes) == 0
	b, err := json.Marshal(read)
	if err != nil {
		p.trouble(c, err)
		return
	}
	v.Document = string(b)
	p.render(c, http.StatusOK, "book", v)
}

// takeBook stores the set-up that postBook showed.
func (p *pages) takeBook(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "setup")
	if !ok {
		return
	}
	var read models.Setup
	err := models.DecodeStrict([]byte(c.PostForm("document")), &read)
	if err == nil {
		err = read.Validate()
	}
	if err == nil && read.Site.Code != setup.Site.Code {
		err = models.Errorf(models.CodeInvalid, "%s", h.voice.Say("setup.book.other_site", "other", read.Site.Code, "site", setup.Site.Code))
	}
	if err == nil {
		err = p.SaveSetup(c, read, c.PostForm("etag"))
	}
	if err != nil {
		p.trouble(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(setup.Site.Code)+"/setup?saved=1")
}

func contents(file *multipart.FileHeader) ([]byte, error) {
	f, err := file.Open()
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(f)
	return data, errors.Join(err, f.Close())
}

// same reports whether a section shows the same in two set-ups.
func same(a, b models.Setup, s setupSection) bool {
	da, db := asDocument(a), asDocument(b)
	for _, root := range s.roots {
		x, y := form.At(da, root), form.At(db, root)
		if len(s.others) > 0 {
			x, y = without(x, s.others), without(y, s.others)
		}
		if !form.Same(x, y) {
			return false
		}
	}
	return true
}

// without leaves out the members that other sections show.
func without(x any, paths []string) any {
	m, ok := x.(map[string]any)
	if !ok {
		return x
	}
	out := maps.Clone(m)
	for _, p := range paths {
		delete(out, p[strings.LastIndexByte(p, '.')+1:])
	}
	return out
}

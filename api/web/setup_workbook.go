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

// workbookView shows the changes in an uploaded workbook before they are imported.
type workbookView struct {
	head
	CellFaults []cellFault
	General    string
	Same       bool
	Changes    []workbookChange
	Document   string // the uploaded set-up as JSON, to import
	Etag       string
}

// cellFault is a fault of a cell in the page's words.
type cellFault struct{ Sheet, Cell, Text string }

// cellFaults words the faults of a workbook: those of reading a cell by their rule, those of the settings as the forms do.
func cellFaults(list []setupfile.CellError, setup models.Setup, v voice) (out []cellFault) {
	for _, e := range list {
		key := "setup.book.wrong." + e.Rule
		text := v.Say(key)
		if !v.Has(key) {
			text = inPlainWords([]models.FieldError{e.Fault}, formConfig(setup, setupSections[0], v), v)[0].Detail
		}
		out = append(out, cellFault{e.Sheet, e.Cell, text})
	}
	return out
}

type workbookChange struct{ What, Before, After string }

// getWorkbook serves the set-up as a workbook.
func (p *pages) getWorkbook(c *gin.Context) {
	_, setup, ok := p.enter(c, models.ScopeManage, "setup")
	if !ok {
		return
	}
	data, err := setupfile.Write(setup)
	if err != nil {
		p.renderError(c, err)
		return
	}
	c.Header("Content-Disposition", `attachment; filename="`+url.PathEscape(setup.Site.Code)+`-setup.xlsx"`)
	c.Data(http.StatusOK, workbookType, data)
}

// previewWorkbook reads a workbook and shows its changes; nothing is stored.
func (p *pages) previewWorkbook(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "setup")
	if !ok {
		return
	}
	v := workbookView{head: h}
	v.head.Title = h.voice.Say("setup.book.title") + " · " + h.Title
	file, err := c.FormFile("book")
	var data []byte
	if err == nil {
		data, err = readUpload(file)
	}
	if err != nil {
		v.General = h.voice.Say("setup.book.none")
		p.render(c, http.StatusUnprocessableEntity, "book", v)
		return
	}
	read, cellErrors, err := setupfile.Read(data)
	switch {
	case err != nil:
		v.General = h.voice.Say("setup.book.unreadable")
		if models.CodeOf(err) != models.CodeMalformed {
			v.General = trouble(h.voice.Catalogue, err)
		}
	case len(cellErrors) > 0:
		v.CellFaults = cellFaults(cellErrors, setup, h.voice)
	case read.Site.Code != setup.Site.Code:
		v.General = h.voice.Say("setup.book.other_site", "other", read.Site.Code, "site", setup.Site.Code)
	}
	if v.General != "" || len(v.CellFaults) > 0 {
		p.render(c, http.StatusUnprocessableEntity, "book", v)
		return
	}
	if _, v.Etag, err = p.Store.Setup(c.Request.Context(), setup.Site.Code); err != nil {
		p.renderError(c, err)
		return
	}
	for _, s := range setupSections {
		if sameSection(setup, read, s) {
			continue
		}
		v.Changes = append(v.Changes, workbookChange{h.voice.Say("setup.section." + s.name), s.summary(setup, h.voice), s.summary(read, h.voice)})
	}
	v.Same = len(v.Changes) == 0
	b, err := json.Marshal(read)
	if err != nil {
		p.renderError(c, err)
		return
	}
	v.Document = string(b)
	p.render(c, http.StatusOK, "book", v)
}

// importWorkbook stores the set-up that previewWorkbook showed.
func (p *pages) importWorkbook(c *gin.Context) {
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
		p.renderTrouble(c, models.CodeInvalid, h.voice.Say("setup.book.other_site", "other", read.Site.Code, "site", setup.Site.Code))
		return
	}
	if err == nil {
		err = p.SaveSetup(c, read, c.PostForm("etag"))
	}
	if err != nil {
		p.renderError(c, err)
		return
	}
	c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(setup.Site.Code)+"/setup?saved=1")
}

func readUpload(file *multipart.FileHeader) ([]byte, error) {
	f, err := file.Open()
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(f)
	return data, errors.Join(err, f.Close())
}

// sameSection reports whether a section is equal in two set-ups.
func sameSection(a, b models.Setup, s setupSection) bool {
	da, db := asDocument(a), asDocument(b)
	for _, root := range s.roots {
		x, y := form.At(da, root), form.At(db, root)
		if len(s.elsewhere) > 0 {
			x, y = withoutMembers(x, s.elsewhere), withoutMembers(y, s.elsewhere)
		}
		if !form.Same(x, y) {
			return false
		}
	}
	return true
}

// withoutMembers drops the members that other sections show.
func withoutMembers(x any, paths []string) any {
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

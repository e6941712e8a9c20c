package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"html/template"
	"mime"
	"net/http"
	"path"

	"github.com/gin-gonic/gin"
)

//go:embed static
var staticFiles embed.FS

//go:embed templates
var templateFiles embed.FS

var templates = template.Must(template.New("").Funcs(template.FuncMap{"asset": asset}).ParseFS(templateFiles, "templates/*.html"))

// asset returns the address of a static file with its fingerprint, so that a browser may keep it until it changes.
func asset(name string) string { return "/static/" + name + "?v=" + fingerprints[name] }

var fingerprints = func() map[string]string {
	prints := map[string]string{}
	entries, _ := staticFiles.ReadDir("static")
	for _, e := range entries {
		b, _ := staticFiles.ReadFile("static/" + e.Name())
		sum := sha256.Sum256(b)
		prints[e.Name()] = hex.EncodeToString(sum[:6])
	}
	return prints
}()

func serveStatic(c *gin.Context) {
	name := path.Base(c.Param("file"))
	b, err := staticFiles.ReadFile("static/" + name)
	if err != nil {
		c.String(http.StatusNotFound, "There is no such file.")
		return
	}
	keep := "no-cache"
	if c.Query("v") == fingerprints[name] {
		keep = "public, max-age=31536000, immutable"
	}
	c.Header("Cache-Control", keep)
	c.Header("X-Content-Type-Options", "nosniff")
	c.Header("ETag", `"`+fingerprints[name]+`"`)
	if c.GetHeader("If-None-Match") == `"`+fingerprints[name]+`"` {
		c.Status(http.StatusNotModified)
		return
	}
	c.Data(http.StatusOK, mime.TypeByExtension(path.Ext(name)), b)
}

package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/api/web/texts"
	"hotday/planner/say/words"
)

//go:embed static
var staticFiles embed.FS

//go:embed templates
var templateFiles embed.FS

// templates has the pages in each language: {{say "key" "name" value}} is its text, {{sayHTML …}} one that holds markup, and
// {{sayAll "prefix."}} the texts of a script as JSON, by what follows the prefix.
var templates = func() map[string]*template.Template {
	out := map[string]*template.Template{}
	for _, c := range append(texts.Languages(), texts.For(words.Keys)) {
		out[c.Language()] = template.Must(template.New("").Funcs(template.FuncMap{
			"asset": asset, "lang": c.Language, "say": c.Say,
			"sayHTML": func(key string, args ...any) template.HTML { return markedUp(c, key, args...) },
			"sayAll":  func(prefix string) (string, error) { return under(c, prefix) },
		}).ParseFS(templateFiles, "templates/*.html"))
	}
	return out
}()

// markedUp says a text that holds markup of its own; what it is given is escaped unless it is markup too.
func markedUp(c *words.Catalogue, key string, args ...any) template.HTML {
	safe := slices.Clone(args)
	for i := 1; i < len(safe); i += 2 {
		if _, is := safe[i].(template.HTML); !is {
			safe[i] = template.HTMLEscapeString(fmt.Sprint(safe[i]))
		}
	}
	return template.HTML(c.Say(key, safe...)) //nolint:gosec // the texts are the program's own, their arguments escaped
}

// under returns the texts whose keys begin with prefix as a JSON object by the rest of their keys, for a script to say.
func under(c *words.Catalogue, prefix string) (string, error) {
	out := map[string]string{}
	for _, key := range texts.For(words.English).Keys() {
		if rest, ok := strings.CutPrefix(key, prefix); ok {
			out[rest] = c.Say(key)
		}
	}
	b, err := json.Marshal(out)
	return string(b), err
}

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

// program is a fingerprint of what the pages are made of. A wall screen that runs for weeks sees by it that it is of yesterday.
var program = func() string {
	sum := sha256.New()
	for _, files := range []embed.FS{staticFiles, templateFiles, texts.Files()} {
		_ = fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error { // what is embedded can be read
			if err != nil || d.IsDir() {
				return err
			}
			b, err := files.ReadFile(name)
			sum.Write(b)
			return err
		})
	}
	return hex.EncodeToString(sum.Sum(nil)[:6])
}()

// kitchenWorker serves the script that shows the last board where there is no network. It lies beside the page that it is for,
// since a browser lets it answer for nothing above itself.
func kitchenWorker(c *gin.Context) {
	b, err := staticFiles.ReadFile("static/kitchen-worker.js")
	if err != nil {
		c.Status(http.StatusNotFound)
		return
	}
	c.Header("Cache-Control", "no-cache")
	c.Data(http.StatusOK, mime.TypeByExtension(".js"), b)
}

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

package web

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"io/fs"
	"maps"
	"mime"
	"net/http"
	"path"
	"regexp"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/api/web/texts"
	"hotday/planner/say/words"
)

//go:embed static/*.js static/*.svg static/fonts static/icons static/styles
var staticFiles embed.FS

//go:embed templates
var templateFiles embed.FS

// templates has the pages in each language: {{say "key" "name" value}} is its text, {{sayHTML …}} one that holds markup, and
// {{sayAll "prefix."}} the texts of a script as JSON, by what follows the prefix.
var templates = func() map[string]*template.Template {
	out := map[string]*template.Template{}
	for _, c := range append(texts.Languages(), texts.For(words.Keys)) {
		out[c.Language()] = template.Must(template.New("").Funcs(template.FuncMap{
			"asset": asset, "imports": imports, "lang": c.Language, "say": c.Say,
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

// staticFile is a file that pages load.
type staticFile struct {
	body []byte
	etag string
}

// statics are the files that pages load, by name: scripts, pictures and fonts, and the style sheet made of its parts.
var statics = func() map[string]staticFile {
	bodies := map[string][]byte{"hotday.css": styleSheet()}
	for _, pattern := range []string{"static/*.js", "static/*.svg", "static/fonts/*", "static/icons/*"} {
		for _, name := range embedded(pattern) {
			bodies[path.Base(name)] = read(name)
		}
	}
	out := map[string]staticFile{}
	for name, body := range bodies {
		out[name] = staticFile{body, `"` + fingerprint(body) + `"`}
	}
	return out
}()

// styleSheet joins the parts of the style sheet, from general to particular: of rules with equal weight the later one applies.
func styleSheet() []byte {
	var sheet []byte
	for _, layer := range []string{"font.css", "ground.css", "type.css", "controls.css", "drawings.css", "pages/*.css"} {
		for _, name := range embedded("static/styles/" + layer) {
			sheet = append(sheet, read(name)...)
		}
	}
	return sheet
}

// mediaType returns the media type of a static file, for fonts whatever the machine knows of them.
func mediaType(name string) string {
	if path.Ext(name) == ".woff2" {
		return "font/woff2"
	}
	return mime.TypeByExtension(path.Ext(name))
}

func embedded(pattern string) []string {
	names, _ := fs.Glob(staticFiles, pattern) // fails for a malformed pattern only
	return names
}

func read(name string) []byte {
	b, _ := staticFiles.ReadFile(name) // what is embedded can be read
	return b
}

func fingerprint(parts ...[]byte) string {
	sum := sha256.New()
	for _, b := range parts {
		sum.Write(b)
	}
	return hex.EncodeToString(sum.Sum(nil)[:6])
}

// staticVersion identifies the content of all static files. It is a folder in their addresses: a script imports another relative to
// itself and so always gets the one of the same version, and a browser may keep each address for ever.
var staticVersion = versionOf(statics)

func versionOf(files map[string]staticFile) string {
	var parts [][]byte
	for _, name := range slices.Sorted(maps.Keys(files)) {
		sum := sha256.Sum256(files[name].body)
		parts = append(parts, []byte(name), sum[:])
	}
	return fingerprint(parts...)
}

// asset returns the address of a static file.
func asset(name string) string { return "/static/" + staticVersion + "/" + name }

var importedFile = regexp.MustCompile(`\bfrom "\./([\w-]+\.js)";`)

// importedBy has, for each script, the modules that it needs, directly or through another, each once.
var importedBy = func() map[string][]string {
	out := map[string][]string{}
	for script := range statics {
		seen := map[string]bool{script: true}
		for next := []string{script}; len(next) > 0; next = next[1:] {
			for _, m := range importedFile.FindAllSubmatch(statics[next[0]].body, -1) {
				if name := string(m[1]); !seen[name] {
					seen[name] = true
					out[script], next = append(out[script], name), append(next, name)
				}
			}
		}
	}
	return out
}()

// imports returns the modules that a script needs. A page names them so that a browser loads them all at the same time, and the wall
// keeps them for when there is no network.
func imports(script string) []string { return importedBy[script] }

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

// kitchenWorker serves the service worker that shows pages when there is no network. Its address is beside the page's,
// since a service worker answers only for addresses below its own.
func kitchenWorker(c *gin.Context) {
	c.Header("Cache-Control", "no-cache")
	c.Data(http.StatusOK, mime.TypeByExtension(".js"), statics["kitchen-worker.js"].body)
}

// serveStatic serves a file at its current address. Any other version leads there, so that a page from before an upgrade gets
// scripts that belong together: a module's imports are relative to the address that it came from in the end.
func serveStatic(c *gin.Context) {
	version, name := path.Split(strings.TrimPrefix(c.Param("file"), "/"))
	file, ok := statics[name]
	if !ok {
		c.String(http.StatusNotFound, "There is no such file.")
		return
	}
	if version != staticVersion+"/" {
		c.Header("Cache-Control", "no-store")
		c.Redirect(http.StatusFound, asset(name))
		return
	}
	c.Header("Cache-Control", "public, max-age=31536000, immutable")
	c.Header("X-Content-Type-Options", "nosniff")
	c.Header("ETag", file.etag)
	if c.GetHeader("If-None-Match") == file.etag {
		c.Status(http.StatusNotModified)
		return
	}
	c.Data(http.StatusOK, mediaType(name), file.body)
}

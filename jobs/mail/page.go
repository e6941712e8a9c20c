package mail

import (
	"bytes"
	"html/template"
	"strings"

	"hotday/planner/say"
)

// page is the content of a letter, from which its text and its HTML are written.
type page struct {
	Lang    string
	Title   string
	Blocks  []block
	Links   []link
	Foot    []string
	Stop    *link  // nil: of a confirmation
	Written string // the text of the blocks, where it has a layout of its own
}

// block is a paragraph or, with At, a line of a list with its time.
type block struct {
	At, Lead, Text string
	Notes          []string
}

type link struct{ Text, URL string }

func (p page) text() string {
	var b strings.Builder
	line := func(s string) { b.WriteString(strings.TrimRight(s, " ") + "\n") }
	if p.Written != "" {
		b.WriteString(p.Written)
	} else {
		line(p.Title)
		for _, x := range p.Blocks {
			line("")
			line(strings.TrimSpace(strings.Join([]string{x.At, x.Lead, x.Text}, " ")))
			for _, n := range x.Notes {
				line("  - " + n)
			}
		}
	}
	for _, x := range p.Links {
		line("")
		line(x.Text + ":")
		line(x.URL)
	}
	line("")
	line("-- ")
	for _, f := range p.Foot {
		line(f)
	}
	if p.Stop != nil {
		line(p.Stop.Text + ": " + p.Stop.URL)
	}
	return strings.NewReplacer(say.NoBreak, " ", "\u202f", " ").Replace(b.String())
}

// The style is in the elements, since mail programs remove style sheets, and leaves colours to them, so that dark themes work.
//
//nolint:misspell // color-scheme is a name of HTML
var pageTemplate = template.Must(template.New("letter").Parse(`<!doctype html>
<html lang="{{.Lang}}"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="light dark"><title>{{.Title}}</title></head>
<body style="font-family:sans-serif;font-size:16px;line-height:1.45;max-width:40em;margin:1em auto;padding:0 1em">
<h1 style="font-size:1.25em">{{.Title}}</h1>
{{range .Blocks}}<p style="margin:.7em 0">{{with .At}}<b>{{.}}</b> {{end}}{{with .Lead}}<b>{{.}}</b> {{end}}{{.Text}}{{range .Notes}}<br><span style="font-size:.9em">– {{.}}</span>{{end}}</p>
{{end}}{{range .Links}}<p><a href="{{.URL}}">{{.Text}}</a></p>
{{end}}<hr>
<p style="font-size:.85em">{{range .Foot}}{{.}}<br>{{end}}{{with .Stop}}<a href="{{.URL}}">{{.Text}}</a>{{end}}</p>
</body></html>
`))

func (p page) html() (string, error) {
	var b bytes.Buffer
	err := pageTemplate.Execute(&b, p)
	return b.String(), err
}

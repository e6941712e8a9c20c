package api

import (
	"bytes"
	"cmp"
	"context"
	_ "embed"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/gin-gonic/gin"

	"hotday/openapi"
)

// contract serves the document as it is.
func (s *Server) contract(c *gin.Context) error {
	c.Header("Cache-Control", "no-cache")
	c.Data(http.StatusOK, "application/yaml", openapi.YAML)
	return nil
}

// contractPage serves the same as a page, made once.
func (s *Server) contractPage(c *gin.Context) error {
	page, err := readableContract()
	if err != nil {
		return err
	}
	c.Header("Cache-Control", "no-cache")
	c.Data(http.StatusOK, asHTML+"; charset=utf-8", page)
	return nil
}

//go:embed contract.css
var contractStyle []byte

func (s *Server) contractCSS(c *gin.Context) error {
	c.Header("Cache-Control", "no-cache")
	c.Data(http.StatusOK, "text/css; charset=utf-8", contractStyle)
	return nil
}

var contractTemplate = template.Must(template.New("contract.html").ParseFS(templateFiles, "contract.html"))

var readableContract = sync.OnceValues(func() ([]byte, error) {
	doc, err := openapi3.NewLoader().LoadFromData(openapi.YAML)
	if err != nil {
		return nil, fmt.Errorf("read the contract: %w", err)
	}
	if err := doc.Validate(context.Background()); err != nil {
		return nil, fmt.Errorf("read the contract: %w", err)
	}
	var page bytes.Buffer
	if err := contractTemplate.Execute(&page, newContractView(doc)); err != nil {
		return nil, fmt.Errorf("write the contract: %w", err)
	}
	return page.Bytes(), nil
})

// The view of the contract: operations by tag, then the documents that they take and give.
type (
	contractView struct {
		Title     string
		Paragraph []string
		Groups    []contractGroup
		Documents []contractDocument
	}
	contractGroup struct {
		Name, Words string
		Operations  []contractOperation
	}
	contractOperation struct {
		Method, Path, Summary, Words string
		Scopes                       string
		Parameters                   []contractField
		Body                         *contractType
		Example                      string
		Answers, Refusals            []contractAnswer
	}
	contractAnswer struct {
		Status, Words string
		Body          *contractType
	}
	contractDocument struct {
		Name, Words string
		Fields      []contractField
	}
	contractField struct {
		Name, Words, Rules string
		Type               contractType
		Required           bool
	}
	contractType struct {
		Words string
		Links []string // documents that the words name
	}
)

func newContractView(doc *openapi3.T) contractView {
	v := contractView{Title: doc.Info.Title + " · the programming interface"}
	for p := range strings.SplitSeq(doc.Info.Description, "\n\n") {
		v.Paragraph = append(v.Paragraph, strings.NewReplacer("**", "", "`", "").Replace(strings.TrimSpace(p)))
	}
	for _, tag := range doc.Tags {
		g := contractGroup{Name: tag.Name, Words: tag.Description}
		for _, path := range sortedKeys(doc.Paths.Map()) {
			item := doc.Paths.Value(path)
			for _, method := range sortedKeys(item.Operations()) {
				if op := item.Operations()[method]; slices.Contains(op.Tags, tag.Name) {
					g.Operations = append(g.Operations, operationView(method, path, item, op))
				}
			}
		}
		v.Groups = append(v.Groups, g)
	}
	for _, name := range sortedKeys(doc.Components.Schemas) {
		s := doc.Components.Schemas[name].Value
		v.Documents = append(v.Documents, contractDocument{Name: name, Words: s.Description, Fields: fieldViews(s)})
	}
	return v
}

func operationView(method, path string, item *openapi3.PathItem, op *openapi3.Operation) contractOperation {
	o := contractOperation{Method: method, Path: path, Summary: op.Summary, Words: op.Description, Scopes: scopeWords(op.Security)}
	for _, list := range []openapi3.Parameters{item.Parameters, op.Parameters} {
		for _, p := range list {
			f := contractField{Name: p.Value.Name, Words: p.Value.Description, Required: p.Value.Required}
			if p.Value.Schema != nil {
				f.Type, f.Rules = typeView(p.Value.Schema), ruleWords(p.Value.Schema.Value)
			}
			f.Words = strings.TrimSpace("in the " + p.Value.In + ". " + f.Words)
			o.Parameters = append(o.Parameters, f)
		}
	}
	if op.RequestBody != nil {
		if media := op.RequestBody.Value.Content.Get(asJSON); media != nil {
			t := typeView(media.Schema)
			o.Body = &t
			if media.Example != nil {
				o.Example = indented(media.Example)
			}
		}
	}
	for _, status := range sortedKeys(op.Responses.Map()) {
		r := op.Responses.Value(status).Value
		a := contractAnswer{Status: status}
		if r.Description != nil {
			a.Words = *r.Description
		}
		if media := r.Content.Get(asJSON); media != nil {
			t := typeView(media.Schema)
			a.Body = &t
		}
		if status >= "400" {
			o.Refusals = append(o.Refusals, a)
			continue
		}
		o.Answers = append(o.Answers, a)
	}
	return o
}

func scopeWords(reqs *openapi3.SecurityRequirements) string {
	if reqs == nil || len(*reqs) == 0 {
		return "open to everybody"
	}
	var scopes []string
	for _, r := range *reqs {
		for _, names := range r {
			for _, n := range names {
				if !slices.Contains(scopes, n) {
					scopes = append(scopes, n)
				}
			}
		}
	}
	slices.Sort(scopes)
	return "scope " + strings.Join(scopes, " or ")
}

func fieldViews(s *openapi3.Schema) []contractField {
	var fields []contractField
	for _, name := range sortedKeys(s.Properties) {
		p := s.Properties[name]
		fields = append(fields, contractField{Name: name, Words: p.Value.Description, Type: typeView(p), Rules: ruleWords(p.Value), Required: slices.Contains(s.Required, name)})
	}
	return fields
}

// typeView says a type in words.
func typeView(ref *openapi3.SchemaRef) contractType {
	if ref == nil {
		return contractType{}
	}
	if name := ref.Ref[strings.LastIndex(ref.Ref, "/")+1:]; name != "" {
		return contractType{Words: "one", Links: []string{name}}
	}
	s := ref.Value
	if len(s.AnyOf) > 0 {
		var t contractType
		for _, alt := range s.AnyOf {
			t.Links = append(t.Links, typeView(alt).Links...)
		}
		t.Words = "one"
		if len(t.Links) > 1 {
			t.Words = "one of"
		}
		return t
	}
	if s.Items != nil {
		of := typeView(s.Items)
		if len(of.Links) == 0 {
			of.Words = "of " + of.Words
		} else {
			of.Words = "of"
		}
		of.Words = "list " + of.Words
		return of
	}
	if rows := s.Properties["rows"]; rows != nil {
		t := typeView(rows)
		t.Words = "rows and next, rows: " + t.Words
		return t
	}
	words := "anything"
	if s.Type != nil {
		words = strings.Join(slices.DeleteFunc(slices.Clone(s.Type.Slice()), func(t string) bool { return t == "null" }), " or ")
	}
	if s.Format != "" {
		words += ", " + s.Format
	}
	return contractType{Words: words}
}

func ruleWords(s *openapi3.Schema) string {
	var rules []string
	add := func(format string, v any) { rules = append(rules, fmt.Sprintf(format, v)) }
	if s.Min != nil {
		add("≥ %v", *s.Min)
	}
	if b := s.ExclusiveMin.Value; b != nil {
		add("> %v", *b)
	}
	if s.Max != nil {
		add("≤ %v", *s.Max)
	}
	if b := s.ExclusiveMax.Value; b != nil {
		add("< %v", *b)
	}
	if s.MaxLength != nil {
		add("at most %d characters", *s.MaxLength)
	}
	if s.MaxItems != nil {
		add("at most %d entries", *s.MaxItems)
	}
	if len(s.Enum) > 0 {
		var words []string
		for _, e := range s.Enum {
			if e != nil {
				words = append(words, fmt.Sprint(e))
			}
		}
		rules = append(rules, strings.Join(words, ", "))
	}
	if s.Default != nil {
		add("left out: %v", s.Default)
	}
	return strings.Join(rules, "; ")
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int { return cmp.Compare(a, b) })
	return keys
}

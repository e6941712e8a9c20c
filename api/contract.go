package api

import (
	"bytes"
	"cmp"
	"context"
	"embed"
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

// getContract serves openapi.yaml.
func (s *Server) getContract(c *gin.Context) error {
	c.Header("Cache-Control", "no-cache")
	c.Data(http.StatusOK, "application/yaml", openapi.YAML)
	return nil
}

// getContractPage serves the contract as a page, rendered once.
func (s *Server) getContractPage(c *gin.Context) error {
	page, err := contractHTML()
	if err != nil {
		return err
	}
	c.Header("Cache-Control", "no-cache")
	c.Data(http.StatusOK, asHTML+"; charset=utf-8", page)
	return nil
}

//go:embed contract.css
var contractCSS []byte

func (s *Server) getContractCSS(c *gin.Context) error {
	c.Header("Cache-Control", "no-cache")
	c.Data(http.StatusOK, "text/css; charset=utf-8", contractCSS)
	return nil
}

//go:embed contract.html
var templateFiles embed.FS

var contractTemplate = template.Must(template.New("contract.html").ParseFS(templateFiles, "contract.html"))

var contractHTML = sync.OnceValues(func() ([]byte, error) {
	doc, err := openapi3.NewLoader().LoadFromData(openapi.YAML)
	if err != nil {
		return nil, fmt.Errorf("read the contract: %w", err)
	}
	if err := doc.Validate(context.Background()); err != nil {
		return nil, fmt.Errorf("read the contract: %w", err)
	}
	var page bytes.Buffer
	if err := contractTemplate.Execute(&page, newContractView(doc)); err != nil {
		return nil, fmt.Errorf("render the contract: %w", err)
	}
	return page.Bytes(), nil
})

// The view of the contract: operations by tag, then schemas.
type (
	contractView struct {
		Title      string
		Paragraphs []string
		Groups     []contractGroup
		Schemas    []contractSchema
	}
	contractGroup struct {
		Name, Description string
		Operations        []contractOperation
	}
	contractOperation struct {
		Method, Path, Summary, Description string
		Scopes                             string
		Parameters                         []contractField
		Body                               *contractType
		Example                            string
		Responses, Errors                  []contractResponse
	}
	contractResponse struct {
		Status, Description string
		Body                *contractType
	}
	contractSchema struct {
		Name, Description string
		Fields            []contractField
	}
	contractField struct {
		Name, Description, Constraints string
		Type                           contractType
		Required                       bool
	}
	contractType struct {
		Text  string
		Links []string // schemas that Text refers to
	}
)

func newContractView(doc *openapi3.T) contractView {
	v := contractView{Title: doc.Info.Title + " · API reference"}
	for p := range strings.SplitSeq(doc.Info.Description, "\n\n") {
		v.Paragraphs = append(v.Paragraphs, strings.NewReplacer("**", "", "`", "").Replace(strings.TrimSpace(p)))
	}
	for _, tag := range doc.Tags {
		g := contractGroup{Name: tag.Name, Description: tag.Description}
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
		v.Schemas = append(v.Schemas, contractSchema{Name: name, Description: s.Description, Fields: fieldViews(s)})
	}
	return v
}

func operationView(method, path string, item *openapi3.PathItem, op *openapi3.Operation) contractOperation {
	o := contractOperation{Method: method, Path: path, Summary: op.Summary, Description: op.Description, Scopes: scopeText(op.Security)}
	for _, list := range []openapi3.Parameters{item.Parameters, op.Parameters} {
		for _, p := range list {
			f := contractField{Name: p.Value.Name, Description: p.Value.Description, Required: p.Value.Required}
			if p.Value.Schema != nil {
				f.Type, f.Constraints = typeView(p.Value.Schema), constraintText(p.Value.Schema.Value)
			}
			f.Description = strings.TrimSpace("In " + p.Value.In + ". " + f.Description)
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
		a := contractResponse{Status: status}
		if r.Description != nil {
			a.Description = *r.Description
		}
		if media := r.Content.Get(asJSON); media != nil {
			t := typeView(media.Schema)
			a.Body = &t
		}
		if status >= "400" {
			o.Errors = append(o.Errors, a)
			continue
		}
		o.Responses = append(o.Responses, a)
	}
	return o
}

func scopeText(reqs *openapi3.SecurityRequirements) string {
	if reqs == nil || len(*reqs) == 0 {
		return "public"
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
		fields = append(fields, contractField{Name: name, Description: p.Value.Description, Type: typeView(p), Constraints: constraintText(p.Value), Required: slices.Contains(s.Required, name)})
	}
	return fields
}

// typeView describes a type in words.
func typeView(ref *openapi3.SchemaRef) contractType {
	if ref == nil {
		return contractType{}
	}
	if name := ref.Ref[strings.LastIndex(ref.Ref, "/")+1:]; name != "" {
		return contractType{Text: "one", Links: []string{name}}
	}
	s := ref.Value
	if len(s.AnyOf) > 0 {
		var t contractType
		for _, alt := range s.AnyOf {
			t.Links = append(t.Links, typeView(alt).Links...)
		}
		t.Text = "one"
		if len(t.Links) > 1 {
			t.Text = "one of"
		}
		return t
	}
	if s.Items != nil {
		of := typeView(s.Items)
		if len(of.Links) == 0 {
			of.Text = "of " + of.Text
		} else {
			of.Text = "of"
		}
		of.Text = "list " + of.Text
		return of
	}
	if rows := s.Properties["rows"]; rows != nil {
		t := typeView(rows)
		t.Text = "one page: next and rows, a " + t.Text
		return t
	}
	words := "anything"
	if s.Type != nil {
		words = strings.Join(slices.DeleteFunc(slices.Clone(s.Type.Slice()), func(t string) bool { return t == "null" }), " or ")
	}
	if s.Format != "" {
		words += ", " + s.Format
	}
	return contractType{Text: words}
}

func constraintText(s *openapi3.Schema) string {
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
		add("default: %v", s.Default)
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

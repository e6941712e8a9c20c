package say_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/planner/say/words"
)

// errorCalls are the functions whose arguments are texts of errors, and errorTypes the composite literals: those are the contract's
// wording and stay beside the rule that they state. An entry with a slash holds in that package only; about and old make keys.
var (
	errorCalls = map[string]bool{"errors.New": true, "fmt.Errorf": true, "models.Errorf": true, "models.Invalid": true, "panic": true, "regexp.MustCompile": true,
		"batch/v.add": true, "calc/r.add": true, "calc/r.within": true, "demand/forecast/bad": true, "replay/bad": true, "replay/p.fail": true,
		"./about": true, "./old": true}
	errorTypes = map[string]bool{"models.Error": true, "models.FieldError": true, "BrewError": true}
)

// notSentences are the literals that look like English without being texts of the catalogue's kind, by file.
var notSentences = map[string][]string{
	"batch/validate.go":         {"[from, to] with 0 ≤ from < to ≤ %d"},                                                         // of an error
	"demand/forecast/stored.go": {"%d day", "the last "},                                                                        // read, in states of earlier versions
	"ical/feed.go":              {"-//hotday//prep sheets//EN"},                                                                 // the calendar's PRODID
	"ideas_stores.go":           {"|plain ice"},                                                                                 // a key
	"outlook.go":                {"drink ice", "treated water"},                                                                 // keys
	"paper/labels.go":           {"a4-3x8, a4-2x7, letter-3x10, or the width and height of a single label in mm such as 62x29"}, // of an error
	"replay/policy.go":          {"plan, no choices", "plan, replanned", "par sheet", "perfect foresight"},                      // values of the API's and the CSV's method
	"replay/shop.go":            {"Invented shop"},                                                                              // a name
	"review/advice.go":          {"kg a day", "loads a day"},                                                                    // values of the API's unit
	"sheet/discard.go":          {"%s before %d"},                                                                               // part of a task's id
	"sheet/prepsheet.go":        {"cold store"},                                                                                 // a station's code
	"sheet/ice.go":              {"ice bin"},                                                                                    // likewise
	"tables/write.go":           {"yyyy-mm-dd hh:mm"},                                                                           // a number format
	"warnings_stores.go":        {"plain ice"},                                                                                  // a key
}

var (
	verb   = regexp.MustCompile(`%[-+# 0-9.*]*[a-zA-Z]`)
	inARow = regexp.MustCompile(`\pL[’'\pL]*[)"”]?[,;:.]? ["“(]?\pL|\x00\S? \pL{3,}`)
	markup = regexp.MustCompile(`<[a-z!/]|[a-z]="|[a-z-]:[^ ].*;`) // XML, or declarations of CSS
)

// looksEnglish reports whether a literal reads like words in a row, or like a number of something.
func looksEnglish(s string) bool {
	return !markup.MatchString(s) && inARow.MatchString(verb.ReplaceAllString(s, "\x00"))
}

// sentences are the string literals of a Go file, or source in its place, that read like English and are not errors.
func sentences(t testing.TB, name string, source any) (out []string) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), filepath.Join("..", name), source, 0)
	require.NoError(t, err)
	var up []ast.Node // the nodes around the present one
	ast.Inspect(file, func(n ast.Node) bool {
		if n == nil {
			up = up[:len(up)-1]
			return true
		}
		up = append(up, n)
		l, ok := n.(*ast.BasicLit)
		if !ok || l.Kind != token.STRING {
			return true
		}
		s, err := strconv.Unquote(l.Value)
		require.NoError(t, err)
		if looksEnglish(s) && !excused(filepath.Dir(name), up) {
			out = append(out, s)
		}
		return true
	})
	return out
}

// excused reports whether a literal, the last of up, is a field's tag or part of an error's text.
func excused(folder string, up []ast.Node) bool {
	for _, n := range up {
		switch x := n.(type) {
		case *ast.Field:
			if x.Tag == up[len(up)-1] {
				return true
			}
		case *ast.CallExpr:
			if f := nameOf(x.Fun); errorCalls[f] || errorCalls[folder+"/"+f] {
				return true
			}
		case *ast.CompositeLit:
			if errorTypes[nameOf(x.Type)] {
				return true
			}
		}
	}
	return false
}

// nameOf writes a function or type as in the source: "fmt.Errorf", "bad"; "" for anything longer.
func nameOf(e ast.Expr) string {
	switch x := e.(type) {
	case *ast.Ident:
		return x.Name
	case *ast.SelectorExpr:
		if of, ok := x.X.(*ast.Ident); ok {
			return of.Name + "." + x.Sel.Name
		}
	}
	return ""
}

// The planner's sentences are in the catalogue, so that another language has them too: none is built in the code.
func TestSentencesAreInTheCatalogue(t *testing.T) {
	t.Parallel()
	left := map[string]bool{}
	for file, list := range notSentences {
		for _, s := range list {
			left[file+": "+s] = true
		}
	}
	for _, name := range plannerFiles(t) {
		if strings.HasPrefix(name, "say/") || strings.HasPrefix(name, "audit/") { // audit words findings for those who mend the planner
			continue
		}
		for _, s := range sentences(t, name, nil) {
			if key := name + ": " + s; left[key] {
				delete(left, key)
				continue
			}
			t.Errorf("%s: say %q with a key of planner/say/words/en", name, s)
		}
	}
	for key := range left {
		t.Errorf("an exception that nothing needs: %s", key)
	}
}

// plannerFiles are the Go files below planner but tests.
func plannerFiles(t testing.TB) (names []string) {
	t.Helper()
	require.NoError(t, filepath.WalkDir("..", func(path string, _ fs.DirEntry, err error) error {
		if strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go") {
			names = append(names, strings.TrimPrefix(filepath.ToSlash(path), "../"))
		}
		return err
	}))
	return names
}

// speakers are the methods and functions that take a key of the catalogue and its arguments by name.
var speakers = map[string]bool{"Say": true, "say": true, "warn": true, "phrase": true}

// missingArguments lists the arguments of texts that a Go file says by a literal key without giving them.
func missingArguments(t testing.TB, name string, source any) (out []string) {
	t.Helper()
	english := words.In(words.English)
	file, err := parser.ParseFile(token.NewFileSet(), filepath.Join("..", name), source, 0)
	require.NoError(t, err)
	ast.Inspect(file, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok || len(call.Args) == 0 || call.Ellipsis.IsValid() || !speakers[lastName(call.Fun)] {
			return true
		}
		key := literal(call.Args[0])
		for _, arg := range english.Arguments(key) {
			given := false
			for i := 1; i < len(call.Args); i += 2 {
				given = given || literal(call.Args[i]) == arg
			}
			if !given {
				out = append(out, key+": "+arg)
			}
		}
		return true
	})
	return out
}

// lastName is the name of a function or method without its package or receiver.
func lastName(e ast.Expr) string {
	if x, ok := e.(*ast.SelectorExpr); ok {
		return x.Sel.Name
	}
	return nameOf(e)
}

// literal is the value of a string literal, "" for another expression.
func literal(e ast.Expr) string {
	l, ok := e.(*ast.BasicLit)
	if !ok || l.Kind != token.STRING {
		return ""
	}
	s, _ := strconv.Unquote(l.Value)
	return s
}

func TestTextsGetTheirArguments(t *testing.T) {
	t.Parallel()
	for _, name := range plannerFiles(t) {
		assert.Empty(t, missingArguments(t, name, nil), name)
	}
	got := missingArguments(t, "calc/x.go", "package calc\n\nfunc f() {\nr.say(\"calc.melt\", \"hours\", h, \"temp\", c, \"melted\", g)\n}\n")
	assert.Equal(t, []string{"calc.melt: left"}, got)
}

func TestASentenceInTheCodeIsSeen(t *testing.T) {
	t.Parallel()
	for body, want := range map[string]int{
		`return fmt.Sprintf("%s kg freeze in %s", a, b)`:                         1,
		`return a + "; the shop is closed then"`:                                 1,
		`return "under way: kept as it is"`:                                      1,
		`out = append(out, fmt.Sprintf("%d brews", 3))`:                          1,
		`const basis = "a guess"`:                                                1,
		`return fmt.Errorf("read the state: %w", err)`:                           0,
		`return models.Invalid("/a", fmt.Sprintf("%d to %d g of it", a, b))`:     0,
		`return &models.Error{Message: "the document is not valid"}`:             0,
		`r.add("/a", "flash, steeped or hot_chilled", "is %q", m)`:               0,
		`x := struct{ A int ` + "`json:\"a\" validate:\"max=1, min=0\"`" + `}{}`: 0,
		`c.put("<text x=\"1\" class=\"b\">")`:                                    0,
		`key := fmt.Sprintf("%s %s %d", a, b, n)`:                                0,
		`return v.Say("basis.guess")`:                                            0,
	} {
		got := sentences(t, "calc/x.go", "package calc\n\nfunc f() {\n"+body+"\n}\n")
		assert.Len(t, got, want, "%s: %q", body, got)
	}
	assert.NotEmpty(t, sentences(t, "demand/x.go", "package demand\n\nfunc f() { r.add(\"/a\", \"a text of its own\") }"), "calc's helper is excused in calc only")
}

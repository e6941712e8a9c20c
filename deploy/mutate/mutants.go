package main

import (
	"cmp"
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"strings"
)

// mutant is one change of a source file: the bytes from start to end are replaced.
type mutant struct {
	file       string // absolute
	line, col  int
	start, end int
	with       string
	what       string // for a person
	inFunc     bool   // outside functions no coverage is measured
}

// apply returns src with the change.
func (m mutant) apply(src []byte) []byte {
	return slices.Concat(src[:m.start], []byte(m.with), src[m.end:])
}

// swaps are the operators and what each becomes: its neighbour at the boundary, and its opposite.
var swaps = map[token.Token][]token.Token{
	token.LSS: {token.LEQ, token.GEQ}, token.LEQ: {token.LSS, token.GTR},
	token.GTR: {token.GEQ, token.LEQ}, token.GEQ: {token.GTR, token.LSS},
	token.EQL: {token.NEQ}, token.NEQ: {token.EQL},
	token.ADD: {token.SUB}, token.SUB: {token.ADD}, token.MUL: {token.QUO}, token.QUO: {token.MUL}, token.REM: {token.MUL},
	token.LAND: {token.LOR}, token.LOR: {token.LAND},
	token.ADD_ASSIGN: {token.SUB_ASSIGN}, token.SUB_ASSIGN: {token.ADD_ASSIGN},
	token.MUL_ASSIGN: {token.QUO_ASSIGN}, token.QUO_ASSIGN: {token.MUL_ASSIGN},
	token.INC: {token.DEC}, token.DEC: {token.INC},
}

// finder gathers the mutants of one file.
type finder struct {
	fset   *token.FileSet
	file   string
	src    []byte
	found  []mutant
	inFunc bool
}

// mutantsOf returns every mutant of a source file in the order of its text.
func mutantsOf(file string, src []byte) ([]mutant, error) {
	f := &finder{fset: token.NewFileSet(), file: file, src: src}
	parsed, err := parser.ParseFile(f.fset, file, src, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	for _, d := range parsed.Decls {
		fn, ok := d.(*ast.FuncDecl)
		f.inFunc = ok && fn.Body != nil
		ast.Inspect(d, f.visit)
	}
	slices.SortStableFunc(f.found, func(a, b mutant) int { return cmp.Compare(a.start, b.start) })
	return f.found, nil
}

func (f *finder) visit(n ast.Node) bool {
	switch x := n.(type) {
	case *ast.ImportSpec, *ast.ArrayType: // paths, lengths
		return false
	case *ast.BinaryExpr:
		if x.Op != token.ADD || !(isText(x.X) || isText(x.Y)) {
			f.swap(x.OpPos, x.Op)
		}
	case *ast.UnaryExpr:
		switch x.Op {
		case token.NOT:
			f.replace(x.OpPos, x.OpPos+1, "", "! removed")
		case token.SUB:
			f.replace(x.OpPos, x.OpPos+1, "", "- removed")
		}
	case *ast.BasicLit:
		f.literal(x)
	case *ast.Ident:
		f.truth(x)
	case *ast.IfStmt:
		f.condition(x.Cond)
	case *ast.ForStmt:
		f.condition(x.Cond)
	case *ast.AssignStmt:
		f.swap(x.TokPos, x.Tok)
	case *ast.IncDecStmt:
		f.swap(x.TokPos, x.Tok)
	case *ast.BlockStmt:
		f.statements(x.List)
	case *ast.CaseClause:
		f.statements(x.Body)
	case *ast.CommClause:
		f.statements(x.Body)
	}
	return true
}

func isText(e ast.Expr) bool {
	switch x := e.(type) {
	case *ast.BasicLit:
		return x.Kind == token.STRING
	case *ast.BinaryExpr:
		return x.Op == token.ADD && (isText(x.X) || isText(x.Y))
	}
	return false
}

func (f *finder) swap(at token.Pos, op token.Token) {
	for _, to := range swaps[op] {
		f.replace(at, at+token.Pos(len(op.String())), to.String(), op.String()+" → "+to.String())
	}
}

// literal makes a number one larger, or half as large again where it has a fraction.
func (f *finder) literal(x *ast.BasicLit) {
	switch x.Kind {
	case token.INT:
		if n, err := strconv.ParseInt(x.Value, 0, 64); err == nil {
			f.replace(x.Pos(), x.End(), strconv.FormatInt(n+1, 10), x.Value+" → "+strconv.FormatInt(n+1, 10))
		}
	case token.FLOAT:
		if v, err := strconv.ParseFloat(x.Value, 64); err == nil {
			to := strconv.FormatFloat(v*1.5, 'g', -1, 64)
			if v == 0 {
				to = "1.0"
			}
			f.replace(x.Pos(), x.End(), to, x.Value+" → "+to)
		}
	}
}

func (f *finder) truth(x *ast.Ident) {
	switch x.Name {
	case "true":
		f.replace(x.Pos(), x.End(), "false", "true → false")
	case "false":
		f.replace(x.Pos(), x.End(), "true", "false → true")
	}
}

// condition turns a condition round that has no operator of its own to turn.
func (f *finder) condition(e ast.Expr) {
	switch x := e.(type) {
	case nil:
	case *ast.BinaryExpr, *ast.UnaryExpr:
	default:
		f.replace(x.Pos(), x.End(), "!("+f.text(x)+")", f.text(x)+" turned round")
	}
}

// statements takes each statement out that something can be done without. What it names stays in use, so that the rest compiles.
func (f *finder) statements(list []ast.Stmt) {
	for _, s := range list {
		switch x := s.(type) {
		case *ast.AssignStmt:
			if x.Tok == token.DEFINE {
				continue
			}
		case *ast.ExprStmt, *ast.IncDecStmt, *ast.DeferStmt, *ast.GoStmt, *ast.SendStmt, *ast.BranchStmt:
		default:
			continue
		}
		text, _, cut := strings.Cut(f.text(s), "\n")
		if cut {
			text += " …"
		}
		f.replace(s.Pos(), s.End(), "if false { "+f.text(s)+" }", "removed: "+text)
	}
}

func (f *finder) text(n ast.Node) string {
	return string(f.src[f.fset.Position(n.Pos()).Offset:f.fset.Position(n.End()).Offset])
}

func (f *finder) replace(from, to token.Pos, with, what string) {
	at := f.fset.Position(from)
	f.found = append(f.found, mutant{file: f.file, line: at.Line, col: at.Column, start: at.Offset, end: at.Offset + int(to-from),
		with: with, what: what, inFunc: f.inFunc})
}

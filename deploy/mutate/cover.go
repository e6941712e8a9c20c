package main

import (
	"fmt"
	"path"
	"strings"
)

// block is a stretch of a source file that a test has run.
type block struct{ fromLine, fromCol, toLine, toCol int }

func (b block) holds(line, col int) bool {
	after := line > b.fromLine || (line == b.fromLine && col >= b.fromCol)
	before := line < b.toLine || (line == b.toLine && col < b.toCol)
	return after && before
}

// coverage is what was run, by the name of a file without its folder: a profile is of one package.
type coverage map[string][]block

// readCoverage reads a profile of go test -coverprofile.
func readCoverage(profile string) (coverage, error) {
	c := coverage{}
	for line := range strings.Lines(profile) {
		file, rest, found := strings.Cut(strings.TrimSpace(line), ":")
		if !found || file == "mode" {
			continue
		}
		var b block
		var statements, count int
		if _, err := fmt.Sscanf(rest, "%d.%d,%d.%d %d %d", &b.fromLine, &b.fromCol, &b.toLine, &b.toCol, &statements, &count); err != nil {
			return nil, fmt.Errorf("the coverage profile: %q: %w", line, err)
		}
		if count > 0 {
			c[path.Base(file)] = append(c[path.Base(file)], b)
		}
	}
	return c, nil
}

func (c coverage) has(m mutant) bool {
	if !m.inFunc {
		return true
	}
	for _, b := range c[path.Base(m.file)] {
		if b.holds(m.line, m.col) {
			return true
		}
	}
	return false
}

package models

import "slices"

// StateOf returns the state of a task from the marks on it and, where its text is part of another task's line, from those on that one:
// a batch whose line is made or skipped is so in all its steps that have no mark of their own.
func (t *Task) StateOf(own, line []TaskMark) string {
	if m, ok := CurrentMark(own); ok {
		return m.State
	}
	if m, ok := CurrentMark(line); ok && t.PartOf != "" && m.State != Started {
		return m.State
	}
	return Due
}

// Lines returns the tasks of a sheet that people read: all but those that the text of another task of the same batch includes.
func (s *PrepSheet) Lines() []Task {
	return slices.DeleteFunc(slices.Clone(s.Tasks), func(t Task) bool { return t.PartOf != "" })
}

// WantsMark reports whether a task has a box to tick: those that want a mark, and all of sheets of earlier versions.
func (t *Task) WantsMark() bool { return t.Mark || t.Until.IsZero() }

package models

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

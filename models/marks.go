package models

// Standing returns the mark that a task's state follows from, given its marks in order of arrival: the last one that no later
// "due" has taken back. ok is false where none stands: the task is due.
func Standing(marks []TaskMark) (m TaskMark, ok bool) {
	var stack []TaskMark
	for _, m := range marks {
		switch {
		case m.State != Due:
			stack = append(stack, m)
		case len(stack) > 0:
			stack = stack[:len(stack)-1]
		}
	}
	if len(stack) == 0 {
		return TaskMark{}, false
	}
	return stack[len(stack)-1], true
}

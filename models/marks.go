package models

import "cmp"

// Standing returns the mark that a task's state follows from, given its marks in order of arrival: the last one that no later
// "due" has taken back. ok is false where none stands: the task is due. The same state said again, as by two screens at once or to
// add what it weighed, is one mark with what was said last of each amount, so that taking it back once is enough; its time is
// that of the first.
func Standing(marks []TaskMark) (m TaskMark, ok bool) {
	var stack []TaskMark
	for _, m := range marks {
		switch top := len(stack) - 1; {
		case top >= 0 && m.State == stack[top].State:
			stack[top] = saidAgain(stack[top], m)
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

func saidAgain(first, again TaskMark) TaskMark {
	again.At = first.At
	again.BeverageG = cmp.Or(again.BeverageG, first.BeverageG)
	again.TDSPct = cmp.Or(again.TDSPct, first.TDSPct)
	again.IceG = cmp.Or(again.IceG, first.IceG)
	again.Reason = cmp.Or(again.Reason, first.Reason)
	return again
}

package models

import "cmp"

// CurrentMark returns the mark that determines a task's state, given its marks in order of arrival: the last one that no later "due"
// has undone. ok is false if there is none and the task is due. Consecutive marks with the same state, from two screens at once or
// to add a weight, are merged into one with the time of the first and the latest of each amount, so one undo is enough. A mark that corrects replaces the one before it.
func CurrentMark(marks []TaskMark) (m TaskMark, ok bool) {
	var stack []TaskMark
	for _, m := range marks {
		switch top := len(stack) - 1; {
		case top >= 0 && m.Corrects && m.State != Due:
			stack[top] = m
		case top >= 0 && m.State == stack[top].State:
			stack[top] = merge(stack[top], m)
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

// CurrentMarks returns the mark that determines the state of each marked task, by task, given the marks of several tasks in order of
// arrival. Tasks that are due have none.
func CurrentMarks(marks []TaskMark) map[string]TaskMark {
	byTask := map[string][]TaskMark{}
	for _, m := range marks {
		byTask[m.Task] = append(byTask[m.Task], m)
	}
	current := map[string]TaskMark{}
	for task, own := range byTask {
		if m, ok := CurrentMark(own); ok {
			current[task] = m
		}
	}
	return current
}

func merge(first, later TaskMark) TaskMark {
	later.At = first.At
	later.BeverageG = cmp.Or(later.BeverageG, first.BeverageG)
	later.TDSPct = cmp.Or(later.TDSPct, first.TDSPct)
	later.IceG = cmp.Or(later.IceG, first.IceG)
	later.TempC = cmp.Or(later.TempC, first.TempC)
	later.LeftG = cmp.Or(later.LeftG, first.LeftG)
	later.Reason = cmp.Or(later.Reason, first.Reason)
	return later
}

package sheet

import (
	"crypto/sha256"
	"encoding/base32"
	"slices"
	"strconv"
	"strings"
	"time"

	"hotday/models"
)

var idEncoding = base32.StdEncoding.WithPadding(base32.NoPadding)

// taskID is the permanent id of a task: 80 bits of a hash, safe in a URL and the same whoever computes it.
func taskID(site string, date models.Date, station, kind, subject string) string {
	sum := sha256.Sum256([]byte(strings.Join([]string{site, string(date), station, kind, subject}, "\x00")))
	return strings.ToLower(idEncoding.EncodeToString(sum[:10]))
}

// numbered is the subject of the n-th of several similar tasks.
func numbered(subject string, n int) string { return subject + "#" + strconv.Itoa(n) }

// mostNumbered bounds the similar tasks of one station and day: 5-minute slots through the longest day.
const mostNumbered = 400

// farApart is how far a task may move and still be the same task.
const farApart = 4 * time.Hour

// taskGroup is the tasks that can be one another across revisions: those of one sheet, station, kind and subject.
type taskGroup struct {
	date                   models.Date
	station, kind, subject string
}

// idIn is the id of the n-th task of a group.
func (w *sheetWriter) idIn(s taskGroup, n int) string {
	return taskID(w.req.Site.Code, s.date, s.station, s.kind, numbered(s.subject, n))
}

// numbers returns the number of each task of a group. times are in order. A task takes the number of the nearest task on the previous
// sheet, in order of time, or else a new one. known has the numbers that are already known, 0 for the others.
//
// A skipped task is matched only at exactly its time: at another time the plan wants it after all. So is a fill that has begun: the plan
// no longer lists it.
func (w *sheetWriter) numbers(s taskGroup, times []time.Time, known []int) []int {
	var old []oldTask
	used := map[int]bool{}
	for n := 1; n <= mostNumbered; n++ {
		if t, ok := w.old[w.idIn(s, n)]; ok {
			used[n] = true
			old = append(old, oldTask{n: n, at: t.PlannedAt(), settled: t.State == models.Skipped || s.kind == models.TaskWaterDraw && begun(t)})
		}
	}
	slices.SortStableFunc(old, func(a, b oldTask) int { return a.at.Compare(b.at) })
	got := slices.Clone(known)
	var free []int // tasks still without a number
	for i := range times {
		if got[i] == 0 {
			if k := slices.IndexFunc(old, func(o oldTask) bool { return o.at.Equal(times[i]) && !slices.Contains(got, o.n) }); k >= 0 {
				got[i] = old[k].n
			}
		}
		if got[i] == 0 {
			free = append(free, i)
		}
	}
	old = slices.DeleteFunc(old, func(o oldTask) bool { return o.settled || slices.Contains(got, o.n) })
	for k, o := range nearest(times, free, old) {
		if o >= 0 {
			got[free[k]] = old[o].n
		}
	}
	next := 1
	for i := range got {
		if got[i] != 0 {
			continue
		}
		for used[next] || slices.Contains(got, next) {
			next++
		}
		got[i] = next
	}
	return got
}

type oldTask struct {
	n       int
	at      time.Time
	settled bool
}

// nearest matches the free times with old tasks, both in order of time and without crossing, so that the sum of the moves is least;
// leaving both of a pair unmatched costs farApart. For each free time it returns the index in old, or −1. It is a dynamic program over
// the two lists.
func nearest(times []time.Time, free []int, old []oldTask) []int {
	a, b := len(free), len(old)
	cost := make([][]time.Duration, a+1) // of the times from i on against the old tasks from j on
	for i := range cost {
		cost[i] = make([]time.Duration, b+1)
	}
	const alone = farApart / 2
	for i := a; i >= 0; i-- {
		for j := b; j >= 0; j-- {
			switch {
			case i == a && j == b:
			case i == a:
				cost[i][j] = cost[i][j+1] + alone
			case j == b:
				cost[i][j] = cost[i+1][j] + alone
			default:
				pair := times[free[i]].Sub(old[j].at).Abs() + cost[i+1][j+1]
				cost[i][j] = min(pair, cost[i+1][j]+alone, cost[i][j+1]+alone)
			}
		}
	}
	out := make([]int, a)
	for i, j := 0, 0; i < a; {
		switch {
		case j < b && cost[i][j] == times[free[i]].Sub(old[j].at).Abs()+cost[i+1][j+1]:
			out[i] = j
			i, j = i+1, j+1
		case j < b && cost[i][j] == cost[i][j+1]+alone:
			j++
		default:
			out[i] = -1
			i++
		}
	}
	return out
}

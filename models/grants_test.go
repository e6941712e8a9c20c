package models

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestATokenGrantsItsScopesAtItsSite(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 7, 11, 10, 0, 0, 0, time.UTC)
	till := Token{Site: "quay", Scopes: []string{ScopeSales}}
	assert.True(t, till.May(ScopeSales, "quay"))
	assert.False(t, till.May(ScopeSales, "lido"), "another site")
	assert.False(t, till.May(ScopeSales, ""), "the organisation")
	assert.False(t, till.May(ScopeRead, "quay"), "a till only posts")
	kitchen := Token{Site: "quay", Scopes: []string{ScopeKitchen}}
	assert.True(t, kitchen.May(ScopeRead, "quay"), "the kitchen reads the plan it marks")
	assert.False(t, kitchen.May(ScopeSales, "quay"))
	assert.False(t, Token{Scopes: []string{ScopeRead}}.May(ScopeKitchen, "quay"))
	boss := Token{Scopes: []string{ScopeManage}}
	for _, scope := range []string{ScopeSales, ScopeRead, ScopeKitchen, ScopeManage} {
		assert.True(t, boss.May(scope, "quay"), scope)
		assert.True(t, boss.May(scope, ""), scope)
	}
	boss.RevokedAt = &now
	assert.False(t, boss.May(ScopeRead, "quay"), "revoked")
	assert.False(t, Token{}.May(ScopeRead, "quay"))
}

func TestAMarkCallsForAReplanOnlyIfItMatters(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 7, 11, 10, 0, 0, 0, time.UTC)
	g := func(x float64) *float64 { return &x }
	brew := Task{At: at, Batch: &BatchTask{BeverageG: 4000}}
	for name, tc := range map[string]struct {
		mark TaskMark
		task Task
		want bool
	}{
		"made as planned":                   {TaskMark{State: Made, At: at}, brew, false},
		"5 % less":                          {TaskMark{State: Made, At: at, BeverageG: g(3800)}, brew, false},
		"more than 5 % less":                {TaskMark{State: Made, At: at, BeverageG: g(3799)}, brew, true},
		"more than 5 % more":                {TaskMark{State: Made, At: at, BeverageG: g(4201)}, brew, true},
		"started a quarter of an hour late": {TaskMark{State: Started, At: at.Add(15 * time.Minute)}, brew, false},
		"started later":                     {TaskMark{State: Started, At: at.Add(16 * time.Minute)}, brew, true},
		"started early":                     {TaskMark{State: Started, At: at.Add(-16 * time.Minute)}, brew, true},
		"another task started late":         {TaskMark{State: Started, At: at.Add(2 * time.Hour)}, Task{At: at}, false},
		"skipped":                           {TaskMark{State: Skipped, At: at}, Task{At: at}, true},
		"reset to due":                      {TaskMark{State: Due, At: at}, Task{At: at}, true},
		"ice counted":                       {TaskMark{State: Made, At: at, IceG: g(3000)}, Task{At: at}, true},
	} {
		assert.Equal(t, tc.want, tc.mark.NeedsReplan(tc.task), name)
	}
}

func TestOneUndoTakesBackOneState(t *testing.T) {
	t.Parallel()
	mark := func(state string) TaskMark { return TaskMark{State: state} }
	for name, tc := range map[string]struct {
		marks []TaskMark
		want  string // empty: due
	}{
		"no marks":                        {nil, ""},
		"undo of nothing":                 {[]TaskMark{mark(Due)}, ""},
		"started":                         {[]TaskMark{mark(Started)}, Started},
		"started, undone":                 {[]TaskMark{mark(Started), mark(Due)}, ""},
		"started, made, undone":           {[]TaskMark{mark(Started), mark(Made), mark(Due)}, Started},
		"made twice at once, undone once": {[]TaskMark{mark(Made), mark(Made), mark(Due)}, ""},
	} {
		m, ok := CurrentMark(tc.marks)
		assert.Equal(t, tc.want != "", ok, name)
		if ok {
			assert.Equal(t, tc.want, m.State, name)
		}
	}
}

func TestAPairingCodeIsReadAsPeopleTypeIt(t *testing.T) {
	t.Parallel()
	typed := PairingAlphabet[:3] + "-" + PairingAlphabet[3:6]
	code, ok := PairingCode(" " + typed + "\u00a0")
	assert.True(t, ok)
	assert.Equal(t, PairingAlphabet[:PairingLength], code)
	_, ok = PairingCode(typed[:5])
	assert.False(t, ok, "too short")
	_, ok = PairingCode(typed[:6] + "0")
	assert.False(t, ok)
}

package planner

import (
	"context"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
)

// merge applies a JSON Merge Patch as RFC 7396 writes it.
func merge(target, patch any) any {
	p, ok := patch.(map[string]any)
	if !ok {
		return patch
	}
	t, ok := target.(map[string]any)
	if !ok {
		t = map[string]any{}
	}
	for k, v := range p {
		if v == nil {
			delete(t, k)
			continue
		}
		t[k] = merge(t[k], v)
	}
	return t
}

// patched is the request with a fix's change, decoded again from JSON.
func patched(t require.TestingT, r models.PlanRequest, change json.RawMessage) models.PlanRequest {
	var doc, patch any
	data, err := json.Marshal(r)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &doc))
	require.NoError(t, json.Unmarshal(change, &patch))
	data, err = json.Marshal(merge(doc, patch))
	require.NoError(t, err)
	var out models.PlanRequest
	require.NoError(t, models.DecodeStrict(data, &out))
	require.NoError(t, out.Validate())
	return out
}

func TestEachFixIsWhatThePatchedRequestGives(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "weekend.json")
	o := Options{Budget: 40_000}
	p, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	seen := map[string]bool{}
	for _, w := range p.Warnings {
		for _, way := range w.Fixes {
			assert.NotEmpty(t, way.Action)
			seen[string(way.Change)] = true
			o := o
			o.WithoutFixes, o.PlanOnly, o.Before, o.ChoicesBefore = true, true, p.Batches, p.Choices
			again, err := ComputeWith(context.Background(), patched(t, r, way.Change), o)
			require.NoError(t, err)
			changed := patched(t, r, way.Change)
			assert.InDelta(t, again.Expected.Cost.Total+addedCost(&r, &changed, &p.Expected, &again.Expected)-p.Expected.Cost.Total, way.Cost, 1e-6*(1+p.Cost.Total), way.Action)
			for _, x := range again.Warnings {
				if x.Kind == w.Kind && x.At.Equal(w.At) && x.Amount == way.Effect.Amount {
					assert.Equal(t, x.ChancePct, way.Effect.ChancePct, way.Action)
				}
			}
			worse := way.Effect.ChancePct >= w.ChancePct && way.Effect.Amount >= w.Amount
			assert.False(t, worse, "%s does not help", way.Action)
		}
	}
	assert.NotEmpty(t, seen)
	assert.LessOrEqual(t, len(seen), maxFixTrials)
}

// A warning names a few fixes, each clearly better than none, and stopping to sell is no saving.
func TestFixesAreFewAndNoneMakesItWorse(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"weekend.json", "one-day.json"} {
		p, err := ComputeWith(context.Background(), requestFrom(t, name), Options{Budget: 60_000})
		require.NoError(t, err)
		at := map[string]int{}
		for _, w := range p.Warnings {
			if w.Kind == models.WarnIceShort || w.Kind == models.WarnPlainIce {
				at[w.At.String()]++
			}
			assert.LessOrEqual(t, len(w.Fixes), 3, w.Cause)
			for _, f := range w.Fixes {
				half := f.Effect.ChancePct*f.Effect.Amount <= w.ChancePct*w.Amount/2
				assert.True(t, f.Cost < 50 || half, "%s costs %g more and hardly helps", f.Action, f.Cost)
				if strings.HasPrefix(f.Action, "Sell at most") {
					assert.Greater(t, f.Cost, -100.0, "the drinks that are not sold are lost")
				}
			}
		}
		for when, n := range at {
			assert.Equal(t, 1, n, "%s: the same shortage of ice more than once in %s", when, name)
		}
	}
}

func TestWhatBringsInWhatLacksEndsTheShortage(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "weekend.json")
	p, err := ComputeWith(context.Background(), r, Options{Budget: 40_000})
	require.NoError(t, err)
	for _, w := range p.Warnings {
		if w.Kind == models.WarnIceShort && w.Grade != models.GradeNote {
			require.NotEmpty(t, w.Fixes, w.Cause)
			assert.Less(t, w.Fixes[0].Effect.ChancePct, w.ChancePct/2, "the best fix of %s is %s", w.Cause, w.Fixes[0].Action)
		}
	}
}

func TestPatchesOfRandomRequestsApply(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := anyRequest(t)
		b, err := copyRequest(&a)
		require.NoError(t, err)
		b.Site.SetupMin++
		b.Ice.Plain.OpeningG += 7
		b.Ice.CountedAt = nil
		b.Stock = append(b.Stock, models.Stock{Beverage: a.Beverages[0].Code, G: 5, MadeAt: a.Now})
		change, err := patchBetween(&a, b)
		require.NoError(t, err)
		got := patched(t, a, change)
		want, err := json.Marshal(b)
		require.NoError(t, err)
		have, err := json.Marshal(&got)
		require.NoError(t, err)
		require.JSONEq(t, string(want), string(have))
	})
}

package audit_test

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner"
	"hotday/planner/audit"
	"hotday/planner/audit/shops"
	"hotday/planner/facts"
	"hotday/planner/sheet"
)

var (
	plans = flag.Int("plans", 2000, "random requests whose plans and prep sheets are audited")
	first = flag.Int("first", 1, "seed of the first of them")
	out   = flag.String("findings", "", "file for the findings as JSON lines")
	keep  = flag.String("keep", "", "directory for the requests, plans and prep sheets of random requests with findings")
)

// audited plans a request, makes its prep sheets and audits them. Where that is asked for, it keeps the documents that have findings.
func audited(name string, r models.PlanRequest, o planner.Options) ([]audit.Finding, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	p, err := planner.ComputeWith(context.Background(), r, o)
	if err != nil {
		return nil, err
	}
	planJSON, err := json.Marshal(p)
	if err != nil {
		return nil, err
	}
	sheetsJSON, err := json.Marshal(sheet.PrepSheets(r, p, nil, r.Now))
	if err != nil {
		return nil, err
	}
	found := audit.Audit(&r, planJSON, sheetsJSON)
	if *keep == "" || len(found) == 0 {
		return found, nil
	}
	requestJSON, err := json.Marshal(r)
	for part, doc := range map[string][]byte{"request": requestJSON, "plan": planJSON, "sheets": sheetsJSON} {
		err = errors.Join(err, os.WriteFile(filepath.Join(*keep, name+" "+part+".json"), doc, 0o600))
	}
	return found, err
}

// settled drops the findings of rules that the planner does not keep yet.
func settled(list []audit.Finding) []audit.Finding {
	return slices.DeleteFunc(slices.Clone(list), func(f audit.Finding) bool { return open[f.Rule] != "" })
}

// Whatever a request allows, its plan and prep sheets keep every rule.
func TestPlansOfRandomRequestsPassTheAudit(t *testing.T) {
	t.Parallel()
	n := *plans
	if testing.Short() {
		n = min(n, 60)
	}
	found, errs, names := make([][]audit.Finding, n), make([]error, n), make([]string, n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				seed := *first + i
				names[i] = fmt.Sprintf("seed %d", seed)
				o := planner.Options{WithoutFixes: seed%20 != 0, PlanOnly: true, Budget: 1500, Days: 25}
				found[i], errs[i] = audited(names[i], shops.Request(seed), o)
			}
		})
	}
	wg.Wait()
	for i := range n {
		assert.NoError(t, errs[i], names[i])
		if left := settled(found[i]); len(left) > 0 {
			t.Errorf("%s: %d findings, first %s", names[i], len(left), left[0])
		}
	}
	write(t, names, found)
}

// write logs the tally of findings, and writes them all where that is asked for.
func write(t *testing.T, names []string, found [][]audit.Finding) {
	t.Helper()
	for _, c := range audit.Tally(names, found) {
		t.Logf("%-22s %5d findings in %4d of %d plans; %s", c.Rule, c.Findings, c.Plans, len(found), c.First)
	}
	if *out == "" {
		return
	}
	f, err := os.Create(*out)
	require.NoError(t, err)
	defer f.Close()
	enc := json.NewEncoder(f)
	for i, list := range found {
		for _, x := range list {
			require.NoError(t, enc.Encode(map[string]string{"plan": names[i], "rule": x.Rule, "of": x.Of, "text": x.Text}))
		}
	}
}

// The requests that ship with the program keep every rule.
func TestShippedRequestsPassTheAudit(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../../testdata/requests/*.json")
	require.NoError(t, err)
	var names []string
	var all [][]audit.Finding
	for _, file := range files {
		doc, err := os.ReadFile(file)
		require.NoError(t, err)
		var r models.PlanRequest
		require.NoError(t, models.DecodeStrict(doc, &r), file)
		found, err := audited(filepath.Base(file), r, planner.Options{Days: 200, WithoutFixes: testing.Short()})
		require.NoError(t, err)
		for _, f := range settled(found) {
			t.Errorf("%s: %s", filepath.Base(file), f)
		}
		names, all = append(names, filepath.Base(file)), append(all, found)
	}
	write(t, names, all)
}

// The demo's weekend, gathered as the service gathers it, keeps every rule.
func TestTheDemosWeekendPassesTheAudit(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("fits four months of sales")
	}
	ctx := context.Background()
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	now := time.Date(2026, 7, 10, 15, 0, 0, 0, berlin)
	story, err := demo.At(now)
	require.NoError(t, err)
	st, err := store.Open(ctx, filepath.Join(t.TempDir(), "demo.db"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, st.Close()) })
	require.NoError(t, story.Keep(ctx, st, func(string, ...any) {}))
	code := story.Setup.Site.Code
	state, err := facts.Refit(ctx, st, code, now)
	require.NoError(t, err)
	require.NoError(t, st.PutForecastState(ctx, code, state))
	r, err := facts.Gather(ctx, st, facts.GatherQuery{Site: code, From: story.Saturday, Days: 2, Now: now})
	require.NoError(t, err)
	found, err := audited("demo", r, planner.Options{Days: 300})
	require.NoError(t, err)
	for _, f := range settled(found) {
		t.Errorf("%s", f)
	}
	write(t, []string{"demo"}, [][]audit.Finding{found})
}

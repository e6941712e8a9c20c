package ical_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	ics "github.com/arran4/golang-ical"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
	"hotday/planner/ical"
)

var (
	site      = models.Site{Code: "quay", Name: "Quay, the bar; no. 3", Timezone: "Europe/Berlin", SlotMin: 15}
	published = time.Date(2026, 10, 24, 18, 0, 0, 0, time.UTC)
)

// sheet has tasks in the night the clocks go back, when 02:30 occurs twice.
func sheet() models.PrepSheet {
	loc := site.Location()
	return models.PrepSheet{Site: "quay", Date: "2026-10-25", Revision: 4, PublishedAt: published, Tasks: []models.Task{
		{ID: "t1", At: time.Date(2026, 10, 25, 0, 30, 0, 0, time.UTC).In(loc), Station: "Left", Kind: models.TaskBrew, State: models.Due,
			Say: "House flash: pour 4\u202f670\u202fg over 400\u202fg dose (lot T-1) in Left, slowly; C:\\n is no line.", Why: "Serves Sunday, 5.2\u202fkg.", Caution: "Hot brew and steam scald: let no lid seal it."},
		{ID: "t2", At: time.Date(2026, 10, 25, 1, 30, 0, 0, time.UTC).In(loc), Station: "Left", Kind: models.TaskStrain, State: models.Made, Say: "冷やす " + strings.Repeat("ß", 80)},
		{ID: "t3", At: time.Date(2026, 10, 25, 9, 0, 0, 0, time.UTC).In(loc), Station: "Left", Kind: models.TaskBrew, State: models.Skipped, Say: "Draw 8\u202fL.\r\nBEGIN:VEVENT"},
		{ID: "t4", At: time.Date(2026, 10, 24, 16, 0, 0, 0, time.UTC).In(loc), Station: "water", Kind: models.TaskWaterDraw, State: models.Made, Say: "Fill 20\u202fL."},
		{ID: "t5", At: time.Date(2026, 10, 25, 10, 0, 0, 0, time.UTC).In(loc), Station: "beans", Kind: models.TaskPull, State: models.Due, Say: "Get out 2\u202fkg."},
		{ID: "t6", At: time.Date(2026, 10, 25, 10, 0, 0, 0, time.UTC).In(loc), Station: "store", Kind: models.TaskClean, State: models.Skipped, Say: "Wipe."},
	}, Cautions: []string{"Ice is food."}}
}

func dropped() []models.DroppedTask {
	return []models.DroppedTask{{Task: models.Task{ID: "t0", At: published.Add(20 * time.Hour), Station: "Right", Kind: models.TaskBrew, Say: "Bright flash: pour."}, Revision: 4, PublishedAt: published}}
}

// lines checks the rules for content lines (RFC 5545, 3.1) and returns them unfolded.
func lines(t require.TestingT, feed []byte) []string {
	text := string(feed)
	require.True(t, strings.HasSuffix(text, "\r\n"), "the last line is terminated")
	for l := range strings.SplitSeq(strings.TrimSuffix(text, "\r\n"), "\r\n") {
		require.LessOrEqual(t, len(l), 75, "octets in %q", l)
		require.NotContains(t, l, "\n")
		require.NotContains(t, l, "\r")
		require.True(t, strings.ToValidUTF8(l, "") == l, "a character is split: %q", l)
	}
	return strings.Split(strings.TrimSuffix(strings.ReplaceAll(text, "\r\n ", ""), "\r\n"), "\r\n")
}

func TestFeedConformsToRFC5545(t *testing.T) {
	t.Parallel()
	feed, err := ical.Feed(site, []models.PrepSheet{sheet()}, dropped())
	require.NoError(t, err)
	all := lines(t, feed)
	assert.Equal(t, "BEGIN:VCALENDAR", all[0])
	assert.Equal(t, "END:VCALENDAR", all[len(all)-1])
	for _, want := range []string{"VERSION:2.0", "METHOD:PUBLISH", `X-WR-CALNAME:Prep\, Quay\, the bar\; no. 3`, "UID:t1@hotday", "SEQUENCE:4", "DTSTAMP:20261024T180000Z",
		"DTSTART:20261025T003000Z", "DTEND:20261025T004500Z", "DTSTART:20261025T013000Z", "LOCATION:Left", "STATUS:CONFIRMED",
		"SUMMARY:House flash: pour 4\u202f670\u202fg over 400\u202fg dose (lot T-1) in Left\\, slowly\\; C:\\\\n is no line.",
		`DESCRIPTION:Serves Sunday\, 5.2` + "\u202f" + `kg.\nHot brew and steam scald: let no lid seal it.`} {
		assert.Contains(t, all, want)
	}
	assert.Equal(t, 2, strings.Count(string(feed), "STATUS:CANCELLED"), "one skipped, one dropped")
	events := 0
	for _, l := range all {
		if l == "BEGIN:VEVENT" {
			events++
		}
	}
	assert.Equal(t, 5, events, "two brews, one straining, a dropped brew and the rest of the day; text cannot inject an event")
	assert.Contains(t, string(feed), "SUMMARY:(made) 冷やす")
	for _, l := range all {
		name, _, _ := strings.Cut(l, ":")
		seen := map[string]bool{}
		for _, p := range strings.Split(name, ";")[1:] {
			key, _, _ := strings.Cut(p, "=")
			assert.False(t, seen[key], "parameter %s occurs twice in %q (RFC 5545, 3.2: each at most once)", key, l)
			seen[key] = true
		}
	}
}

func TestTheRestOfADayIsOneEventWithoutATime(t *testing.T) {
	t.Parallel()
	feed, err := ical.Feed(site, []models.PrepSheet{sheet()}, nil)
	require.NoError(t, err)
	all := lines(t, feed)
	for _, want := range []string{
		"UID:prep-2026-10-25-quay@hotday", "DTSTART;VALUE=DATE:20261025", "DTEND;VALUE=DATE:20261026", "SUMMARY:Prep for Sunday: 2 more tasks",
		"DESCRIPTION:Sat 18:00 (made) Fill 20\u202fL.\\n11:00 Get out 2\u202fkg.\\nIce is food.",
	} {
		assert.Contains(t, all, want, "skipped tasks are left out; the evening before is named")
	}
}

func TestABrewLastsUntilItsBatchIsReady(t *testing.T) {
	t.Parallel()
	s := sheet()
	at := s.Tasks[0].At
	s.Tasks[0].Until, s.Tasks[0].Batch = at.Add(9*time.Minute), &models.BatchTask{Ready: at.Add(40 * time.Minute)}
	s.Tasks[2].Until, s.Tasks[2].Batch = s.Tasks[2].At.Add(20*time.Minute), &models.BatchTask{Ready: at.Add(20 * time.Hour), StrainAt: at.Add(19 * time.Hour)}
	feed, err := ical.Feed(site, []models.PrepSheet{s}, nil)
	require.NoError(t, err)
	all := lines(t, feed)
	assert.Contains(t, all, "DTEND:20261025T011000Z")
	assert.Contains(t, all, "DTEND:20261025T092000Z", "of a batch that steeps, until hands are free")
}

func TestSameSheetsGiveTheSameFeed(t *testing.T) {
	t.Parallel()
	one, err := ical.Feed(site, []models.PrepSheet{sheet()}, dropped())
	require.NoError(t, err)
	two, err := ical.Feed(site, []models.PrepSheet{sheet()}, dropped())
	require.NoError(t, err)
	assert.Equal(t, one, two)
}

func TestDroppedTaskOnAnotherSheetIsNotCancelled(t *testing.T) {
	t.Parallel()
	d := dropped()
	d[0].Task.ID = "t1" // on another sheet of the feed
	feed, err := ical.Feed(site, []models.PrepSheet{sheet()}, d)
	require.NoError(t, err)
	assert.Equal(t, 1, strings.Count(string(feed), "UID:t1@hotday"))
	assert.Equal(t, 1, strings.Count(string(feed), "STATUS:CANCELLED"))
}

func TestEmptyFeedIsAValidCalendar(t *testing.T) {
	t.Parallel()
	feed, err := ical.Feed(site, nil, nil)
	require.NoError(t, err)
	lines(t, feed)
}

// Any text survives escaping and folding.
func TestTextsRoundTrip(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := sheet()
		s.Tasks = s.Tasks[:1]
		say := rapid.StringMatching(`[ -~äöüß→日🧊\x{202f}]{1,200}`).Draw(t, "say")
		s.Tasks[0].Say, s.Tasks[0].Station = say, say
		feed, err := ical.Feed(site, []models.PrepSheet{s}, nil)
		require.NoError(t, err)
		lines(t, feed)
		cal, err := ics.ParseCalendar(bytes.NewReader(feed))
		require.NoError(t, err)
		require.Len(t, cal.Events(), 1)
		require.Equal(t, say, cal.Events()[0].GetProperty(ics.ComponentPropertySummary).Value, "as unescaped by the reader")
	})
}

// readPy parses a calendar with Python's icalendar package and prints it as JSON.
const readPy = `
import json, sys
from datetime import datetime
from icalendar import Calendar
def seconds(t): return t.timestamp() if isinstance(t, datetime) else 0
cal = Calendar.from_ical(sys.stdin.buffer.read())
print(json.dumps([{"uid": str(e["UID"]), "summary": str(e["SUMMARY"]), "start": seconds(e.decoded("DTSTART")), "end": seconds(e.decoded("DTEND")),
  "stamp": e.decoded("DTSTAMP").timestamp(), "sequence": int(e["SEQUENCE"]), "status": str(e["STATUS"]), "location": str(e.get("LOCATION", "")),
  "description": str(e.get("DESCRIPTION", "")), "errors": [str(x) for x in e.errors]} for e in cal.walk("VEVENT")]))
`

func TestPythonReadsTheSameEvents(t *testing.T) {
	t.Parallel()
	python := ""
	for _, p := range []string{"/usr/bin/python3", "python3"} { // Debian's Python has Debian's packages
		if exec.Command(p, "-c", "import icalendar").Run() == nil {
			python = p
			break
		}
	}
	if python == "" {
		const missing = "NOT TESTED: the calendar as read by Python; install its icalendar package (Debian: apt-get install python3-icalendar)"
		if os.Getenv("HOTDAY_REQUIRE_TOOLS") == "1" {
			t.Fatal(missing)
		}
		t.Skip(missing)
	}
	s := sheet()
	// Old versions of the package read an escaped backslash before an n as a line break.
	s.Tasks[0].Say = strings.ReplaceAll(s.Tasks[0].Say, `\n`, "n")
	feed, err := ical.Feed(site, []models.PrepSheet{s}, dropped())
	require.NoError(t, err)
	cmd := exec.Command(python, "-c", readPy)
	cmd.Stdin = bytes.NewReader(feed)
	out, err := cmd.Output()
	var failed *exec.ExitError
	if errors.As(err, &failed) {
		t.Fatalf("%s", failed.Stderr)
	}
	require.NoError(t, err)
	var read []struct {
		UID, Summary, Status, Location, Description string
		Start, End, Stamp                           float64
		Sequence                                    int
		Errors                                      []string
	}
	require.NoError(t, json.Unmarshal(out, &read))
	require.Len(t, read, 5)
	byUID := map[string]int{}
	for i, e := range read {
		byUID[e.UID] = i
		assert.Empty(t, e.Errors)
		assert.Equal(t, 4, e.Sequence)
		assert.InDelta(t, float64(published.Unix()), e.Stamp, 0)
	}
	for _, task := range s.Tasks[:2] {
		e := read[byUID[task.ID+"@hotday"]]
		assert.InDelta(t, float64(task.At.Unix()), e.Start, 0, "in the repeated hour")
		assert.InDelta(t, 15*60, e.End-e.Start, 0)
		assert.Contains(t, e.Summary, task.Say)
		assert.Equal(t, task.Station, e.Location)
	}
	assert.Equal(t, s.Tasks[0].Why+"\n"+s.Tasks[0].Caution, read[byUID["t1@hotday"]].Description)
	assert.Equal(t, "CANCELLED", read[byUID["t3@hotday"]].Status)
	assert.Equal(t, "CANCELLED", read[byUID["t0@hotday"]].Status)
	assert.Equal(t, "Bright flash: pour.", read[byUID["t0@hotday"]].Summary)
	assert.Equal(t, "Draw 8\u202fL.  BEGIN:VEVENT", read[byUID["t3@hotday"]].Summary)
}

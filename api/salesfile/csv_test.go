package salesfile

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	require.NoError(t, err)
	return loc
}

func readCSV(t *testing.T, text string) File {
	t.Helper()
	f, err := CSV([]byte(text), Options{Zone: zone(t, "Europe/Berlin")})
	require.NoError(t, err)
	return f
}

// format renders rows as row number, item, UTC window, count.
func format(f File) (out []string) {
	for _, r := range f.Rows {
		out = append(out, fmt.Sprintf("%d %s %s %s %g", r.Row, r.Item, r.WindowStart.UTC().Format("01-02T15:04:05"), r.WindowEnd.UTC().Format("01-02T15:04:05"), r.Count))
	}
	return out
}

func TestCSVDialects(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		text, separator string
		want            []string
	}{
		"commas, offsets": {"item,start,end,count\nICED,2026-07-11T14:00:00+02:00,2026-07-11T12:15:00Z,7\n", "comma",
			[]string{"2 ICED 07-11T12:00:00 07-11T12:15:00 7"}},
		"semicolons, a decimal comma, local times": {"item;start;end;count\nICED;11.07.2026 14:00;11.07.2026 14:15;1,5\nICED;2026-07-11 14:15;2026-07-11 14:30;2.5", "semicolon",
			[]string{"2 ICED 07-11T12:00:00 07-11T12:15:00 1.5", "3 ICED 07-11T12:15:00 07-11T12:30:00 2.5"}},
		"tabs, a byte order mark, CRLF": {"\xef\xbb\xbfitem\tstart\tend\tcount\r\nICED\t2026-07-11T14:00\t2026-07-11T14:15:30\t0\r\n", "tab",
			[]string{"2 ICED 07-11T12:00:00 07-11T12:15:30 0"}},
		"CR line endings": {"item,start,end,count\rICED,2026-07-11 14:00,2026-07-11 14:15,7\r", "comma", []string{"2 ICED 07-11T12:00:00 07-11T12:15:00 7"}},
		"other headings in another order, and an unused column": {"Till,QTY,Window_Start,window-end,Product\n9,3,2026/7/11 14:00,2026/7/11 15:00,ICED\n", "comma",
			[]string{"2 ICED 07-11T12:00:00 07-11T13:00:00 3"}},
		"quoted fields with quotes, separators and line breaks": {"item,start,end,count,note\n\"Iced, \"\"large\"\"\",2026-07-11 14:00,2026-07-11 14:15,7,\"a\nb\"\nICED,2026-07-11 14:00,2026-07-11 14:15,1,\n", "comma",
			[]string{`2 Iced, "large" 07-11T12:00:00 07-11T12:15:00 7`, "4 ICED 07-11T12:00:00 07-11T12:15:00 1"}},
		"a whole day, with either notation of its end": {"item;from;to;sold\nA;2026-07-11;2026-07-12;70\nB;2026-07-11 00:00;2026-07-11 24:00;30\n\n;;;\n", "semicolon",
			[]string{"2 A 07-10T22:00:00 07-11T22:00:00 70", "3 B 07-10T22:00:00 07-11T22:00:00 30"}},
		"trailing separators": {"item,start,end,count,,\nICED,2026-07-11 14:00,2026-07-11 14:15,7,,,\n", "comma", []string{"2 ICED 07-11T12:00:00 07-11T12:15:00 7"}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			f := readCSV(t, c.text)
			require.Empty(t, f.Errors)
			require.NoError(t, f.Err())
			require.Equal(t, c.separator, f.Separator)
			require.Equal(t, c.want, format(f))
			require.Equal(t, len(c.want), f.RowCount)
			require.Len(t, f.Headings, 4)
		})
	}
}

func TestInvalidFieldsNameRowAndColumn(t *testing.T) {
	t.Parallel()
	const day = "2026-07-11 "
	for name, c := range map[string]struct {
		head, row        string
		column           string
		detail, accepted string
	}{
		"no item":                   {"", "," + day + "14:00," + day + "14:15,7", "item", "empty", "name or code"},
		"a long item":               {"", strings.Repeat("x", 201) + "," + day + "14:00," + day + "14:15,7", "item", "201 characters", "1 to 200"},
		"a control character":       {"", "a\x07b," + day + "14:00," + day + "14:15,7", "item", "a control character", "control"},
		"no start":                  {"", "A,," + day + "14:15,7", "start", "empty", "2026-07-11 14:00"},
		"a day that does not exist": {"", "A,2026-02-30 14:00," + day + "14:15,7", "start", "not a time", "11.07.2026"},
		"day or month":              {"", "A,07/11/2026 14:00," + day + "14:15,7", "start", "day or month first", "2026-07-11 14:00"},
		"a number as time":          {"", "A,46214.5," + day + "14:15,7", "start", "not a time", "2026-07-11 14:00"},
		"an end before the start":   {"", "A," + day + "14:15," + day + "14:00,7", "end", "is not after window_start", "after the start"},
		"two days":                  {"", "A," + day + "14:15,2026-07-13 14:00,7", "end", "47h45m", "at most a day"},
		"long ago":                  {"", "A,1066-10-14 09:00,1066-10-14 10:00,7", "start", "1066", "1990 to 2199"},
		"no count":                  {"", "A," + day + "14:00," + day + "14:15,", "count", "empty", "0 if nothing was sold"},
		"a word for a count":        {"", "A," + day + "14:00," + day + "14:15,seven", "count", `"seven" is not a number`, "1500 or 1.5"},
		"below zero":                {"", "A," + day + "14:00," + day + "14:15,-1", "count", "-1", "0 to 1000000"},
		"too many":                  {"", "A," + day + "14:00," + day + "14:15,1000001", "count", "1e+06", "0 to 1000000"},
		"not a number":              {"", "A," + day + "14:00," + day + "14:15,NaN", "count", "not a number", "1500 or 1.5"},
		"infinite":                  {"", "A," + day + "14:00," + day + "14:15,1e999", "count", "not a number", "1500 or 1.5"},
		"a thousands separator":     {"", `A,` + day + `14:00,` + day + `14:15,"1,500"`, "count", "not a number", "1500 or 1.5"},
		"an ambiguous count":        {"item;start;end;count", "A;" + day + "14:00;" + day + "14:15;1.500", "count", "ambiguous", "without a thousands separator"},
		"a decimal comma unquoted":  {"", "A," + day + "14:00," + day + "14:15,1,5", "", "5 fields, the heading 4", "double quotes"},
		"too few fields":            {"", "A," + day + "14:00," + day + "14:15", "count", "empty", "0 if"},
		"an unclosed quote":         {"", `"A,` + day + "14:00," + day + "14:15,7", "", "double quote", "written twice"},
		"a quote inside":            {"", `A"B,` + day + "14:00," + day + "14:15,7", "", "double quote", "written twice"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			head := c.head
			if head == "" {
				head = "item,start,end,count"
			}
			f := readCSV(t, head+"\n\n"+c.row+"\n")
			var mine []RowError
			for _, x := range f.Errors {
				if x.Row == 3 {
					mine = append(mine, x)
				}
			}
			require.NotEmpty(t, mine, "%v", f.Errors)
			require.Equal(t, c.column, mine[0].Column, "%v", mine)
			require.Contains(t, mine[0].Detail, c.detail)
			require.Contains(t, mine[0].Accepted, c.accepted)
			err := f.Err()
			require.Equal(t, models.CodeInvalid, models.CodeOf(err))
			require.ErrorContains(t, err, strings.TrimSuffix("/rows/3/"+c.column, "/"))
		})
	}
}

func TestAllErrorsAreReported(t *testing.T) {
	t.Parallel()
	f := readCSV(t, "item,start,end,count\n,x,y,z\nA,2026-07-11 14:00,2026-07-11 14:15,7\n")
	require.Len(t, f.Errors, 4)
	require.Equal(t, []string{"3 A 07-11T12:00:00 07-11T12:15:00 7"}, format(f), "valid rows are still read")
	f = readCSV(t, "item,start,end,count\n"+strings.Repeat("A,2026-07-11 14:00,2026-07-11 14:15,many\n", MaxErrors+5))
	require.Len(t, f.Errors, MaxErrors)
	require.Equal(t, 5, f.ErrorsLeftOut)
	require.ErrorContains(t, f.Err(), "205 errors")
}

func TestMissingAndDuplicateHeadings(t *testing.T) {
	t.Parallel()
	f := readCSV(t, "2026-07-11,7\n2026-07-12,8\n")
	require.Len(t, f.Errors, 4)
	require.Equal(t, RowError{Row: 1, Column: "item", Detail: "there is no column item", Accepted: "a first row of headings with one of: item, item name, item code, article, product, sku, plu"}, f.Errors[0])
	f = readCSV(t, "\n\nitem,start,from,end,count\nA,B,C,D,E\n")
	require.Len(t, f.Errors, 1)
	require.Equal(t, 3, f.Errors[0].Row)
	require.Contains(t, f.Errors[0].Detail, `"start" and "from"`)
	require.Zero(t, f.RowCount, "nothing is read without headings")
}

func TestDuplicateWindows(t *testing.T) {
	t.Parallel()
	row := func(n string) string { return "A,2026-07-11 14:00,2026-07-11 14:15," + n + "\n" }
	f := readCSV(t, "item,start,end,count\n"+row("7")+row("7"))
	require.Empty(t, f.Errors)
	require.Len(t, f.Rows, 1)
	require.Equal(t, []string{"1 row the same as an earlier row: imported once."}, f.Notes)
	f = readCSV(t, "item,start,end,count\n"+row("7")+row("8"))
	require.Len(t, f.Errors, 1)
	require.Contains(t, f.Errors[0].Detail, "same item and window as row 2, but count 8 instead of 7")
	f = readCSV(t, "item,start,end,count\n"+row("7")+"A,2026-07-11T12:00:00Z,2026-07-11T12:15:00Z,8\n")
	require.Len(t, f.Errors, 1, "the same window in another notation")
}

func TestUnreadableFilesAreRefused(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct{ text, why string }{
		"empty":       {"", "empty"},
		"blank":       {" \n\t\n,,\n", "empty"},
		"UTF-16":      {"\xff\xfei\x00t\x00", "UTF-16"},
		"Latin-1":     {"item,start,end,count\nK\xe4nnchen,x,y,1\n", "line 2 is not UTF-8"},
		"NUL":         {"item,start,end,count\nA\x00,x,y,1\n", "line 2 contains a NUL"},
		"a workbook":  {"PK\x03\x04\x14\x00", "workbook"},
		"a NUL alone": {"\x00", "line 1 contains a NUL"},
	} {
		_, err := CSV([]byte(c.text), Options{})
		require.Equal(t, models.CodeMalformed, models.CodeOf(err), name)
		require.ErrorContains(t, err, c.why, name)
	}
	long := "item,start,end,count\n" + strings.Repeat("A,x,y,1\n", MaxRows+1)
	_, err := CSV([]byte(long), Options{})
	require.Equal(t, models.CodeTooLarge, models.CodeOf(err))
	long = "item,start,end,count\n" + strings.Repeat("\"A\"x\n", MaxRows+1)
	_, err = CSV([]byte(long), Options{})
	require.Equal(t, models.CodeTooLarge, models.CodeOf(err))
	f := readCSV(t, "item,start,end,count\n\""+strings.Repeat("x", 1<<20)+"\",2026-07-11 14:00,2026-07-11 14:15,1\n")
	require.Len(t, f.Errors, 1)
	require.Less(t, len(f.Errors[0].Detail), 200, "a huge field is truncated")
}

func FuzzCSV(f *testing.F) {
	for _, seed := range []string{"item,start,end,count\nA,2026-07-11 14:00,2026-07-11 14:15,7\n", "item;start;end;count\nA;25.10.2026 02:00;25.10.2026 02:15;1,5\n",
		"\xef\xbb\xbfcount\tend\tstart\titem\n1\t2026-03-29T02:30\t2026-03-29 01:30\tA", "item,start,end,count\n\"A,\"\",,\n", "item,start,end,count\nA,2026-07-11T00:00:00Z,2026-07-11 24:00,1e3",
		"item;start;end;count\nA;2026-10-25 02:45;2026-10-25 02:00;1\n", "\r\r,;\t\"\n"} {
		f.Add([]byte(seed))
	}
	loc := zone(f, "Europe/Berlin")
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := CSV(data, Options{Zone: loc})
		if err != nil {
			require.Contains(t, []models.Code{models.CodeMalformed, models.CodeTooLarge}, models.CodeOf(err))
			return
		}
		post := models.SalesPost{Source: "till", Counts: got.Counts()}
		if len(post.Counts) <= models.MaxSalesRows {
			require.NoError(t, post.Validate(), "rows without errors are valid")
		}
		require.LessOrEqual(t, len(got.Rows), got.RowCount)
		for _, x := range got.Errors {
			require.NotEmpty(t, x.Detail)
			require.Positive(t, x.Row)
			require.Less(t, len(x.Detail), 500)
		}
	})
}

package salesfile

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"unicode/utf8"
)

var separators = map[rune]string{',': "comma", ';': "semicolon", '\t': "tab"}

// CSV reads UTF-8 text with or without a byte order mark. The separator is the one of comma, semicolon and tab that gives the most
// known headings. With semicolons or tabs, a comma in a count is the decimal separator. Unreadable text is CodeMalformed, more than
// MaxRows rows CodeTooLarge; errors in rows are in File.Errors.
func CSV(data []byte, o Options) (File, error) {
	data, err := decodeText(data)
	if err != nil {
		return File{}, err
	}
	r := newReader("csv", o)
	separator := detectSeparator(data)
	r.out.Separator, r.decimalComma = separators[separator], separator != ','
	if line := tooWide(data, byte(separator)); line > 0 {
		return File{}, malformed("line %d has more than %d columns", line, maxColumns)
	}
	in := csv.NewReader(bytes.NewReader(data))
	in.Comma, in.FieldsPerRecord, in.ReuseRecord = separator, -1, true
	for {
		fields, err := in.Read()
		if errors.Is(err, io.EOF) {
			return r.finish()
		}
		if err != nil {
			var bad *csv.ParseError
			if !errors.As(err, &bad) {
				return File{}, malformed("the file cannot be read: %v", err)
			}
			if r.out.RowCount++; r.out.RowCount > MaxRows {
				return File{}, tooManyRows()
			}
			r.addError(bad.StartLine, "", `a field with quotes in it in double quotes, each of its own written twice: "5"" cup"`, "a double quote is misplaced or not closed")
			r.headingRead = true // an unreadable heading counts as read: its columns are unknown
			if r.width == 0 {
				return r.finish()
			}
			continue
		}
		line, _ := in.FieldPos(0)
		more, err := r.readRow(line, fields)
		if err != nil {
			return File{}, err
		}
		if !more {
			return r.finish()
		}
	}
}

// tooWide returns the line of the first record with more than maxColumns fields, 0 if there is none: csv.Reader reads records whole,
// and one of a million fields takes many times its bytes. Like csv.Reader, it goes on at the next line after a misplaced quote.
func tooWide(data []byte, separator byte) (line int) {
	line, fields, starts, quoted := 1, 1, true, false
	for i := 0; i < len(data); i++ {
		b, next := data[i], byte('\n')
		if i+1 < len(data) {
			next = data[i+1]
		}
		switch {
		case b == '"' && quoted && next == '"':
			i++
		case b == '"' && quoted && (next == separator || next == '\n' || next == '\r'):
			quoted = false
		case b == '"' && starts:
			quoted, starts = true, false
		case b == '"': // misplaced
			quoted = false
			if i = bytes.IndexByte(data[i:], '\n') + i; data[i] != '\n' {
				return 0
			}
			line, fields, starts = line+1, 1, true
		case b == '\n':
			line++
			if !quoted {
				fields, starts = 1, true
			}
		case quoted:
		case b == separator:
			if fields++; fields > maxColumns {
				return line
			}
			starts = true
		default:
			starts = false
		}
	}
	return 0
}

// decodeText checks that data is UTF-8, strips the byte order mark and converts CR line endings.
func decodeText(data []byte) ([]byte, error) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		return nil, malformed("the file is UTF-16; save it as CSV in UTF-8")
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return nil, malformed("the file is a workbook, not CSV; send it as application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
	}
	if at := bytes.IndexByte(data, 0); at >= 0 {
		return nil, malformed("line %d contains a NUL byte; save the file as CSV in UTF-8", lineAt(data, at))
	}
	if !utf8.Valid(data) {
		at := 0
		for {
			c, n := utf8.DecodeRune(data[at:])
			if c == utf8.RuneError && n <= 1 {
				break
			}
			at += n
		}
		return nil, malformed("line %d is not UTF-8; save the file as CSV in UTF-8", lineAt(data, at))
	}
	if bytes.IndexByte(data, '\n') < 0 { // CR line endings
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	}
	return data, nil
}

func lineAt(data []byte, at int) int { return 1 + bytes.Count(data[:at], []byte("\n")) }

func detectSeparator(data []byte) rune {
	head := ""
	for line := range bytes.Lines(data) {
		if head = strings.TrimSpace(string(line[:min(len(line), 10_000)])); head != "" {
			break
		}
	}
	best, most := ',', -1
	for _, s := range []rune{',', ';', '\t'} {
		in := csv.NewReader(strings.NewReader(head))
		in.Comma, in.LazyQuotes = s, true
		fields, _ := in.Read()
		if n := knownColumns(fields)*1000 + len(fields); n > most {
			best, most = s, n
		}
	}
	return best
}

package commands

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/mattn/go-isatty"

	"hotday/models"
)

// Streams are what a command reads and writes.
type Streams struct {
	In       io.Reader
	Out, Err io.Writer
}

// isTerminal reports whether a person looks at what is written.
func (s Streams) isTerminal() bool {
	f, ok := s.Out.(*os.File)
	return ok && isatty.IsTerminal(f.Fd())
}

// isASCII reports whether what is written goes to a terminal whose locale says that it shows no Unicode. What is piped or kept is
// UTF-8 always, so that it is the same on every machine.
func (s Streams) isASCII() bool {
	locale := cmp.Or(os.Getenv("LC_ALL"), os.Getenv("LC_CTYPE"), os.Getenv("LANG"))
	return locale != "" && s.isTerminal() && !strings.Contains(strings.ToUpper(strings.ReplaceAll(locale, "-", "")), "UTF8")
}

func readAll(file string, s Streams) ([]byte, error) {
	in := s.In
	if f, ok := in.(*os.File); ok && file == "-" && isatty.IsTerminal(f.Fd()) {
		fmt.Fprintln(s.Err, "hotday: reading JSON from the keyboard; Ctrl-D ends it, Ctrl-C gives up")
	}
	if file != "-" {
		f, err := os.Open(file)
		if err != nil {
			return nil, models.Errorf(models.CodeMalformed, "the document cannot be read: %v", err)
		}
		defer f.Close()
		in = f
	}
	doc, err := io.ReadAll(io.LimitReader(in, models.MaxDocument+1))
	if err != nil {
		return nil, models.Errorf(models.CodeMalformed, "the document cannot be read: %v", err)
	}
	if len(doc) > models.MaxDocument {
		return nil, models.Errorf(models.CodeTooLarge, "the document is larger than %d MiB", models.MaxDocument>>20)
	}
	return doc, nil
}

func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

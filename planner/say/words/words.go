// Package words keeps the texts that people read apart from the code: a catalogue for each language, looked up by key.
//
// A catalogue is a folder named by its BCP 47 tag with JSON files, each an object from key to text. A text may hold {named}
// arguments. A text that changes with a number is an object of plural forms ("one", "few", "other", …), chosen by the argument "n"
// under the rules of the language. Missing texts are said in English.
package words

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
)

// English is the language in which every catalogue is complete.
const English = "en"

// Keys is the language in which every text is its own key (BCP 47: zxx, no linguistic content). A site that is set to it shows which
// text appears where, and tests compare it with English: only texts may differ.
const Keys = "zxx"

// Languages is one set of texts in every language.
type Languages struct {
	tags    []language.Tag // English first: the match when nothing else fits
	texts   []*Catalogue
	keys    *Catalogue
	matcher language.Matcher
}

// Catalogue is the texts of one language.
type Catalogue struct {
	tag      language.Tag
	texts    map[string]text
	fallback *Catalogue // English; nil for English itself
	keysOnly bool       // Say returns the key
}

// text is an entry of a catalogue: its plural forms, or "other" alone.
type text map[plural.Form]string

var forms = map[string]plural.Form{"other": plural.Other, "zero": plural.Zero, "one": plural.One, "two": plural.Two, "few": plural.Few, "many": plural.Many}

// Load reads the catalogues in the folders of root, one folder a language. The error names the file and the key: a file that cannot
// be read, a key that is defined twice, a plural without "other". Without English texts Load fails too.
func Load(root fs.FS) (*Languages, error) {
	folders, err := fs.ReadDir(root, ".")
	if err != nil {
		return nil, fmt.Errorf("read the languages: %w", err)
	}
	l := &Languages{}
	for _, f := range folders {
		if !f.IsDir() {
			continue
		}
		tag, err := language.Parse(f.Name())
		if err != nil {
			return nil, fmt.Errorf("%s is not a language: %w", f.Name(), err)
		}
		c := &Catalogue{tag: tag, texts: map[string]text{}}
		if err := c.read(root, f.Name()); err != nil {
			return nil, err
		}
		if f.Name() == English {
			l.tags, l.texts = slices.Insert(l.tags, 0, tag), slices.Insert(l.texts, 0, c)
		} else {
			l.tags, l.texts = append(l.tags, tag), append(l.texts, c)
		}
	}
	if len(l.tags) == 0 || l.tags[0] != language.English {
		return nil, errors.New("there are no English texts")
	}
	for _, c := range l.texts[1:] {
		c.fallback = l.texts[0]
	}
	l.keys = &Catalogue{tag: language.MustParse(Keys), texts: l.texts[0].texts, keysOnly: true}
	l.matcher = language.NewMatcher(l.tags)
	return l, nil
}

func (c *Catalogue) read(root fs.FS, folder string) error {
	files, err := fs.Glob(root, path.Join(folder, "*.json"))
	if err != nil {
		return err
	}
	for _, name := range files {
		data, err := fs.ReadFile(root, name)
		if err != nil {
			return err
		}
		var entries map[string]json.RawMessage
		if err := json.Unmarshal(data, &entries); err != nil {
			return fmt.Errorf("read %s: %w", name, err)
		}
		for key, raw := range entries {
			if _, twice := c.texts[key]; twice {
				return fmt.Errorf("%s: %q is in another file too", name, key)
			}
			if c.texts[key], err = readText(raw); err != nil {
				return fmt.Errorf("%s: %q: %w", name, key, err)
			}
		}
	}
	return nil
}

func readText(raw json.RawMessage) (text, error) {
	var plain string
	if json.Unmarshal(raw, &plain) == nil {
		return text{plural.Other: plain}, nil
	}
	var named map[string]string
	if err := json.Unmarshal(raw, &named); err != nil {
		return nil, errors.New("neither a text nor plural forms")
	}
	out := text{}
	for name, s := range named {
		form, ok := forms[name]
		if !ok {
			return nil, fmt.Errorf("%q is not a plural form", name)
		}
		out[form] = s
	}
	if _, ok := out[plural.Other]; !ok {
		return nil, errors.New(`the form "other" is missing`)
	}
	return out, nil
}

// For returns the best catalogue for a language, or for a list of languages in the form of an Accept-Language header. It is English
// where none fits, and Keys for exactly that.
func (l *Languages) For(lang string) *Catalogue {
	if lang == Keys {
		return l.keys
	}
	tags, _, err := language.ParseAcceptLanguage(lang)
	if err != nil || len(tags) == 0 {
		return l.texts[0]
	}
	_, i, _ := l.matcher.Match(tags...)
	return l.texts[i]
}

// All returns the catalogue of every language, English first, without Keys.
func (l *Languages) All() []*Catalogue { return slices.Clone(l.texts) }

// Language is the BCP 47 tag of the catalogue.
func (c *Catalogue) Language() string { return c.tag.String() }

// Has reports whether the language, or English, has a text for a key.
func (c *Catalogue) Has(key string) bool {
	_, ok := c.texts[key]
	return ok || c.fallback != nil && c.fallback.Has(key)
}

// Keys returns the keys of this language, sorted.
func (c *Catalogue) Keys() []string { return slices.Sorted(maps.Keys(c.texts)) }

// Arguments returns the names in braces in a key's text, all plural forms together, sorted.
func (c *Catalogue) Arguments(key string) []string {
	var out []string
	for _, s := range c.texts[key] {
		for rest := s; ; {
			_, after, ok := strings.Cut(rest, "{")
			name, after, closed := strings.Cut(after, "}")
			if !ok || !closed {
				break
			}
			if !slices.Contains(out, name) {
				out = append(out, name)
			}
			rest = after
		}
	}
	slices.Sort(out)
	return out
}

// Say returns the text of a key with its arguments filled in, given as name, value, name, value. A key without a text is returned
// itself: a page with a bare key is better than no page. Tests make sure that there is none.
func (c *Catalogue) Say(key string, args ...any) string {
	if c.keysOnly {
		return key
	}
	t, ok := c.texts[key]
	if !ok {
		if c.fallback != nil {
			return c.fallback.Say(key, args...)
		}
		return key
	}
	s := t[plural.Other]
	if len(t) > 1 {
		if form, ok := t[c.form(args)]; ok {
			s = form
		}
	}
	if !strings.Contains(s, "{") {
		return s
	}
	pairs := make([]string, 0, len(args))
	for i := 0; i+1 < len(args); i += 2 {
		pairs = append(pairs, "{"+fmt.Sprint(args[i])+"}", fmt.Sprint(args[i+1]))
	}
	return strings.NewReplacer(pairs...).Replace(s)
}

// form chooses the plural form by the argument "n": other where it is missing or not a number.
func (c *Catalogue) form(args []any) plural.Form {
	for i := 0; i+1 < len(args); i += 2 {
		if args[i] != "n" {
			continue
		}
		whole, part, _ := strings.Cut(fmt.Sprint(args[i+1]), ".")
		n, err := strconv.Atoi(whole)
		if err != nil {
			return plural.Other
		}
		shown := strings.TrimRight(part, "0")
		return plural.Cardinal.MatchPlural(c.tag, max(n, -n), len(part), len(shown), number(part), number(shown))
	}
	return plural.Other
}

func number(digits string) int {
	n, _ := strconv.Atoi(digits) // no digits: 0
	return n
}

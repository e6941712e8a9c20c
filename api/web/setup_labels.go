package web

import (
	"cmp"
	"slices"
	"strings"

	"hotday/api/web/form"
)

// fieldTexts are the key prefixes of a page's field texts.
type fieldTexts struct{ field, help, choice string }

var setupTexts = fieldTexts{"setup.field.", "setup.help.", "setup.choice."}

// fieldKey is the key of a field's text: prefix, path and suffix, or else with the last name of the path alone, for fields that are called
// the same in every list; "" if there is neither.
func fieldKey(v voice, prefix, path, suffix string) string {
	for _, name := range []string{path, path[strings.LastIndexByte(path, '.')+1:]} {
		if key := prefix + name + suffix; v.Has(key) {
			return key
		}
	}
	return ""
}

// labeller adds texts to fields and collects those with errors.
type labeller struct {
	voice voice
	texts fieldTexts
	more  func(path string) bool // fields to put under "more"; nil: none
	wrong []fieldView
}

func (d *labeller) label(f form.Field) fieldView {
	v := fieldView{Field: f, Label: d.voice.Say(cmp.Or(fieldKey(d.voice, d.texts.field, f.Path, ""), d.texts.field+f.Path))}
	if help := fieldKey(d.voice, d.texts.help, f.Path, ""); help != "" {
		v.Help = d.voice.Say(help)
	}
	for i, o := range v.Options {
		if o.Name == "" {
			v.Options[i].Name = d.choice(f, o.Value)
		}
	}
	before := len(d.wrong)
	switch f.Kind {
	case form.Rows:
		v.Adds = d.addButtons(f)
		for _, row := range f.Fields {
			r := d.label(row)
			r.Row = row.Pointer
			if r.Label = rowTitle(row); r.Label == "" {
				r.Label = d.voice.Say("setup.row", "item", d.voice.Say("setup.item."+f.Path))
			}
			r.Flat = len(r.More) == 0 && len(r.Fields) <= 6 && !slices.ContainsFunc(r.Fields, func(x fieldView) bool {
				return x.Kind == form.Rows || x.Kind == form.Group || x.Kind == form.Multi
			})
			v.Fields = append(v.Fields, r)
		}
	case form.Group:
		for _, x := range f.Fields {
			if d.more != nil && d.more(x.Path) && x.Kind != form.Hidden {
				v.More = append(v.More, d.label(x))
			} else {
				v.Fields = append(v.Fields, d.label(x))
			}
		}
	}
	v.Open = len(d.wrong) > before
	if len(f.Wrong) > 0 {
		d.wrong = append(d.wrong, v)
	}
	return v
}

// choice is the name of a field's choice: its text, or the number itself.
func (d *labeller) choice(f form.Field, value string) string {
	if key := fieldKey(d.voice, d.texts.choice, f.Path, "."+value); key != "" {
		return d.voice.Say(key)
	}
	return value
}

// addButtons are the buttons that add a row: one, or one for each variant of new rows.
func (d *labeller) addButtons(f form.Field) (out []addButton) {
	for _, variant := range variants[f.Path] {
		out = append(out, addButton{Value: f.Pointer + "?" + variant, Label: d.add(f.Path + "." + variant)})
	}
	if out == nil {
		out = []addButton{{Value: f.Pointer, Label: d.add(f.Path)}}
	}
	return out
}

// add is the text of the button that adds a row to a list.
func (d *labeller) add(item string) string {
	return d.voice.Say("setup.add", "item", d.voice.Say("setup.item."+item))
}

// rowTitle is a row's name, or its code, or without either the first choice, day or time in it; "" for a new row.
func rowTitle(row form.Field) string {
	var name, code, first string
	named := false
	for _, f := range row.Fields {
		switch f.Path[strings.LastIndexByte(f.Path, '.')+1:] {
		case "name":
			name, named = f.Value, true
			continue
		case "code":
			code, named = f.Value, true
			continue
		}
		if first != "" {
			continue
		}
		switch f.Kind {
		case form.Choice:
			for _, o := range f.Options {
				if o.On {
					first = o.Name
				}
			}
		case form.Day, form.Clock, form.Text:
			first = f.Value
		}
	}
	if named {
		first = ""
	}
	return cmp.Or(name, code, first)
}

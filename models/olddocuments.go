package models

import (
	"encoding/json"
	"reflect"
	"strings"
)

// Plans and sheets are stored as documents and stay as they were stored. What follows fills in fields that documents of earlier versions
// lack, from the fields they have. It reads no texts: what only a text said then stays empty, and whoever needs it falls back on the
// text. The store calls it on every document that it reads; documents of this version are left as they are.

// DecodeStored reads a document that this or an earlier version stored: fields unknown then have their defaults, as they have in a
// request that leaves them out, and names are on one line. v points to a struct.
func DecodeStored(doc []byte, v any) error {
	if DecodeStrict(doc, v) != nil {
		reflect.ValueOf(v).Elem().SetZero() // stored by a version with fields that are gone
		if err := json.Unmarshal(doc, v); err != nil {
			return err
		}
	}
	if mayBreakLines(doc) {
		readableNames(reflect.ValueOf(v))
	}
	return nil
}

// FillIn completes a plan stored by an earlier version: the lots of its batches.
func (p *Plan) FillIn() {
	for i := range p.Batches {
		p.Batches[i].fillIn()
	}
}

// FillIn completes a sheet stored by an earlier version: its tasks, and lists that were not stored, which are then empty.
func (s *PrepSheet) FillIn() {
	s.Changes, s.Cautions, s.CautionCodes, s.Tasks = orEmpty(s.Changes), orEmpty(s.Cautions), orEmpty(s.CautionCodes), orEmpty(s.Tasks)
	for i := range s.Tasks {
		s.Tasks[i].FillIn()
	}
}

func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

// FillIn completes a task stored by an earlier version: beverage, lots and pulls. Its discard and caution codes were not stored.
func (t *Task) FillIn() {
	if b := t.Batch; b != nil {
		b.fillIn()
		if t.Beverage == "" {
			t.Beverage = b.Beverage
		}
		if t.Lots == nil && t.Kind == TaskBrew {
			t.Lots = b.Lots
		}
	}
	if t.Pulls == nil && t.Pull != nil {
		t.Pulls = []BeanPull{*t.Pull}
	}
}

// fillIn reads the lots out of CoffeeLot. How much came of each was not stored, so G stays 0 where there are several.
func (b *BatchTask) fillIn() {
	if b.Lots != nil || b.CoffeeLot == "" {
		return
	}
	for code := range strings.SplitSeq(b.CoffeeLot, lotSeparator) {
		b.Lots = append(b.Lots, LotUse{Lot: code})
	}
	if len(b.Lots) == 1 {
		b.Lots[0].G = b.DoseG
	}
}

package models

import "fmt"

// people checks that each span of people on shift is for a weekday or a date.
func (c *checker) people(rows []OnShift) {
	for i, p := range rows {
		at := fmt.Sprintf("/site/people/%d", i)
		switch {
		case p.Date == nil && p.Weekday == "":
			c.add(at+"/weekday", "mon, tue, wed, thu, fri, sat or sun, or a date", "the shift has neither a weekday nor a date")
		case p.Date != nil && p.Weekday != "":
			c.add(at+"/date", "a weekday or a date, not both", "the shift is for both %s and %s", p.Weekday, *p.Date)
		}
	}
}

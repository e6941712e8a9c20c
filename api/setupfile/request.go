package setupfile

import (
	"time"

	"hotday/models"
)

// eveningBefore is the clock time at which a plan without a now is made, on the day before it begins, min.
const eveningBefore = 18 * 60

// ReadRequest reads and validates a plan request from a workbook: the sheets of a set-up, with from and days on the first one, and
// sheets such as Demand, Weather and Stock. Without now, the plan is made at six in the evening before its first day. Errors are those
// of Read.
func ReadRequest(data []byte) (r models.PlanRequest, errs []CellError, err error) {
	errs, err = readInto(data, requestType, &r, setNow, func() error { return r.Validate() })
	return r, errs, err
}

func setNow(doc map[string]any) {
	site, _ := doc["site"].(map[string]any)
	zone, _ := site["timezone"].(string)
	loc, err := time.LoadLocation(zone)
	text, _ := doc["from"].(string)
	var from models.Date
	if doc["now"] != nil || err != nil || from.UnmarshalText([]byte(text)) != nil {
		return
	}
	doc["now"] = from.AddDays(-1).At(eveningBefore, loc).Format(time.RFC3339)
}

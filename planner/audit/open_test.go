package audit_test

// open lists the rules that the planner does not keep yet, with the reason. The audit counts their findings without failing. A rule
// leaves the list with the change that makes the planner keep it.
var open = map[string]string{
	"sheet.order":      "tasks have no end and no people until the sheet lays them out; discards of a day before now",
	"sheet.steps":      "no task puts a batch into the cold store until the sheet has one",
	"sheet.days":       "a fridge reading after midnight on the sheet of the day before",
	"sheet.complete":   "a second bottle of the same concentrate is on no sheet",
	"people.marks":     "tasks do not say which of them want a mark until the sheet does",
	"people.handover":  "no handovers until the sheet has them",
	"people.there":     "fridge readings, discards and lifts when nobody is there",
	"people.attention": "fills, mixes and pulls begin while attention allows no starts",
	"people.lift":      "tasks have no people until the sheet lays them out",
	"hands.at_once":    "tasks are not moved to where hands are free until the sheet lays them out",
	"hands.free":       "as hands.at_once",
	"water.containers": "the last container of a fill is filled to a whole litre only",
	"water.mixing":     "with no time before the first fill, the second bottle is mixed after it",
	"water.before_use": "found in less than 1 plan of 200",
	"water.idle":       "found in less than 1 plan of 200",
	"beans.enough":     "a batch rounded up to 2 g more beans than are left has none",
	"brewer.free":      "a batch cut to the water there is falls below the brewer's smallest",
	"ice.quota":        "a quota due at the end of a day part counts ice to the end of its slot",
	"bath.supply":      "found before bath ice limited the schedule",
	"bath.vessels":     "found in less than 1 plan of 200",
	"trays.small":      "loads below 1 kg at times that are not opening or closing",
	"amounts.steps":    "found in less than 1 plan of 200",
	"amounts.stock":    "the stock curve rises up to two slots before the batch is ready",
	"food.discard":     "what is left by the simulation, when the stock curve has none left",
	"food.temp_log":    "one reading on days whose second falls after midnight",
	"money.fixes":      "four fixes",
	"money.one_line":   "two warnings of one kind about one thing on one day",
}

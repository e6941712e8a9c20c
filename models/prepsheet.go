package models

import "time"

// Kinds of task on a prep sheet.
const (
	TaskBrew      = "brew"
	TaskChill     = "chill"
	TaskStrain    = "strain"
	TaskIceFill   = "ice_fill"
	TaskIceTake   = "ice_take"
	TaskIceCheck  = "ice_check"
	TaskWaterDraw = "water_draw"
	TaskPull      = "pull"
	TaskDiscard   = "discard"
	TaskStore     = "store"      // put a batch into the cold store, labelled
	TaskIceRefill = "ice_refill" // empty trays and fill them again
	TaskMix       = "mix"        // a concentrate of salts for dosing water
	TaskGet       = "get"        // milk, syrup, cups and other supplies
	TaskClean     = "clean"      // care of equipment
	TaskTempLog   = "temp_log"   // read and write down a temperature
	TaskCount     = "count"
	TaskLook      = "look"     // at what is left of a beverage, to decide on a batch
	TaskHandover  = "handover" // at a change of shift
)

// States of a task.
const (
	Due     = "due"
	Started = "started"
	Made    = "made"
	Skipped = "skipped"
)

// PrepSheet is the published tasks of one service day. A new revision replaces it and lists the changes.
type PrepSheet struct {
	Site         string    `json:"site"`
	Date         Date      `json:"date"`
	Revision     int       `json:"revision"` // of the plan it came from
	PublishedAt  time.Time `json:"published_at"`
	Changes      []string  `json:"changes"`
	Cautions     []string  `json:"cautions"`
	CautionCodes []Caution `json:"caution_codes"`    // of cautions, in the same order; none in sheets of earlier versions
	Delays       []Delay   `json:"delays,omitempty"` // reported since the day began; the times of the tasks include them
	Tasks        []Task    `json:"tasks"`
}

// Task is a task on a prep sheet. Its ID is stable across revisions while station, kind and subject are the same. Say, Why and Caution
// are texts for people; programs read the other fields.
type Task struct {
	ID      string    `json:"id"`
	At      time.Time `json:"at"`
	Planned time.Time `json:"planned_at,omitzero"` // the plan's time, where at is another because hands are busy then
	Until   time.Time `json:"until,omitzero"`      // when hands are free again; absent in sheets of earlier versions
	Hands   int       `json:"hands,omitzero"`      // people needed, 2 for a lift over 20 kg; 0: none, as for a handover note
	Mark    bool      `json:"mark,omitzero"`       // a mark is wanted; a task without counts as done on time unless a mark says otherwise
	Station string    `json:"station"`             // brewer, maker or mould code; "water", "beans", "cold store", "shift"
	Kind    string    `json:"kind"`
	Say     string    `json:"say"`
	Why     string    `json:"why"`
	Caution string    `json:"caution,omitempty"` // the texts of caution_codes
	State   string    `json:"state"`
	PartOf  string    `json:"part_of,omitempty"` // ID of the task of the same batch whose text includes this one and whose mark counts for it

	CautionCode  Caution   `json:"caution_code,omitempty"`  // the first of caution_codes
	CautionCodes []Caution `json:"caution_codes,omitempty"` // scald, glass, ice_food, bath_ice, cooling, holding, steeping, minerals, freezer

	Beverage string     `json:"beverage,omitempty"` // code; of brew, chill, strain, store and discard
	Batch    *BatchTask `json:"batch,omitempty"`    // of brew, chill, strain, store; of discard where a batch is left over
	Lots     []LotUse   `json:"lots,omitempty"`     // of brew: the beans to use
	Quota    *IceQuota  `json:"quota,omitempty"`    // of ice_fill, ice_take, ice_refill and ice_check; its loads are those of the task: of ice_refill those emptied, then those filled
	Draw     *WaterDraw `json:"draw,omitempty"`     // of water_draw: litres and salts
	Mix      *Mix       `json:"mix,omitempty"`      // of mix
	Pulls    []BeanPull `json:"pulls,omitempty"`    // of pull: the beans to take out
	Pull     *BeanPull  `json:"pull,omitempty"`     // the first of pulls, for clients that do not know pulls
	Discard  *Discard   `json:"discard,omitempty"`  // of discard
	Reading  *Reading   `json:"reading,omitempty"`  // of temp_log
	Well     *WellFill  `json:"well,omitempty"`     // of get, where ice is carried to a well at the bar

	Supplies []SupplyNeed `json:"supplies,omitempty"` // of get: the supplies to get out for the day
	Care     *CareTask    `json:"care,omitempty"`     // of clean
	Choice   *Choice      `json:"choice,omitempty"`   // of look
}

// ReadingStore is the cold store in a Reading.
const ReadingStore = "store"

// Reading is a temperature to read and write down.
type Reading struct {
	Of     string  `json:"of"`      // code of a beverage, or ReadingStore
	LimitC float64 `json:"limit_c"` // the highest allowed at the task's time
}

// PlannedAt is the plan's time of a task, from which the sheet's may differ by a few minutes.
func (t *Task) PlannedAt() time.Time {
	if t.Planned.IsZero() {
		return t.At
	}
	return t.Planned
}

// CountsAsDone reports whether a task that nobody has marked counts as done by an instant: it wants no mark and its time is over. Tasks
// stored by earlier versions never do.
func (t *Task) CountsAsDone(now time.Time) bool {
	return t.State == Due && !t.Mark && t.PartOf == "" && !t.Until.IsZero() && !t.Until.After(now)
}

// Discard is finished beverage to throw away: the g that the plan expects to be left.
type Discard struct {
	Beverage string  `json:"beverage"`
	G        float64 `json:"g"`
}

// DelayUndo is how long a delay can be undone.
const DelayUndo = 30 * time.Minute

// Delay is a report that the kitchen was behind: what had not begun then is due that much later. Key is its idempotency key.
type Delay struct {
	Minutes float64   `json:"minutes"`
	Key     string    `json:"key"`
	At      time.Time `json:"at"` // when it was reported
}

// TaskMark is a report on a task's state. Key is its idempotency key.
type TaskMark struct {
	Task      string    `json:"task,omitempty" opt:"true"`
	State     string    `json:"state" validate:"oneof=started made skipped due"`
	At        time.Time `json:"at"`
	BeverageG *float64  `json:"beverage_g,omitempty" validate:"omitempty,gte=0,lte=1e6"` // finished beverage of a batch, as weighed
	TDSPct    *float64  `json:"tds_pct,omitempty" validate:"omitempty,gte=0,lte=30"`     // its strength, as measured
	IceG      *float64  `json:"ice_g,omitempty" validate:"omitempty,gte=0,lte=1e7"`
	LeftG     *float64  `json:"left_g,omitempty" validate:"omitempty,gte=0,lte=1e6"`   // of look: what is left of the beverage, in the cold store and in ice baths
	TempC     *float64  `json:"temp_c,omitempty" validate:"omitempty,gte=-40,lte=110"` // probe or fridge temperature; at a task of a batch, that of the batch then
	Reason    string    `json:"reason,omitempty" opt:"true" validate:"max=500"`
	Corrects  bool      `json:"corrects" default:"false"` // replaces the mark that counts, with its time and amounts, instead of adding to it
	Key       string    `json:"key" validate:"min=1,max=200"`
}

// DroppedTask is a task of a replaced sheet that the current sheet of its date no longer has.
type DroppedTask struct {
	Task
	Revision    int       // of the sheet that dropped it
	PublishedAt time.Time // of that sheet
}

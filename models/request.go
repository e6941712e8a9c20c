package models

import "time"

// PlanRequest is the complete input of a plan: the body of POST /v1/plan-previews, the file of `hotday plan`, and the result of
// facts.Gather. Masses are in grams, temperatures in °C, money in integer minor units of the site's currency.
type PlanRequest struct {
	Setup
	From            Date          `json:"from"`
	Days            int           `json:"days" validate:"min=1,max=14"`
	Now             time.Time     `json:"now"`
	Seed            int64         `json:"seed" default:"1"`
	Stock           []Stock       `json:"stock" validate:"max=500,dive"`
	Demand          []Demand      `json:"demand" validate:"max=20000,dive"`
	Forecast        []Forecast    `json:"forecast" validate:"max=20000,dive"`
	Sold            []Sold        `json:"sold" validate:"max=20000,dive"`
	UnderWay        []UnderWay    `json:"under_way" validate:"max=1000,dive"`
	Outages         []Outage      `json:"outages" validate:"max=500,dive"`
	Attention       []Attention   `json:"attention" validate:"max=500,dive"`
	Events          []Event       `json:"events" validate:"max=500,dive"`
	Weather         []WeatherHour `json:"weather" validate:"max=2000,dive"`
	WeatherIssuedAt *time.Time    `json:"weather_issued_at"`

	DemandCorrelation *DemandCorrelation `json:"demand_correlation,omitempty"` // left out: day 0.5, next_day 0.05
}

// DemandCorrelation is how demand moves together across drinks and day parts, as learnt from a site's forecast errors: the share of
// the variance in excess of Poisson that the rows of a service day have in common, and the correlation of that part with the next
// day's.
type DemandCorrelation struct {
	Day     float64 `json:"day" validate:"gte=0,lte=1"`
	NextDay float64 `json:"next_day" validate:"gte=0,lte=1"`
}

// Setup is a shop's configuration: the body of PUT /v1/sites/{site}/setup and the first part of a plan request.
type Setup struct {
	Site            Site       `json:"site"`
	Coffees         []Coffee   `json:"coffees" opt:"false" validate:"max=200,dive"`
	Beverages       []Beverage `json:"beverages" opt:"false" validate:"max=40,dive"`
	Drinks          []Drink    `json:"drinks" opt:"false" validate:"max=200,dive"`
	Brewers         []Brewer   `json:"brewers" opt:"false" validate:"max=40,dive"`
	Ice             Ice        `json:"ice"`
	Water           Water      `json:"water"`
	Supplies        []Supply   `json:"supplies" validate:"max=300,dive"`
	Costs           Costs      `json:"costs" opt:"true"`
	ServiceLevelPct *float64   `json:"service_level_pct" validate:"omitempty,gt=0,lt=100"`
}

// Site is one shop with one bar and one time zone.
type Site struct {
	Code          string    `json:"code" validate:"code"`
	Name          string    `json:"name" opt:"true" validate:"max=200,name"`
	Timezone      string    `json:"timezone" validate:"zone"`
	AltitudeM     float64   `json:"altitude_m" validate:"gte=-430,lte=5500"`
	Latitude      *float64  `json:"latitude,omitempty" validate:"omitempty,gte=-90,lte=90"`    // decimal degrees, north positive (WGS 84); null: unknown
	Longitude     *float64  `json:"longitude,omitempty" validate:"omitempty,gte=-180,lte=180"` // decimal degrees, east positive
	Currency      string    `json:"currency" validate:"currency"`
	DayParts      []DayPart `json:"day_parts" opt:"false" validate:"min=1,max=24,dive"`
	Opening       []Opening `json:"opening" opt:"false" validate:"min=1,max=1000,dive"`
	SetupMin      float64   `json:"setup_min" default:"60" validate:"gte=0,lte=720"`
	SlotMin       int       `json:"slot_min" default:"15" validate:"oneof=5 10 15 20 30 60"`
	StartsPerSlot int       `json:"starts_per_slot" default:"1" validate:"gte=0,lte=100"`
	StoreG        float64   `json:"store_g" validate:"gte=0,lte=1e7"`
	StoreTempC    float64   `json:"store_temp_c" default:"5" validate:"gte=-5,lte=30"`
	MaxHoldH      float64   `json:"max_hold_h" default:"24" validate:"gt=0,lte=336"`
	Units         *Units    `json:"units,omitempty"`
	Language      string    `json:"language,omitempty" opt:"true" validate:"omitempty,language"` // BCP 47; empty: English
	Country       string    `json:"country,omitempty" opt:"true" validate:"omitempty,country"`   // ISO 3166-1, for public holidays; empty: unknown
	Region        string    `json:"region,omitempty" opt:"true" validate:"omitempty,region"`     // ISO 3166-2 without the country

	OtherIcePct float64     `json:"other_ice_pct" default:"0" validate:"gte=0,lte=500"`                            // ice for jugs, soft drinks and staff, % of the drinks' serving ice
	RemakePct   float64     `json:"remake_pct" default:"0" validate:"gte=0,lte=100"`                               // spills and remakes, % of the drinks sold
	People      []OnShift   `json:"people" validate:"max=1000,dive"`                                               // empty: hands are not limited
	ServeMin    float64     `json:"serve_min" default:"1.5" validate:"gte=0,lte=60"`                               // of one person, to make and sell a drink
	WorkMin     *WorkMin    `json:"work_min,omitempty"`                                                            // null: the defaults of WorkMin where people are listed
	Baths       *int        `json:"baths,omitempty" validate:"omitempty,gte=0,lte=100"`                            // vessels for ice baths; null: not limited
	JugG        float64     `json:"jug_g" default:"0" validate:"gte=0,lte=50000"`                                  // finished beverage in a full jug, the container in which people see what is left; 0: none
	ScaleG      float64     `json:"scale_g" default:"1" validate:"gte=0,lte=1000"`                                 // resolution of the kitchen scale; 0: 1 g
	FoodRules   string      `json:"food_rules,omitempty" opt:"true" validate:"omitempty,oneof=us uk eu strictest"` // empty: strictest
	FoodLimits  *FoodLimits `json:"food_limits,omitempty"`
	SignOffs    []SignOff   `json:"sign_offs" validate:"max=100,dive"`
	IceWells    []IceWell   `json:"ice_wells" validate:"max=20,dive"`
	Care        []Care      `json:"care" validate:"max=100,dive"`

	Weather *WeatherSource `json:"weather,omitempty"` // null: nothing is fetched
}

// DayPart is a named span of local time. If To is at or before From, it runs past midnight.
type DayPart struct {
	Code string `json:"code" validate:"code"`
	From Clock  `json:"from"`
	To   Clock  `json:"to"`
}

// Opening is opening hours on a weekday (mon … sun) or, overriding that, on a date. If To is at or before From, they run past
// midnight. A date on which the shop stays closed is an Event with Closed.
type Opening struct {
	Weekday string `json:"weekday,omitempty" opt:"true" validate:"omitempty,oneof=mon tue wed thu fri sat sun"`
	Date    *Date  `json:"date,omitempty"`
	From    Clock  `json:"from"`
	To      Clock  `json:"to"`
}

// ClockSpan is a span of local wall-clock time on every date. If To is at or before From, it runs past midnight.
type ClockSpan struct {
	From Clock `json:"from"`
	To   Clock `json:"to"`
}

// Coffee is a coffee with the lots on hand.
type Coffee struct {
	Code           string    `json:"code" validate:"code"`
	Lots           []BeanLot `json:"lots" validate:"max=500,dive"`
	RestDaysMin    float64   `json:"rest_days_min" default:"7" validate:"gte=0,lte=365"`
	RestDaysMax    float64   `json:"rest_days_max" default:"45" validate:"gte=0,lte=730"`
	ThawH          float64   `json:"thaw_h" default:"12" validate:"gte=0,lte=96"`
	PackG          float64   `json:"pack_g" validate:"gt=0,lte=1e5"`
	CostPerKg      float64   `json:"cost_per_kg" validate:"gte=0,lte=1e8"`
	GrinderLossPct float64   `json:"grinder_loss_pct" default:"0" validate:"gte=0,lte=50"`
}

// BeanLot is a delivery of beans with one roast date. Grams is the whole lot, OpenG the part of it in an open bag.
type BeanLot struct {
	Code      string  `json:"code" validate:"code"`
	RoastedOn Date    `json:"roasted_on"`
	Grams     float64 `json:"grams" validate:"gte=0,lte=1e7"`
	Place     string  `json:"place" validate:"oneof=shelf freezer"`
	FrozenOn  *Date   `json:"frozen_on"`
	OpenG     float64 `json:"open_g" default:"0" validate:"gte=0,lte=1e6"`
}

// Methods of brewing a beverage.
const (
	Flash      = "flash"       // brewed hot, ice stirred in
	Steeped    = "steeped"     // cold brew
	HotChilled = "hot_chilled" // brewed hot with all its water, chilled from outside
)

// Beverage is a recipe that is brewed in batches and held cold.
type Beverage struct {
	Code             string   `json:"code" validate:"code"`
	Name             string   `json:"name" opt:"true" validate:"max=200,name"`
	Method           string   `json:"method" validate:"oneof=flash steeped hot_chilled"`
	Coffee           string   `json:"coffee" validate:"code"`
	Ratio            float64  `json:"ratio" validate:"gt=0,lte=100"`
	IceShare         float64  `json:"ice_share" validate:"gte=0,lt=1"`
	RetainedRatio    float64  `json:"retained_ratio" default:"2.1" validate:"gt=0,lte=10"`
	MaxYieldPct      float64  `json:"max_yield_pct" default:"21.8" validate:"gt=0,lte=35"`
	BrewerOutTempC   float64  `json:"brewer_out_temp_c" validate:"gte=0,lte=100"`
	RestTempC        *float64 `json:"rest_temp_c" validate:"omitempty,gte=0,lte=100"`
	Bath             bool     `json:"bath" default:"false"`
	BathTempC        float64  `json:"bath_temp_c" default:"0" validate:"gte=-5,lte=40"`
	CoolingUAWPerK   *float64 `json:"cooling_ua_w_per_k" validate:"omitempty,gt=0,lte=1e4"`
	TargetTempC      float64  `json:"target_temp_c" validate:"gte=0,lte=60"`
	SteepH           *float64 `json:"steep_h" validate:"omitempty,gt=0,lte=96"`
	SteepTempC       float64  `json:"steep_temp_c" default:"5" validate:"gte=0,lte=40"`
	ReadyMin         float64  `json:"ready_min" validate:"gte=0,lte=2880"`
	HoldH            float64  `json:"hold_h" validate:"gt=0,lte=336"`
	TargetTDSPct     float64  `json:"target_tds_pct" validate:"gt=0,lte=30"`
	DisposalCost     float64  `json:"disposal_cost_per_kg" validate:"gte=0,lte=1e7"`
	AgingCostPerKgPH float64  `json:"aging_cost_per_kg_h" validate:"gte=0,lte=1e6"`

	// MeasuredCoolingMin is the time that a full batch took from 60 °C to 5 °C where it is cooled, min; cooling_ua_w_per_k follows from
	// it where that is not given.
	MeasuredCoolingMin *float64 `json:"measured_cooling_min,omitempty" validate:"omitempty,gt=0,lte=2880"`
}

// ColdYieldPct is the default of max_yield_pct for steeped beverages, %: cold water dissolves less than the 21.8 % of hot. Trade reports
// of cold brew lie between 17 and 22 %; from memory, so weigh and measure one batch.
const ColdYieldPct = 20.0

func (b *Beverage) setDependentDefaults(given func(name string) bool) {
	if b.Method == Steeped && !given("max_yield_pct") {
		b.MaxYieldPct = ColdYieldPct
	}
}

// Use is grams of finished beverage in one serving of a drink.
type Use struct {
	Beverage string  `json:"beverage" validate:"code"`
	G        float64 `json:"g" validate:"gt=0,lte=5000"`
}

// Dose is ground coffee for a shot or cup made to order, g per serving.
type Dose struct {
	Coffee string  `json:"coffee" validate:"code"`
	DoseG  float64 `json:"dose_g" validate:"gt=0,lte=500"`
}

// Drink is an item that customers order.
type Drink struct {
	Code        string  `json:"code" validate:"code"`
	Name        string  `json:"name" opt:"true" validate:"max=200,name"`
	Price       float64 `json:"price" validate:"gte=0,lte=1e7"` // minor units of the currency, with costs.tax_pct in it
	Uses        []Use   `json:"uses" validate:"max=20,dive"`
	Doses       []Dose  `json:"doses" validate:"max=20,dive"`
	ServingIceG float64 `json:"serving_ice_g" validate:"gte=0,lte=5000"`
	WaterG      float64 `json:"water_g" default:"0" validate:"gte=0,lte=5000"`
	MilkG       float64 `json:"milk_g" default:"0" validate:"gte=0,lte=5000"`
	OtherCost   float64 `json:"other_cost" default:"0" validate:"gte=0,lte=1e7"`

	Extras    []Extra  `json:"extras" validate:"max=40,dive"`
	Allergens []string `json:"allergens" validate:"max=20,dive,min=1,max=60"` // beside those of its extras' supplies

	Like string `json:"like,omitempty" opt:"true" validate:"omitempty,code"` // drink whose demand stands in for its own while that is hardly known
}

// Brewer is a machine or vessel that brews batches. Batch sizes are in g of finished beverage.
type Brewer struct {
	Code         string      `json:"code" validate:"code"`
	Beverages    []string    `json:"beverages" validate:"max=40,dive,code"`
	MinBeverageG float64     `json:"min_beverage_g" validate:"gte=0,lte=1e6"`
	MaxBeverageG float64     `json:"max_beverage_g" validate:"gt=0,lte=1e6"`
	MaxDoseG     *float64    `json:"max_dose_g" validate:"omitempty,gt=0,lte=1e5"`
	MaxWaterG    *float64    `json:"max_water_g" validate:"omitempty,gt=0,lte=1e6"`
	BusyMin      float64     `json:"busy_min" validate:"gt=0,lte=5760"`
	BatchCost    float64     `json:"batch_cost" validate:"gte=0,lte=1e7"`
	Available    []ClockSpan `json:"available" validate:"max=20,dive"`

	SizesG []float64 `json:"sizes_g" validate:"max=12,dive,gt=0,lte=1e6"` // batch sizes, g of finished beverage; empty: multiples of 100 g, or of 4 oz where masses are in ounces
	ByHand bool      `json:"by_hand" default:"false"`                     // someone stands at it for busy_min
}

// Ice is the production and storage of ice for drinks; Plain is ice for ice baths.
type Ice struct {
	OpeningG     float64    `json:"opening_g" validate:"gte=0,lte=1e8"`
	CountedAt    *time.Time `json:"counted_at"`
	BinG         float64    `json:"bin_g" validate:"gte=0,lte=1e8"`
	BinLossPctPH float64    `json:"bin_loss_pct_per_h" validate:"gte=0,lt=100"`
	IceTempC     float64    `json:"ice_temp_c" validate:"gte=-40,lte=0"`
	BathIcePerKg *float64   `json:"bath_ice_kg_per_kg_cooled" validate:"omitempty,gte=0,lte=10"`
	InletWaterC  float64    `json:"inlet_water_c" default:"20" validate:"gte=0,lte=50"`
	Makers       []IceMaker `json:"makers" validate:"max=50,dive"`
	Moulds       []MouldSet `json:"moulds" validate:"max=50,dive"`
	Plain        PlainIce   `json:"plain" opt:"true"`
	Bought       *BoughtIce `json:"bought,omitempty"`
}

// PlainIce is the storage of ice-bath ice.
type PlainIce struct {
	OpeningG  float64    `json:"opening_g" default:"0" validate:"gte=0,lte=1e8"`
	BinG      float64    `json:"bin_g" default:"0" validate:"gte=0,lte=1e8"`
	CountedAt *time.Time `json:"counted_at"`
}

// IceMaker is an ice machine, rated in kg/day at given air and inlet water temperatures.
type IceMaker struct {
	Code          string       `json:"code" validate:"code"`
	KgPerDayRated float64      `json:"kg_per_day_rated" opt:"true" validate:"gte=0,lte=1e5"`
	RatedAirC     float64      `json:"rated_air_c" default:"21" validate:"gte=-10,lte=60"`
	RatedWaterC   float64      `json:"rated_water_c" default:"10" validate:"gte=0,lte=50"`
	Treated       bool         `json:"treated" default:"true"`
	Plumbed       bool         `json:"plumbed" default:"true"` // takes its own water from the treatment, so nobody fills it
	MineralShare  float64      `json:"mineral_share" default:"1" validate:"gte=0,lte=1"`
	WetShare      float64      `json:"wet_share" default:"0" validate:"gte=0,lte=0.9"`
	Curve         []CurvePoint `json:"curve" validate:"max=200,dive"`
}

// CurvePoint is an ice machine's output at one air and inlet water temperature.
type CurvePoint struct {
	AirC     float64 `json:"air_c" validate:"gte=-10,lte=60"`
	WaterC   float64 `json:"water_c" validate:"gte=0,lte=50"`
	KgPerDay float64 `json:"kg_per_day" validate:"gte=0,lte=1e5"`
}

// MouldSet is a set of ice moulds filled by hand and frozen one whole load at a time.
type MouldSet struct {
	Code         string  `json:"code" validate:"code"`
	LoadG        float64 `json:"load_g" validate:"gt=0,lte=1e6"`
	ThicknessMM  float64 `json:"thickness_mm" validate:"gte=1,lte=500"`
	Geometry     string  `json:"geometry" validate:"oneof=slab cylinder sphere"`
	Sides        int     `json:"sides" default:"2" validate:"oneof=1 2"`
	LoadsAtOnce  int     `json:"loads_at_once" default:"1" validate:"gte=1,lte=100"`
	FreezerAirC  float64 `json:"freezer_air_c" validate:"gte=-60,lt=0"`
	HWM2K        float64 `json:"h_w_m2k" validate:"gt=0,lte=5000"`
	FreezerHeatW float64 `json:"freezer_heat_w" validate:"gt=0,lte=1e6"`
	Treated      bool    `json:"treated" default:"true"`
	MineralShare float64 `json:"mineral_share" default:"1" validate:"gte=0,lte=1"`
	WetShare     float64 `json:"wet_share" default:"0" validate:"gte=0,lte=0.9"`
}

// Water is the water treatment and tank that supply brewing water and ice for drinks.
type Water struct {
	TankL            float64     `json:"tank_l" validate:"gte=0,lte=1e6"`
	OpeningL         float64     `json:"opening_l" validate:"gte=0,lte=1e6"`
	MakeLPerH        float64     `json:"make_l_per_h" validate:"gte=0,lte=1e5"`
	RecoveryPct      float64     `json:"recovery_pct" validate:"gt=0,lte=100"`
	RinseLPerBatch   float64     `json:"rinse_l_per_batch" validate:"gte=0,lte=1000"`
	IceMakingLossPct float64     `json:"ice_making_loss_pct" default:"0" validate:"gte=0,lt=100"`
	ContainerL       float64     `json:"container_l" default:"0" validate:"gte=0,lte=1000"` // of brewing water, filled and dosed at once; 0: any amount
	Source           Ions        `json:"source"`
	Target           WaterTarget `json:"target"`
	Salts            []string    `json:"salts" validate:"max=5,dive,oneof=CaCl2.2H2O MgSO4.7H2O MgCl2.6H2O NaHCO3 KHCO3"`
}

// Ions are concentrations in mg/L. Missing chloride and sulphate follow from the charge balance.
type Ions struct {
	CaMgL   float64  `json:"ca_mg_l" validate:"gte=0,lte=5000"`
	MgMgL   float64  `json:"mg_mg_l" validate:"gte=0,lte=5000"`
	NaMgL   float64  `json:"na_mg_l" validate:"gte=0,lte=5000"`
	KMgL    float64  `json:"k_mg_l" validate:"gte=0,lte=5000"`
	HCO3MgL float64  `json:"hco3_mg_l" validate:"gte=0,lte=5000"`
	ClMgL   *float64 `json:"cl_mg_l" validate:"omitempty,gte=0,lte=5000"`
	SO4MgL  *float64 `json:"so4_mg_l" validate:"omitempty,gte=0,lte=5000"`
}

// WaterTarget is the target for brewing water; MgShare is magnesium's fraction of the hardness as CaCO3.
type WaterTarget struct {
	HardnessMgLCaCO3   float64 `json:"hardness_mg_l_caco3" validate:"gte=0,lte=2000"`
	AlkalinityMgLCaCO3 float64 `json:"alkalinity_mg_l_caco3" validate:"gte=0,lte=2000"`
	MgShare            float64 `json:"mg_share" validate:"gte=0,lte=1"`
}

// Stock is a batch of finished beverage on hand.
type Stock struct {
	Beverage string    `json:"beverage" validate:"code"`
	G        float64   `json:"g" validate:"gte=0,lte=1e7"`
	MadeAt   time.Time `json:"made_at"`
}

// Demand is the manager's forecast for a drink in a day part, in servings. Rows of the days from now's service day up to the plan are
// optional: what they sell uses up stock, ice and water before the plan begins, and nothing is brewed for it.
type Demand struct {
	Date     Date     `json:"date"`
	DayPart  string   `json:"day_part" validate:"code"`
	Drink    string   `json:"drink" validate:"code"`
	Expected float64  `json:"expected" validate:"gte=0,lte=1e6"`
	P10      *float64 `json:"p10" validate:"omitempty,gte=0,lte=1e6"`
	P90      *float64 `json:"p90" validate:"omitempty,gte=0,lte=1e6"`
}

// Forecast is the forecast distribution for a drink in a day part, from history and weather, in servings. Its rows may be of the same
// days as those of Demand.
type Forecast struct {
	Date      Date      `json:"date"`
	DayPart   string    `json:"day_part" validate:"code"`
	Drink     string    `json:"drink" validate:"code"`
	Mean      float64   `json:"mean" validate:"gte=0,lte=1e6"`
	Levels    []float64 `json:"levels" opt:"false" validate:"min=1,max=99,dive,gt=0,lt=1"`
	Quantiles []float64 `json:"quantiles" opt:"false" validate:"max=99,dive,gte=0,lte=1e7"`
	Basis     string    `json:"basis" opt:"true" validate:"max=1000"`
}

// Sold is the servings of a drink sold in a day part up to an instant.
type Sold struct {
	Date    Date      `json:"date"`
	DayPart string    `json:"day_part" validate:"code"`
	Drink   string    `json:"drink" validate:"code"`
	Count   float64   `json:"count" validate:"gte=0,lte=1e6"`
	Until   time.Time `json:"until"`
}

// UnderWay is a task of the previous plan that is started or made; a replan keeps it.
type UnderWay struct {
	Task      string    `json:"task" validate:"max=200"`
	Kind      string    `json:"kind" validate:"oneof=brew chill strain store ice_fill ice_take ice_refill ice_check water_draw mix pull discard get clean temp_log count handover look"`
	State     string    `json:"state" validate:"oneof=started made"`
	Start     time.Time `json:"start"`
	Brewer    *string   `json:"brewer"`
	Beverage  *string   `json:"beverage"`
	BeverageG *float64  `json:"beverage_g" validate:"omitempty,gte=0,lte=1e6"`
	Mould     *string   `json:"mould"`
	Coffee    *string   `json:"coffee"`
	Lot       *string   `json:"lot"`                                  // of a pull; of a mix, the code of the concentrate
	G         *float64  `json:"g" validate:"omitempty,gte=0,lte=1e7"` // of a look, what was left of the beverage
	L         *float64  `json:"l" validate:"omitempty,gte=0,lte=1e6"`
	TempC     *float64  `json:"temp_c,omitempty" validate:"omitempty,gte=-40,lte=110"`  // read at a temp_log
	LimitC    *float64  `json:"limit_c,omitempty" validate:"omitempty,gte=-40,lte=110"` // the highest allowed there
}

// Kinds of equipment of an Outage.
const (
	OutageBrewer = "brewer"
	OutageMaker  = "maker" // an ice machine
)

// OutageMistake is how long after its start an outage that was reported from now on can be undone as a mistake.
const OutageMistake = 30 * time.Minute

// Outage is a span in which a piece of equipment is out of order.
type Outage struct {
	Kind string    `json:"kind" validate:"oneof=brewer maker mould tank"`
	Code string    `json:"code" opt:"true" validate:"max=60"`
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// Attention overrides the site's starts_per_slot for a span. With 0 starts no task begins in the span: no batch is started, put into a
// bath, stirred, strained or put into the cold store then. Work that has begun goes on.
type Attention struct {
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Starts int       `json:"starts" validate:"gte=0,lte=100"`
}

// Event is an event, closure or public holiday. Factor multiplies the demand in its span. A factor of 1 leaves the effect open: the
// forecast then uses its own estimate for events of the same name, or for holidays.
type Event struct {
	From   time.Time `json:"from"`
	To     time.Time `json:"to"`
	Name   string    `json:"name" opt:"true" validate:"max=200,name"`
	Closed bool      `json:"closed" default:"false"`
	Factor float64   `json:"factor" default:"1" validate:"gte=0,lte=100"`
	Kind   string    `json:"kind,omitempty" opt:"true" validate:"omitempty,oneof=event holiday"` // "": event
}

// Kinds of Event. A public holiday applies to the days whose noon it covers.
const (
	EventKind   = "event"
	HolidayKind = "holiday"
)

// WeatherHour is the weather of one hour.
type WeatherHour struct {
	At          time.Time `json:"at"`
	TempC       float64   `json:"temp_c" validate:"gte=-60,lte=60"`
	HumidityPct *float64  `json:"humidity_pct" validate:"omitempty,gte=0,lte=100"`
	RainMM      *float64  `json:"rain_mm,omitempty" validate:"omitempty,gte=0,lte=500"`
}

// Costs are site-wide cost settings. A missed sale costs the drink's contribution times a factor: below 1 where some customers choose
// another drink, above it where they do not come back. The contribution of a drink is its price before tax, less other_cost and all
// coffee in it, and at least 0.
type Costs struct {
	ShortFactor    float64  `json:"short_factor" default:"1" validate:"gte=0,lte=100"`
	IceShortFactor *float64 `json:"ice_short_factor,omitempty" validate:"omitempty,gte=0,lte=100"` // of a sale missed because ice for drinks is out, whether or not a beverage is out too; null: short_factor
	TaxPct         *float64 `json:"tax_pct,omitempty" validate:"omitempty,gte=0,lte=100"`          // sales tax in the prices of drinks, % of the price before tax; null: 0, prices are net
}

// IceFactor is the factor of a sale missed because ice for drinks is out.
func (c *Costs) IceFactor() float64 {
	if c.IceShortFactor != nil {
		return *c.IceShortFactor
	}
	return c.ShortFactor
}

// Net is a price without the tax in it.
func (c *Costs) Net(price float64) float64 {
	if c.TaxPct == nil {
		return price
	}
	return price / (1 + *c.TaxPct/100)
}

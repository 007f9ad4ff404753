package session

import "finwright/internal/model"

// EndKind says how a run ended.
type EndKind string

// The ways a run ends.
const (
	Stopped      EndKind = "stopped itself" // a sensor reached its stop temperature
	BatteryEmpty EndKind = "battery empty"  // what one hopes for
	LimitPassed  EndKind = "limit passed"   // skin, cell or glue got hotter than it should; the device itself goes on
	TimeOver     EndKind = "still running"  // the time asked for was over
	Dimmed       EndKind = "dims itself"    // a sensor took a power step; the device itself goes on with less
)

// End is one ending: what, when and by whom.
type End struct {
	Kind EndKind
	AtS  float64 // s since the start
	By   string  // the sensor or limit that ended it; empty otherwise
}

// Series is one watched temperature or power over the run, sampled at Result.TimeS.
type Series struct {
	Name   string
	Kind   string    // "sensor", "cell", "skin", "place"
	ValueK []float64 // K, one per Result.TimeS
	LimitK float64   // the temperature it must not reach; 0 when none
}

// Gate is a temperature at which a sensor would act, kept even when the run was told to ignore it.
type Gate struct {
	Series int    // index into Result.Series
	Kind   string // "trip" or "step" (the first one)
	LimitK float64
}

// Event is something that happened during the run.
type Event struct {
	AtS  float64
	What string // in words: "soc reached 93 °C: device stops"
}

// Limit is one temperature not to pass, and how near the run came.
type Limit struct {
	Name     string  // "soc stops", "hand on plate.front", "cell", "glue chip-plate"
	Kind     string  // "trip", "step", "skin", "cell", "glue"
	LimitK   float64 // K
	HighestK float64 // highest reached up to the end, K
	AtS      float64 // when the highest was reached, s
	MarginK  float64 // LimitK - HighestK; negative when passed
	ReachedS float64 // first time it was reached, s; NaN when never
	SettleK  float64 // where it would settle if the run went on for ever at the end's power, K; NaN when not asked
	Source   string  // where the limit comes from
}

// Leg is one stretch of the way of the heat from the main source to the air: a part, a joint or the film outside.
type Leg struct {
	Name  string  // part, "chip | plate (thermal pad)", or "film on plate front"
	Kind  string  // "source", "part", "joint", "air gap", "film"
	DropK float64 // degrees lost here
	FlowW float64 // watts that go this way here
}

// Outflow is what leaves by one named outer surface.
type Outflow struct {
	Name     string
	AreaM2   float64
	MeanK    float64
	HighestK float64
	HeatW    float64 // total out (convection + radiation - sun)
	ConvW    float64
	RadW     float64
	SunW     float64 // absorbed
	HWm2K    float64 // convective film coefficient used
	Formula  string  // the relation that rules it, …
	LengthM  float64 // … the length it goes by, …
	// … the dimensionless number it is at, the range over which it was published, and its scatter as a share.
	NumberName       string
	Number, From, To float64
	Scatter          float64
	Note             string
	Lies             string // how it lies in this run: "upright", "faces up"
	Reach            bool   // a hand can reach it
}

// Crossing is the heat that crosses one contact between two parts.
type Crossing struct {
	A, B   string // part names; sealed air is named "sealed air", "sealed air 2", …
	Joint  string // the joint's name or the default's kind
	AreaM2 float64
	FlowW  float64 // from A to B
	DropK  float64 // mean temperature step at the interface, K
}

// Ledger is where the watts and the degrees go at one instant.
type Ledger struct {
	AtS       float64
	PowerW    float64 // heat made
	StoredW   float64 // heat still going into warming the device
	Outflows  []Outflow
	Crossings []Crossing
	Path      []Leg // from the main source to the air; the drops add up to source minus ambient
	SourceK   float64
	AmbientK  float64
}

// Balance is the energy account of the run.
type Balance struct{ InJ, SunJ, OutJ, StoredJ, ClosureRel float64 }

// PartState is one part at the end of the run.
type PartState struct {
	Name               string
	MeanK, HighestK    float64
	MassKg, CapacityJK float64
	HeatW              float64
}

// Result is one simulated session.
type Result struct {
	Device, Design string
	Mode           string
	AmbientK       float64
	End            End // the first of stop, power step, empty battery, passed limit, time over
	Own            End // how the device itself ends when a limit or a power step came first; same as End otherwise
	TimeS          []float64
	Series         []Series
	PowerW         []float64 // heat made, per TimeS
	BatteryJ       []float64 // energy left, per TimeS; nil without a battery
	MeanDrawW      float64   // mean power drawn from the battery up to the end
	Gates          []Gate
	Events         []Event
	Limits         []Limit
	Nearest        int     // index into Limits: the smallest margin; -1 when there are none
	MarginMin      float64 // minutes at full power missing to the battery's end (negative), or how much longer it could go until the nearest limit; NaN without a battery
	Hottest        Outflow // the hottest place a hand can reach at the end
	Parts          []PartState
	Ledger         Ledger
	Balance        Balance
	Section        model.Section // a picture of the device by temperature at the end
	Cells          int
	Steps          int
}

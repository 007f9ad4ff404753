package device

import "finwright/internal/unit"

// The types in this file are the device file: one Go field per YAML key. The reader, the JSON Schema and the list of
// known keys that a misspelt one is compared with are all made from the struct tags, so they cannot disagree:
//
//	key   the YAML key; "-" is not in the file; ",inline" takes the keys of the embedded struct into this mapping
//	dim   the dimension a quantity must have (names of unit.Dim, lower case)
//	doc   one sentence for the schema and for "expected …" in errors
//	enum  the words allowed, separated by |
//	named the key holds a mapping from names to values; the slice keeps the file's order and fills Name
//	need  the key must be there

// Pos is a place in the user's file; Line and Column count from 1. The zero Pos is "nowhere".
type Pos struct{ Line, Column int }

// Q is a quantity of the file with its place and its path, e.g. "parts.chip.heat.tracking". The path names it among the
// unknowns that learning may narrow.
type Q struct {
	unit.Quantity
	Pos  Pos
	Path string
}

// Values chooses numbers (SI) for doubtful quantities by path. A path that is not there keeps the quantity's middle.
type Values map[string]float64

// At returns the number to use (SI): v's when it has one for this path, otherwise the middle of the interval.
// An absent quantity gives 0: ask Given first.
func (q Q) At(v Values) float64 {
	if x, ok := v[q.Path]; ok {
		return x
	}
	return q.Mid
}

// Given says whether the file states this quantity (a number or "unknown").
func (q Q) Given() bool { return q.Kind != unit.Absent }

// Vec is two or three lengths written together: "60 x 90 x 22 mm". Empty when absent.
type Vec []Q

// At returns the numbers in metres; a missing third component is 0.
func (v Vec) At(vals Values) (m [3]float64) {
	for i := range v {
		m[i] = v[i].At(vals)
	}
	return m
}

// ByMode is a power that may differ by mode: "3 W", or {tracking: 3 to 5 W, standby: 0.2 W}. A plain power holds in every
// mode; in a mapping a mode that is not named has zero.
type ByMode struct {
	All   Q
	Modes []ModePower
	Pos   Pos
}

// ModePower is one entry of a ByMode mapping.
type ModePower struct {
	Name string
	Q    Q
}

// File is a whole device file.
type File struct {
	Path string   `key:"-"` // where it was read, for messages and to find logs beside it
	Text []string `key:"-"` // its lines, for excerpts

	Device   string `key:"device" need:"true" doc:"what the device is called"`
	About    string `key:"about" doc:"a few words on it"`
	Invented bool   `key:"invented" doc:"true for demo data that was made up"`
	Up       string `key:"up" enum:"+x|-x|+y|-y|+z|-z" doc:"which axis points up when held as used (default +y)"`

	Materials  []OwnMaterial `key:"materials" named:"true" doc:"materials of your own, or library ones with figures changed"`
	Finishes   []OwnFinish   `key:"finishes" named:"true" doc:"surface finishes of your own"`
	Parts      []Part        `key:"parts" named:"true" need:"true" doc:"what the device is made of; later parts cut into earlier ones"`
	Joints     []Joint       `key:"joints" named:"true" doc:"what fills the contact between two touching parts"`
	Mode       string        `key:"mode" doc:"the mode of use, where heats are given by mode"`
	AfterStop  string        `key:"after stop" doc:"the mode whose power remains after the device has stopped (default: no power at all)"`
	Sensors    []Sensor      `key:"sensors" named:"true" doc:"where the device measures itself, and what it does about it"`
	Battery    *Battery      `key:"battery" doc:"what feeds it; leave out when it is fed from outside"`
	Limits     Limits        `key:"limits" doc:"temperatures not to pass"`
	Conditions Conditions    `key:"conditions" doc:"where the answer is wanted: ambient, air, sun, altitude, how it is held"`
	StockRuns  []StockRun    `key:"stock runs" doc:"what was observed before anything was changed"`
	Retrofits  []Retrofit    `key:"retrofits" named:"true" doc:"changes to try, each a list"`

	Grid       GridHints  `key:"grid" doc:"how finely the device is cut into cells; usually left out"`
	Boundaries []Boundary `key:"boundaries" named:"true" doc:"outer faces whose film, temperature or flux is stated; then all other outer faces are adiabatic"`
	Start      Q          `key:"start" dim:"temperature" doc:"temperature of everything at the start (default: ambient)"`
	Expect     []Expect   `key:"expect" doc:"published figures this file is checked against"`
}

// OwnMaterial is a material stated in the file.
type OwnMaterial struct {
	Name         string
	Pos          Pos
	Like         string `key:"like" doc:"the library material that gives what is not stated here"`
	Conductivity Q      `key:"conductivity" dim:"conductivity" doc:"thermal conductivity"`
	Through      Q      `key:"conductivity through" dim:"conductivity" doc:"conductivity through the sheet, when it differs from that in its plane"`
	Normal       string `key:"sheet normal" enum:"x|y|z" doc:"axis the sheet's thickness lies along, when 'conductivity through' is given (default: the part's thinnest)"`
	Density      Q      `key:"density" dim:"density" doc:"density"`
	SpecificHeat Q      `key:"specific heat" dim:"specificheat" doc:"specific heat capacity"`
	Source       string `key:"source" doc:"where the figures come from"`
}

// OwnFinish is a finish stated in the file.
type OwnFinish struct {
	Name       string
	Pos        Pos
	Emissivity Q      `key:"emissivity" dim:"ratio" need:"true" doc:"total hemispherical emissivity near room temperature"`
	Absorbs    Q      `key:"sun absorbed" dim:"ratio" doc:"share of sunlight absorbed (default: same as emissivity)"`
	Source     string `key:"source" doc:"where the figures come from"`
}

// Part is one solid. Exactly one of box, plate, cylinder, tube, fin block is given.
type Part struct {
	Name     string
	Pos      Pos
	Material string `key:"material" need:"true" doc:"a material of the library or of this file"`
	Finish   string `key:"finish" doc:"a surface finish (default: the material's usual one)"`

	Box       Vec       `key:"box" dim:"length" doc:"outer size along x, y, z, such as 60 x 90 x 22 mm"`
	Wall      Q         `key:"wall" dim:"length" doc:"makes a box or cylinder hollow with this wall"`
	Plate     Vec       `key:"plate" dim:"length" doc:"the two in-plane sizes, in the order x, y, z; needs thickness, and on or normal"`
	Thickness Q         `key:"thickness" dim:"length" doc:"thickness of a plate"`
	Normal    string    `key:"normal" enum:"x|y|z" doc:"axis across a plate that is placed with 'at'"`
	Cylinder  *Round    `key:"cylinder" doc:"a round bar"`
	Tube      *Round    `key:"tube" doc:"a round tube"`
	FinBlock  *FinBlock `key:"fin block" doc:"a base with straight fins"`

	At     Vec    `key:"at" dim:"length" doc:"the corner with the smallest x, y, z (default 0 0 0 mm)"`
	On     string `key:"on" doc:"a face of an earlier part to sit on, such as 'plate.front' or 'shell.inside back'"`
	Offset Vec    `key:"offset" dim:"length" doc:"shift from the middle of that face along its two axes, in the order x, y, z"`
	Gap    Q      `key:"gap" dim:"length" doc:"distance kept from that face (default 0: touching)"`
	Turn   *Turn  `key:"turn" doc:"rotation about its own middle"`
	Cuts   []Cut  `key:"cuts" doc:"what is cut out of it"`

	Heat ByMode `key:"heat" dim:"power" doc:"the heat made in it, one figure or by mode"`
	Mass Q      `key:"mass" dim:"mass" doc:"what it weighs on a scale; checks (and corrects) volume times density"`
	Note string `key:"note" doc:"a remark of yours"`
}

// Round is a cylinder or tube along an axis.
type Round struct {
	Pos      Pos
	Diameter Q      `key:"diameter" dim:"length" need:"true" doc:"outer diameter"`
	Inner    Q      `key:"inner" dim:"length" doc:"inner diameter of a tube"`
	Length   Q      `key:"length" dim:"length" need:"true" doc:"length along its axis"`
	Along    string `key:"along" enum:"x|y|z" need:"true" doc:"its axis"`
}

// FinBlock is a base plate with straight, equally spaced fins standing on it.
type FinBlock struct {
	Pos       Pos
	Base      Vec    `key:"base" dim:"length" need:"true" doc:"the two in-plane sizes of the base, in the order x, y, z"`
	Thickness Q      `key:"base thickness" dim:"length" need:"true" doc:"thickness of the base"`
	Fins      Q      `key:"fins" dim:"ratio" need:"true" doc:"how many fins, the outer ones flush with the base's edges"`
	Height    Q      `key:"fin height" dim:"length" need:"true" doc:"height of the fins above the base"`
	FinThick  Q      `key:"fin thickness" dim:"length" need:"true" doc:"thickness of a fin"`
	Along     string `key:"fins along" enum:"x|y|z" need:"true" doc:"axis the fins run along"`
	Out       string `key:"fins point" enum:"+x|-x|+y|-y|+z|-z" doc:"where the fins point (default: away from the face it is on)"`
}

// Turn rotates a part about its own middle.
type Turn struct {
	Pos   Pos
	By    Q      `key:"by" dim:"angle" need:"true" doc:"angle, counter-clockwise seen from the axis' positive end"`
	About string `key:"about" enum:"x|y|z" need:"true" doc:"axis of rotation"`
}

// Cut is taken out of a part. Its place counts from the part's corner with the smallest x, y, z.
type Cut struct {
	Pos     Pos
	Box     Vec    `key:"box" dim:"length" doc:"size of a rectangular cut-out"`
	Hole    Q      `key:"hole" dim:"length" doc:"diameter of a round hole"`
	Through string `key:"through" enum:"x|y|z" doc:"axis of the hole"`
	Depth   Q      `key:"depth" dim:"length" doc:"depth of the hole (default: right through)"`
	At      Vec    `key:"at" dim:"length" need:"true" doc:"corner of a box cut, or centre of a hole, from the part's smallest corner"`
}

// Joint is what fills the contact between two touching parts.
type Joint struct {
	Name        string
	Pos         Pos
	Between     []string `key:"between" need:"true" doc:"the two parts, such as [chip, plate]"`
	Filler      string   `key:"filler" doc:"a filler of the library: thermal paste, thermal pad, thermal epoxy, …"`
	Thickness   Q        `key:"thickness" dim:"length" doc:"thickness of the filler (bond line)"`
	Conducts    Q        `key:"conductivity" dim:"conductivity" doc:"conductivity of the filler, when you know better than the library"`
	Coverage    Q        `key:"coverage" dim:"ratio" doc:"share of the touching area that is really filled"`
	Conductance Q        `key:"conductance" dim:"filmcoefficient" doc:"contact conductance stated outright, or unknown"`
	Pressure    Q        `key:"pressure" dim:"pressure" doc:"contact pressure of a dry joint"`
	Kind        string   `key:"kind" doc:"a kind of dry joint: dry metal, press fit, moulded on, screwed, resting"`
	Note        string   `key:"note" doc:"a remark of yours"`
}

// Sensor is a place where the device measures itself and acts.
type Sensor struct {
	Name     string
	Pos      Pos
	At       string   `key:"at" need:"true" doc:"the part, or a place such as 'board.front centre'"`
	StopsAt  Q        `key:"stops at" dim:"temperature" doc:"temperature at which the device stops itself"`
	Restarts Q        `key:"restarts below" dim:"temperature" doc:"temperature below which it would start again"`
	Steps    []Step   `key:"steps" doc:"power steps it takes before it stops, coolest first"`
	Acts     []string `key:"acts on" doc:"the parts whose heat the steps cut (default: all that make heat)"`
}

// Step is one throttling step.
type Step struct {
	Pos       Pos
	Above     Q `key:"above" dim:"temperature" need:"true" doc:"taken when the sensor rises above this"`
	BackBelow Q `key:"back below" dim:"temperature" doc:"left again below this (default 5 K lower)"`
	Power     Q `key:"power" dim:"ratio" need:"true" doc:"share of full power that is left"`
}

// Battery feeds the device.
type Battery struct {
	Pos        Pos
	Part       string `key:"part" doc:"the part that is the cell, where its own heat goes"`
	Energy     Q      `key:"energy" dim:"energy" need:"true" doc:"energy it really delivers, such as 10 Wh ± 5 %"`
	State      string `key:"state" enum:"discharging|charging|idle" doc:"discharging feeds the device; idle and charging mean it is fed from outside"`
	OwnHeat    Q      `key:"own heat" dim:"ratio" doc:"share of the power drawn that warms the cell itself"`
	Efficiency Q      `key:"efficiency" dim:"ratio" doc:"converter efficiency between cell and device; the loss is taken as heat already counted in the parts"`
	OtherLoad  ByMode `key:"other load" dim:"power" doc:"power that leaves the device not as heat: light, radio"`
	Limit      Q      `key:"limit" dim:"temperature" doc:"cell temperature not to pass (default 60 °C discharging, 45 °C charging)"`
}

// Limits are temperatures not to pass; each has a default with its source.
type Limits struct {
	Pos  Pos
	Skin Q `key:"skin" dim:"temperature" doc:"hottest place a hand can reach (default 48 °C, held more than a minute)"`
	Glue Q `key:"glue" dim:"temperature" doc:"all glued joints (default: by filler)"`
}

// Conditions say where a run takes place.
type Conditions struct {
	Pos          Pos
	Ambient      Q        `key:"ambient" dim:"temperature" doc:"air temperature"`
	Air          Air      `key:"air" doc:"still, or a speed such as 5 m/s"`
	Surroundings Q        `key:"surroundings" dim:"temperature" doc:"temperature of what it sees around it (default: ambient)"`
	Sun          Q        `key:"sun" dim:"heatflux" doc:"sun on faces square to it, such as 800 W/m2 (default: none)"`
	SunFrom      string   `key:"sun from" enum:"+x|-x|+y|-y|+z|-z" doc:"side the sun stands on (default: the worst side)"`
	Altitude     Q        `key:"altitude" dim:"length" doc:"height above the sea"`
	Up           string   `key:"held with up" enum:"+x|-x|+y|-y|+z|-z" doc:"axis pointing up in this run (default: the device's up)"`
	RestsOn      *RestsOn `key:"rests on" doc:"what one face lies on, hangs from or is held by"`
}

// Air is "still" or a speed.
type Air struct {
	Given bool
	Still bool
	Speed Q // m/s
	Pos   Pos
}

// RestsOn is contact with what holds the device.
type RestsOn struct {
	Pos  Pos
	Face string `key:"face" need:"true" doc:"the face in contact, such as 'shell.bottom'"`
	What string `key:"what" need:"true" enum:"wood|metal|cloth|hand|stone|paper|nothing" doc:"what it lies on or is held by"`
}

// StockRun is one observation of the device as it was.
type StockRun struct {
	Pos          Pos
	Name         string `key:"name" doc:"what you call this run"`
	Conditions   `key:",inline"`
	Mode         string    `key:"mode" doc:"the mode it ran in (default: the device's)"`
	Start        Q         `key:"start" dim:"temperature" doc:"temperature of the device at the start (default: ambient)"`
	StopsAfter   Q         `key:"stops after" dim:"time" doc:"it stopped itself after this time"`
	RunningAfter Q         `key:"still running after" dim:"time" doc:"it was still running at this time"`
	EmptyAfter   Q         `key:"battery empty after" dim:"time" doc:"it ran until the battery was empty, after this time"`
	DimsAfter    Q         `key:"first step after" dim:"time" doc:"it took its first power step after this time"`
	Spots        []Spot    `key:"spots" doc:"temperatures read at a place and a time"`
	Log          string    `key:"log" doc:"a logger's CSV file beside this file"`
	Channels     []Channel `key:"channels" named:"true" doc:"which column of the log was where"`
	Error        Q         `key:"log error" dim:"temperaturediff" doc:"90 % error of a logged temperature (default 2 K)"`
}

// Spot is one temperature reading.
type Spot struct {
	Pos   Pos
	At    string `key:"at" need:"true" doc:"a part, a face, or a place such as 'plate.front centre'"`
	After Q      `key:"after" dim:"time" need:"true" doc:"time since the start"`
	Reads Q      `key:"reads" dim:"temperature" need:"true" doc:"what was read, such as 41 °C ± 1 K"`
}

// Channel says where a log's column was measured.
type Channel struct {
	Name string
	Pos  Pos
	At   string // the mapping's value: a place
}

// Retrofit is a named list of changes.
type Retrofit struct {
	Name    string
	Pos     Pos
	About   string   `key:"about" doc:"a few words on it"`
	Changes []Change `key:"changes" need:"true" doc:"the changes, in order"`
}

// Change is one step of a retrofit; exactly one key is given.
type Change struct {
	Pos      Pos
	Remove   string    `key:"remove" doc:"a part to take off"`
	Face     *Facing   `key:"face" doc:"mill a face of a part flat"`
	Add      []Part    `key:"add" named:"true" doc:"parts to put on"`
	Replace  []Part    `key:"replace" named:"true" doc:"parts to exchange, by name"`
	Rejoin   []Joint   `key:"rejoin" named:"true" doc:"joints to make or change"`
	Refinish *Refinish `key:"refinish" doc:"a new finish on a part"`
	Mode     string    `key:"mode" doc:"run in this mode"`
}

// Facing mills a layer off one side of a box, plate or hollow box.
type Facing struct {
	Pos  Pos
	Part string `key:"part" need:"true" doc:"the part"`
	Side string `key:"side" need:"true" enum:"left|right|bottom|top|back|front" doc:"the side to mill"`
	By   Q      `key:"depth" dim:"length" need:"true" doc:"how much is taken off"`
}

// Refinish changes the finish of a part.
type Refinish struct {
	Pos    Pos
	Part   string `key:"part" need:"true" doc:"the part"`
	Finish string `key:"finish" need:"true" doc:"the new finish"`
}

// GridHints steer the cells.
type GridHints struct {
	Pos     Pos
	Largest Q `key:"largest cell" dim:"length" doc:"no cell is longer than this"`
	Across  Q `key:"cells across" dim:"ratio" doc:"cells across the thinnest thing at the least"`
	Snap    Q `key:"snap" dim:"length" doc:"planes closer than this become one (default 0.02 mm)"`
}

// Boundary states what happens at an outer face (or a patch of one) instead of the surface formulas.
type Boundary struct {
	Name        string
	Pos         Pos
	Face        string `key:"face" need:"true" doc:"the face, such as 'bar.right', or 'bar' for all its outer faces"`
	Patch       Vec    `key:"patch" dim:"length" doc:"size of a rectangle on that face, centred (default: the whole face)"`
	Offset      Vec    `key:"offset" dim:"length" doc:"shift of the patch from the middle of the face"`
	Film        Q      `key:"film" dim:"filmcoefficient" doc:"film coefficient to the ambient"`
	Resistance  Q      `key:"surface resistance" dim:"arearesistance" doc:"surface resistance to the ambient, instead of a film"`
	Ambient     Q      `key:"ambient" dim:"temperature" doc:"temperature beyond the film, or radiated to"`
	Emissivity  Q      `key:"radiates" dim:"ratio" doc:"emissivity towards black surroundings at ambient"`
	Temperature Q      `key:"temperature" dim:"temperature" doc:"fixed temperature (with swing: its mean)"`
	Swing       Q      `key:"swing" dim:"temperaturediff" doc:"amplitude of a sine added to the temperature"`
	Period      Q      `key:"period" dim:"time" doc:"period of that sine, which starts at zero and rises"`
	Flux        Q      `key:"flux" dim:"heatflux" doc:"fixed flux into the face"`
	Power       Q      `key:"power" dim:"power" doc:"fixed power into the face or patch, spread evenly"`
}

// Expect is one published figure. Exactly one of the first six keys is given.
type Expect struct {
	Pos         Pos
	ID          string     `key:"id" need:"true" doc:"a short unique name"`
	Temperature string     `key:"temperature at" doc:"a place: 'x y z mm', or 'part.face centre'"`
	Mean        string     `key:"mean of" doc:"mean temperature of a part or a face"`
	Highest     string     `key:"highest of" doc:"highest temperature of a part or a face"`
	Rise        string     `key:"rise at" doc:"temperature at a place less the ambient of the first boundary"`
	MeanRise    string     `key:"mean rise of" doc:"mean temperature of a face, patch or part less the ambient of the first boundary"`
	Heat        string     `key:"heat through" doc:"heat leaving through a named boundary"`
	TimeUntil   *TimeUntil `key:"time until" doc:"time at which a place reaches a temperature"`
	After       Q          `key:"after" dim:"time" doc:"when (default: in steady state)"`
	Target      string     `key:"target" need:"true" doc:"the published figure with its unit"`
	Within      string     `key:"within" need:"true" doc:"tolerance with its unit, or in %"`
	Source      string     `key:"source" need:"true" doc:"where the figure is published"`
}

// TimeUntil asks when a place reaches a temperature.
type TimeUntil struct {
	Pos     Pos
	At      string `key:"at" need:"true" doc:"a place"`
	Reaches Q      `key:"reaches" dim:"temperature" need:"true" doc:"the temperature"`
}

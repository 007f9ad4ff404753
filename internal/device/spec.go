package device

import (
	"math"

	"finwright/internal/unit"
)

// The types in this file are the device file: one Go field per YAML key. The reader, the JSON Schema and the list of
// known keys that a misspelt one is compared with are all made from the struct tags, so they cannot disagree:
//
//	key   the YAML key; "-" is not in the file; ",inline" takes the keys of the embedded struct into this mapping
//	dim   the dimension a quantity must have (names of unit.Dim, lower case)
//	doc   one sentence for the schema and for "expected …" in errors
//	enum  the words allowed, separated by |
//	named the key holds a mapping from names to values; the slice keeps the file's order and fills Name. "true" keeps
//	      dots out of the names, because places and paths are written with dots; "free" allows them
//	need  the key must be there
//	n     how many lengths a Vec has
//	limit what a quantity's interval must keep to: >0, >=0, 0..1, 0+..1 (above 0), >=1
//	prior the key of the prior (prior.go) that "unknown" stands for; without it "unknown" is refused
//	noun  what one entry of a list or named mapping is called in messages
//	alone "true": a list of one entry may be written as that entry, without a dash
//	eg    an example, for errors and the schema

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
	Path     string   `key:"-"` // where it was read, for messages and to find logs beside it
	Text     []string `key:"-"` // its lines, for excerpts
	Warnings Problems `key:"-"` // what is odd but can be worked with

	assumed []Assumption   // what the reader put in on the user's behalf
	places  map[string]Pos // where the value at each path starts, for messages

	Device   string `key:"device" need:"true" doc:"what the device is called" eg:"bench lamp"`
	About    string `key:"about" doc:"a few words on it" eg:"bought second-hand, dims after 20 min"`
	Invented bool   `key:"invented" doc:"true for demo data that was made up"`
	Up       string `key:"up" enum:"+x|-x|+y|-y|+z|-z" doc:"which axis points up when held as used (default +y)"`

	Materials  []OwnMaterial `key:"materials" named:"free" doc:"materials of your own, or library ones with figures changed" noun:"material" eg:"grey plastic: {like: ABS, conductivity: 0.2 W/mK}"`
	Finishes   []OwnFinish   `key:"finishes" named:"free" doc:"surface finishes of your own" noun:"finish" eg:"black paint: {emissivity: 0.9}"`
	Parts      []Part        `key:"parts" named:"true" need:"true" doc:"what the device is made of; later parts cut into earlier ones" noun:"part" eg:"chip: {material: silicon, box: 14 x 14 x 1.2 mm, heat: 3 W}"`
	Joints     []Joint       `key:"joints" named:"true" doc:"what fills the contact between two touching parts" noun:"joint" eg:"chip-plate: {between: [chip, plate], filler: thermal pad, thickness: 1 mm}"`
	Mode       string        `key:"mode" doc:"the mode of use, where heats are given by mode"`
	AfterStop  string        `key:"after stop" doc:"the mode whose power remains after the device has stopped (default: no power at all)"`
	Sensors    []Sensor      `key:"sensors" named:"true" doc:"where the device measures itself, and what it does about it" noun:"sensor" eg:"soc: {at: chip, stops at: 93 °C ± 3 K}"`
	Battery    *Battery      `key:"battery" doc:"what feeds it; leave out when it is fed from outside" eg:"{part: cell, energy: 10 Wh ± 5 %}"`
	Limits     Limits        `key:"limits" doc:"temperatures not to pass" eg:"{skin: 48 °C}"`
	Conditions Conditions    `key:"conditions" doc:"where the answer is wanted: ambient, air, sun, altitude, how it is held" eg:"{ambient: 25 °C, air: still}"`
	Runs       []Run         `key:"stock runs" doc:"what was observed before anything was changed" noun:"stock run" eg:"- {ambient: 24 °C, air: still, stops after: 20 to 30 min}"`
	Tests      []Run         `key:"retrofit runs" doc:"what was observed with a retrofit on, such as a test at the bench" noun:"retrofit run" eg:"- {retrofit: thicker plate, ambient: 24 °C, still running after: 60 min}"` // moved behind Runs once read
	Retrofits  []Retrofit    `key:"retrofits" named:"true" doc:"changes to try, each a list" noun:"retrofit" eg:"thicker plate: {changes: [{remove: pad}]}"`

	Grid       GridHints  `key:"grid" doc:"how finely the device is cut into cells; usually left out" eg:"{largest cell: 2 mm}"`
	Boundaries []Boundary `key:"boundaries" named:"true" doc:"outer faces whose film, temperature or flux is stated; then all other outer faces are adiabatic" noun:"boundary" eg:"cold end: {face: bar.right, temperature: 20 °C}"`
	Start      Q          `key:"start" dim:"temperature" doc:"temperature of everything at the start (default: ambient)" prior:"ambient"`
	Expect     []Expect   `key:"expect" doc:"published figures this file is checked against" noun:"expectation" eg:"- {id: a1, temperature at: bar.right centre, target: 36.6 °C, within: 0.1 K, source: the book}"`
}

// OwnMaterial is a material stated in the file.
type OwnMaterial struct {
	Name         string
	Pos          Pos
	Like         string `key:"like" doc:"the library material that gives what is not stated here" eg:"ABS"`
	Conductivity Q      `key:"conductivity" dim:"conductivity" doc:"thermal conductivity" limit:">0" prior:"conductivity"`
	Through      Q      `key:"conductivity through" dim:"conductivity" doc:"conductivity through the sheet, when it differs from that in its plane" limit:">0" prior:"conductivity through"`
	Normal       string `key:"sheet normal" enum:"x|y|z" doc:"axis the sheet's thickness lies along, when 'conductivity through' is given (default: the part's thinnest)"`
	Density      Q      `key:"density" dim:"density" doc:"density" limit:">0" prior:"density"`
	SpecificHeat Q      `key:"specific heat" dim:"specificheat" doc:"specific heat capacity" limit:">0" prior:"specific heat"`
	Source       string `key:"source" doc:"where the figures come from" eg:"the maker's data sheet"`
}

// OwnFinish is a finish stated in the file.
type OwnFinish struct {
	Name       string
	Pos        Pos
	Emissivity Q      `key:"emissivity" dim:"ratio" need:"true" doc:"total hemispherical emissivity near room temperature" limit:"0+..1" prior:"emissivity" eg:"0.9"`
	Absorbs    Q      `key:"sun absorbed" dim:"ratio" doc:"share of sunlight absorbed (default: same as emissivity)" limit:"0..1" prior:"sun absorbed" eg:"0.7"`
	Source     string `key:"source" doc:"where the figures come from" eg:"the paint maker's data sheet"`
}

// Part is one solid. Exactly one of box, plate, cylinder, tube, fin block is given.
type Part struct {
	Name     string
	Pos      Pos
	Material string `key:"material" need:"true" doc:"a material of the library or of this file" eg:"aluminium 6061"`
	Finish   string `key:"finish" doc:"a surface finish (default: the material's usual one)" eg:"black anodised"`

	Box       Vec       `key:"box" dim:"length" doc:"outer size along x, y, z, such as 60 x 90 x 22 mm" n:"3" limit:">0" eg:"60 x 90 x 22 mm"`
	Wall      Q         `key:"wall" dim:"length" doc:"makes a box or cylinder hollow with this wall" limit:">0"`
	Plate     Vec       `key:"plate" dim:"length" doc:"the two in-plane sizes, in the order x, y, z; needs thickness, and on or normal" n:"2" limit:">0" eg:"58 x 88 mm"`
	Thickness Q         `key:"thickness" dim:"length" doc:"thickness of a plate" limit:">0"`
	Normal    string    `key:"normal" enum:"x|y|z" doc:"axis across a plate that is placed with 'at'"`
	Cylinder  *Round    `key:"cylinder" doc:"a round bar" eg:"{diameter: 18 mm, length: 65 mm, along: y}"`
	Tube      *Round    `key:"tube" doc:"a round tube" eg:"{diameter: 20 mm, inner: 16 mm, length: 65 mm, along: y}"`
	FinBlock  *FinBlock `key:"fin block" doc:"a base with straight fins" eg:"{base: 56 x 80 mm, base thickness: 2 mm, fins: 12, fin height: 8 mm, fin thickness: 1.2 mm, fins along: y}"`

	At     Vec    `key:"at" dim:"length" doc:"the corner with the smallest x, y, z (default 0 0 0 mm)" n:"3" eg:"22 56 15.2 mm"`
	On     string `key:"on" doc:"a face of an earlier part to sit on, such as 'plate.front' or 'shell.inside back'" eg:"plate.front"`
	Offset Vec    `key:"offset" dim:"length" doc:"shift from the middle of that face along its two axes, in the order x, y, z" n:"2" eg:"0 x -12 mm"`
	Gap    Q      `key:"gap" dim:"length" doc:"distance kept from that face (default 0: touching)" limit:">=0"`
	Turn   *Turn  `key:"turn" doc:"rotation about its own middle" eg:"{by: 30 deg, about: z}"`
	Cuts   []Cut  `key:"cuts" doc:"what is cut out of it" noun:"cut" eg:"- {box: 10 x 5 x 2 mm, at: 0 0 0 mm}"`

	HeldApart bool `key:"held apart" doc:"yes for a part that touches no other on purpose, such as a shade on stand-offs that carry next to no heat" eg:"yes"`

	Heat ByMode `key:"heat" dim:"power" doc:"the heat made in it, one figure or by mode" limit:">=0" prior:"heat" eg:"3 to 5 W"`
	Mass Q      `key:"mass" dim:"mass" doc:"what it weighs on a scale; checks (and corrects) volume times density" limit:">0"`
	Note string `key:"note" doc:"a remark of yours"`

	// Milled is how much a retrofit took off each side, m: left, right, bottom, top, back, front. The cuts are in Cuts
	// already; a part that sits on a milled side must be placed that much deeper.
	Milled [6]float64 `key:"-"`
	Fitted string     `key:"-"` // the path of the retrofit that brought this part; "" for one of the device as it was
}

// Round is a cylinder or tube along an axis.
type Round struct {
	Pos      Pos
	Diameter Q      `key:"diameter" dim:"length" need:"true" doc:"outer diameter" limit:">0"`
	Inner    Q      `key:"inner" dim:"length" doc:"inner diameter of a tube" limit:">0"`
	Length   Q      `key:"length" dim:"length" need:"true" doc:"length along its axis" limit:">0"`
	Along    string `key:"along" enum:"x|y|z" need:"true" doc:"its axis"`
}

// FinBlock is a base plate with straight, equally spaced fins standing on it.
type FinBlock struct {
	Pos       Pos
	Base      Vec    `key:"base" dim:"length" need:"true" doc:"the two in-plane sizes of the base, in the order x, y, z" n:"2" limit:">0" eg:"56 x 80 mm"`
	Thickness Q      `key:"base thickness" dim:"length" need:"true" doc:"thickness of the base" limit:">0"`
	Fins      Q      `key:"fins" dim:"ratio" need:"true" doc:"how many fins, the outer ones flush with the base's edges" limit:">=1" eg:"12"`
	Height    Q      `key:"fin height" dim:"length" need:"true" doc:"height of the fins above the base" limit:">0"`
	FinThick  Q      `key:"fin thickness" dim:"length" need:"true" doc:"thickness of a fin" limit:">0"`
	Along     string `key:"fins along" enum:"x|y|z" need:"true" doc:"axis the fins run along"`
	Out       string `key:"fins point" enum:"+x|-x|+y|-y|+z|-z" doc:"where the fins point (default: away from the face it is on)"`
}

// Turn rotates a part about its own middle, or the whole device from the posture it is held in.
type Turn struct {
	Pos   Pos
	By    Q      `key:"by" dim:"angle" need:"true" doc:"angle, counter-clockwise seen from the axis' positive end"`
	About string `key:"about" enum:"x|y|z" need:"true" doc:"axis of rotation"`
}

// Cut is taken out of a part. Its place counts from the part's corner with the smallest x, y, z.
type Cut struct {
	Pos     Pos
	Box     Vec    `key:"box" dim:"length" doc:"size of a rectangular cut-out" n:"3" limit:">0" eg:"10 x 5 x 2 mm"`
	Hole    Q      `key:"hole" dim:"length" doc:"diameter of a round hole" limit:">0"`
	Through string `key:"through" enum:"x|y|z" doc:"axis of the hole"`
	Depth   Q      `key:"depth" dim:"length" doc:"depth of the hole (default: right through)" limit:">0"`
	At      Vec    `key:"at" dim:"length" need:"true" doc:"corner of a box cut, or centre of a hole, from the part's smallest corner" n:"3" eg:"0 0 0 mm"`
}

// Joint is what fills the contact between two touching parts.
type Joint struct {
	Name        string
	Pos         Pos
	Between     []string `key:"between" need:"true" doc:"the two parts, such as [chip, plate]" eg:"[chip, plate]"`
	Filler      string   `key:"filler" doc:"a filler of the library: thermal paste, thermal pad, thermal epoxy, …" eg:"thermal paste"`
	Thickness   Q        `key:"thickness" dim:"length" doc:"thickness of the filler (bond line)" limit:">0" prior:"bond line"`
	Conducts    Q        `key:"conductivity" dim:"conductivity" doc:"conductivity of the filler, when you know better than the library" limit:">0" prior:"filler conductivity"`
	Coverage    Q        `key:"coverage" dim:"ratio" doc:"share of the touching area that is really filled" limit:"0+..1" prior:"coverage" eg:"0.8"`
	Conductance Q        `key:"conductance" dim:"filmcoefficient" doc:"contact conductance stated outright, or unknown" limit:">0" prior:"conductance"`
	Pressure    Q        `key:"pressure" dim:"pressure" doc:"contact pressure of a dry joint" limit:">0" prior:"pressure"`
	Kind        string   `key:"kind" doc:"a kind of dry joint: dry metal, screwed metal, metal on plastic, plastic press fit, soldered, moulded-on skin, soft pressed, resting" eg:"screwed metal"`
	Note        string   `key:"note" doc:"a remark of yours"`
	Fitted      string   `key:"-"` // the path of the retrofit that made this joint; "" for one of the device as it was
}

// Sensor is a place where the device measures itself and acts.
type Sensor struct {
	Name     string
	Pos      Pos
	At       string   `key:"at" need:"true" doc:"the part, or a place such as 'board.front centre'" eg:"chip"`
	StopsAt  Q        `key:"stops at" dim:"temperature" doc:"temperature at which the device stops itself" prior:"stops at"`
	Restarts Q        `key:"restarts below" dim:"temperature" doc:"temperature below which it would start again" prior:"restarts below"`
	Steps    []Step   `key:"steps" doc:"power steps it takes before it stops, coolest first" noun:"step" eg:"- {above: 70 °C, power: 60 %}"`
	Acts     []string `key:"acts on" doc:"the parts whose heat the steps cut (default: all that make heat)" eg:"[chip]"`
}

// Step is one throttling step.
type Step struct {
	Pos       Pos
	Above     Q `key:"above" dim:"temperature" need:"true" doc:"taken when the sensor rises above this" prior:"step"`
	BackBelow Q `key:"back below" dim:"temperature" doc:"left again below this (default 5 K lower)" prior:"restarts below"`
	Power     Q `key:"power" dim:"ratio" need:"true" doc:"share of full power that is left" limit:"0..1" eg:"60 %"`
}

// Battery feeds the device.
type Battery struct {
	Pos       Pos
	Part      string `key:"part" doc:"the part that is the cell, where its own heat goes" eg:"cell"`
	Energy    Q      `key:"energy" dim:"energy" need:"true" doc:"energy it really delivers, such as 10 Wh ± 5 %" limit:">0" eg:"10 Wh ± 5 %"`
	State     string `key:"state" enum:"discharging|charging|idle" doc:"discharging feeds the device; idle and charging mean it is fed from outside"`
	OwnHeat   Q      `key:"own heat" dim:"ratio" doc:"share of the power drawn that warms the cell itself" limit:"0..1" prior:"own heat" eg:"0.03"`
	OtherLoad ByMode `key:"other load" dim:"power" doc:"power that leaves the device not as heat: light, radio" limit:">=0" prior:"other load" eg:"0.8 W"`
	Limit     Q      `key:"limit" dim:"temperature" doc:"cell temperature not to pass (default 60 °C discharging, 45 °C charging)"`
}

// Limits are temperatures not to pass; each has a default with its source.
type Limits struct {
	Pos  Pos
	Skin Q `key:"skin" dim:"temperature" doc:"hottest place a hand can reach (default 48 °C, held more than a minute)"`
	Hand Q `key:"hand" dim:"temperature" doc:"where it is held in the hand (default: by the material there and how long it is held)"`
	Glue Q `key:"glue" dim:"temperature" doc:"all glued joints (default: by filler)"`
}

// Conditions say where a run takes place. File.Under fills a run's own up from the file's.
type Conditions struct {
	Pos            Pos
	Ambient        Q         `key:"ambient" dim:"temperature" doc:"air temperature" prior:"ambient" eg:"24 °C"`
	Air            Air       `key:"air" doc:"still, or a speed such as 5 m/s" eg:"still"`
	WindFrom       Direction `key:"wind from" doc:"where the wind comes from (default: not known)" eg:"+x"`
	Surroundings   Q         `key:"surroundings" dim:"temperature" doc:"temperature of what it sees around it, above and below (default: ambient)" prior:"ambient"`
	Sky            Q         `key:"sky" dim:"temperature" doc:"temperature of the sky it sees outdoors, as an infrared thermometer pointed at it reads (default: surroundings)" prior:"sky" eg:"-5 °C"`
	Ground         Q         `key:"ground" dim:"temperature" doc:"temperature of the ground it sees (default: surroundings)" prior:"ground" eg:"30 °C"`
	Sun            Q         `key:"sun" dim:"heatflux" doc:"direct sun on faces square to it, such as 800 W/m2 (default: none)" limit:">=0" prior:"sun" eg:"800 W/m2"`
	SunFrom        Direction `key:"sun from" doc:"where the sun stands (default: the worst side)" eg:"+z"`
	SkyLight       Q         `key:"sky light" dim:"heatflux" doc:"diffuse light of the sky on level ground, such as 100 W/m2 (default: none without sun, a share of the sun with it)" limit:">=0" prior:"sky light" eg:"100 W/m2"`
	GroundReflects Q         `key:"ground reflects" dim:"ratio" doc:"share of sun and sky light that the ground throws back" limit:"0..1" prior:"ground reflects" eg:"0.2"`
	Altitude       Q         `key:"altitude" dim:"length" doc:"height above the sea" eg:"500 m"`
	Up             string    `key:"held with up" enum:"+x|-x|+y|-y|+z|-z" doc:"axis pointing up in this run (default: the device's up)"`
	Leaning        *Turn     `key:"leaning" doc:"how far the device is turned about its own axis after held with up; 30 deg about x tips its top towards its front" eg:"{by: 30 deg, about: x}"`
	RestsOn        []RestsOn `key:"rests on" alone:"true" doc:"what its faces lie on, hang from or are held by; an empty list: nothing" noun:"support" eg:"- {face: shell.bottom, what: wood}"`
}

// UpDir is the unit vector against gravity in the device's axes: that of Up, turned back by the angle that the device leans.
// With Up +y, 30 deg about x gives (0, cos 30°, -sin 30°): the top has gone forwards, and the front (+z) looks 30°
// downwards. It needs Up: ask it of what File.Under gives.
func (c *Conditions) UpDir(v Values) (up [3]float64) {
	up[axisOf(c.Up)] = 1
	if c.Up[0] == '-' {
		up[axisOf(c.Up)] = -1
	}
	if c.Leaning == nil {
		return up
	}
	axis := axisOf(c.Leaning.About)
	sin, cos := math.Sincos(c.Leaning.By.At(v))
	i, j := (axis+1)%3, (axis+2)%3
	up[i], up[j] = cos*up[i]+sin*up[j], cos*up[j]-sin*up[i]
	return up
}

// Direction is where the sun stands or the wind comes from, in the device's own axes: one of the six, or a triple of numbers
// of any length.
type Direction struct {
	Given bool
	Dir   [3]float64 // unit vector from the device towards the sun, or towards where the wind comes from
	Pos   Pos
}

// Axis is the axis (0, 1, 2) and sign (-1, 1) of a direction along one of the six axes; ok is false for any other.
func (d Direction) Axis() (axis, sign int, ok bool) {
	for a, x := range d.Dir {
		if x == 1 || x == -1 {
			return a, int(x), true
		}
	}
	return 0, 0, false
}

// Air is "still" or a speed.
type Air struct {
	Given bool
	Still bool
	Speed Q // m/s
	Pos   Pos
}

// RestsOn is contact of one face with what holds the device.
type RestsOn struct {
	Pos   Pos
	Face  string `key:"face" doc:"the face in contact, such as 'shell.bottom'" eg:"shell.bottom"`
	What  string `key:"what" need:"true" enum:"wood|metal|cloth|hand|stone|paper|glass|tripod|nothing" doc:"what it lies on or is held by"`
	Share Q      `key:"share" dim:"ratio" doc:"share of the face that is touched (default: all of it; by a hand or a tripod, its usual share)" limit:"0+..1" prior:"share" eg:"40 %"`
}

// Run is one observation of the device: as it was, or with a retrofit on.
type Run struct {
	Pos          Pos
	Path         string `key:"-"` // "stock runs.0"
	Retrofit     string `key:"retrofit" doc:"the retrofit that was on it; under retrofit runs only" eg:"thicker plate"`
	Name         string `key:"name" doc:"what you call this run" eg:"on the desk"`
	Conditions   `key:",inline"`
	Mode         string    `key:"mode" doc:"the mode it ran in (default: the device's)"`
	Start        Q         `key:"start" dim:"temperature" doc:"temperature of the device at the start (default: ambient)" prior:"ambient"`
	StopsAfter   Q         `key:"stops after" dim:"time" doc:"it stopped itself after this time" limit:">0" eg:"20 to 30 min"`
	RunningAfter Q         `key:"still running after" dim:"time" doc:"it was still running at this time" limit:">0" eg:"20 to 30 min"`
	EmptyAfter   Q         `key:"battery empty after" dim:"time" doc:"it ran until the battery was empty, after this time" limit:">0" eg:"20 to 30 min"`
	DimsAfter    Q         `key:"first step after" dim:"time" doc:"it took its first power step after this time" limit:">0" eg:"20 to 30 min"`
	PowerRead    Q         `key:"power read" dim:"power" doc:"electric power it took while it ran, read from a meter in its supply" limit:">0" eg:"4.6 W ± 3 %"`
	CurrentRead  Q         `key:"current read" dim:"current" doc:"current it took while it ran, read from a meter that shows no watts; with voltage read" limit:">0" eg:"0.92 A ± 2 %"`
	VoltageRead  Q         `key:"voltage read" dim:"voltage" doc:"voltage at that meter" limit:">0" eg:"5.08 V ± 1 %"`
	Spots        []Spot    `key:"spots" doc:"temperatures read at a place and a time" noun:"spot" eg:"- {at: plate.front centre, after: 20 min, reads: 41 °C ± 1 K}"`
	Log          string    `key:"log" doc:"a logger's CSV file beside this file" eg:"runs/first.csv"`
	LogReading   string    `key:"log reading" doc:"how the log is to be read, where a guess would not do; finwright bench read --remember writes it" eg:"'delimiter semicolon; decimal comma; start 312 s'"`
	Channels     []Channel `key:"channels" named:"free" doc:"which column of the log was where" eg:"T1: plate.front centre"`
	Error        Q         `key:"log error" dim:"temperaturediff" doc:"90 % error of a logged temperature (default 2 K)" limit:">0"`
}

// Spot is one temperature reading.
type Spot struct {
	Pos   Pos
	At    string `key:"at" need:"true" doc:"a part, a face, or a place such as 'plate.front centre'" eg:"plate.front centre"`
	After Q      `key:"after" dim:"time" need:"true" doc:"time since the start" limit:">=0"`
	Reads Q      `key:"reads" dim:"temperature" need:"true" doc:"what was read, such as 41 °C ± 1 K"`
	// How it was read decides what it is worth.
	By         string `key:"by" enum:"touch|infrared|thermocouple" doc:"how it was read (default: its error as stated)" eg:"infrared"`
	Emissivity Q      `key:"emissivity" dim:"ratio" doc:"emissivity of the spot an infrared thermometer saw: 0.95 for tape or matt paint put there (default: that of the part's finish)" limit:"0+..1" eg:"0.95"`
	SetTo      Q      `key:"thermometer set to" dim:"ratio" doc:"emissivity the infrared thermometer was set to (default 0.95)" limit:"0+..1" eg:"0.95"`
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
	Changes []Change `key:"changes" need:"true" doc:"the changes, in order" noun:"change" eg:"- remove: rubber skin"`
}

// Change is one step of a retrofit; exactly one key is given.
type Change struct {
	Pos      Pos
	Remove   string    `key:"remove" doc:"a part to take off" eg:"rubber skin"`
	Face     *Facing   `key:"face" doc:"mill a face of a part flat" eg:"{part: plate, side: front, depth: 0.3 mm}"`
	Add      []Part    `key:"add" named:"true" doc:"parts to put on" noun:"part" eg:"fins: {material: copper C110, plate: 56 x 80 mm, thickness: 2 mm, on: plate.front}"`
	Replace  []Part    `key:"replace" named:"true" doc:"parts to exchange, by name" noun:"part" eg:"plate: {material: copper C110, box: 58 x 88 x 1.8 mm}"`
	Rejoin   []Joint   `key:"rejoin" named:"true" doc:"joints to make or change" noun:"joint" eg:"chip-plate: {between: [chip, plate], filler: thermal paste}"`
	Refinish *Refinish `key:"refinish" doc:"a new finish on a part" eg:"{part: shell, finish: black paint}"`
	Mode     string    `key:"mode" doc:"run in this mode"`
}

// Facing mills a layer off one side of a box, plate or hollow box.
type Facing struct {
	Pos  Pos
	Part string `key:"part" need:"true" doc:"the part"`
	Side string `key:"side" need:"true" enum:"left|right|bottom|top|back|front" doc:"the side to mill"`
	By   Q      `key:"depth" dim:"length" need:"true" doc:"how much is taken off" limit:">0" eg:"0.3 mm"`
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
	Largest Q `key:"largest cell" dim:"length" doc:"no cell is longer than this" limit:">0"`
	Across  Q `key:"cells across" dim:"ratio" doc:"cells across the thinnest thing at the least" limit:">=1" eg:"2"`
	Snap    Q `key:"snap" dim:"length" doc:"planes closer than this become one (default 0.02 mm)" limit:">0" eg:"0.02 mm"`
}

// Boundary states what happens at an outer face (or a patch of one) instead of the surface formulas.
type Boundary struct {
	Name        string
	Pos         Pos
	Face        string `key:"face" need:"true" doc:"the face, such as 'bar.right', or 'bar' for all its outer faces" eg:"bar.right"`
	Patch       Vec    `key:"patch" dim:"length" doc:"size of a rectangle on that face, centred (default: the whole face)" n:"2" limit:">0" eg:"10 x 10 mm"`
	Offset      Vec    `key:"offset" dim:"length" doc:"shift of the patch from the middle of the face" n:"2" eg:"5 x 0 mm"`
	Film        Q      `key:"film" dim:"filmcoefficient" doc:"film coefficient to the ambient" limit:">0"`
	Resistance  Q      `key:"surface resistance" dim:"arearesistance" doc:"surface resistance to the ambient, instead of a film" limit:">0"`
	Ambient     Q      `key:"ambient" dim:"temperature" doc:"temperature beyond the film, or radiated to"`
	Emissivity  Q      `key:"radiates" dim:"ratio" doc:"emissivity towards black surroundings at ambient" limit:"0+..1" eg:"0.9"`
	Temperature Q      `key:"temperature" dim:"temperature" doc:"fixed temperature (with swing: its mean)"`
	Swing       Q      `key:"swing" dim:"temperaturediff" doc:"amplitude of a sine added to the temperature"`
	Period      Q      `key:"period" dim:"time" doc:"period of that sine, which starts at zero and rises" limit:">0"`
	Flux        Q      `key:"flux" dim:"heatflux" doc:"fixed flux into the face"`
	Power       Q      `key:"power" dim:"power" doc:"fixed power into the face or patch, spread evenly"`
}

// Expect is one published figure. Exactly one of the first six keys is given.
type Expect struct {
	Pos         Pos
	ID          string     `key:"id" need:"true" doc:"a short unique name" eg:"T3"`
	Temperature string     `key:"temperature at" doc:"a place: 'x y z mm', or 'part.face centre'" eg:"bar.right centre"`
	Mean        string     `key:"mean of" doc:"mean temperature of a part or a face"`
	Highest     string     `key:"highest of" doc:"highest temperature of a part or a face"`
	Rise        string     `key:"rise at" doc:"temperature at a place less the ambient of the first boundary"`
	MeanRise    string     `key:"mean rise of" doc:"mean temperature of a face, patch or part less the ambient of the first boundary"`
	Heat        string     `key:"heat through" doc:"heat leaving through a named boundary"`
	TimeUntil   *TimeUntil `key:"time until" doc:"time at which a place reaches a temperature" eg:"{at: bar.right centre, reaches: 60 °C}"`
	After       Q          `key:"after" dim:"time" doc:"when (default: in steady state)" limit:">0"`
	Target      string     `key:"target" need:"true" doc:"the published figure with its unit" eg:"36.6 °C"`
	Within      string     `key:"within" need:"true" doc:"tolerance with its unit, or in %" eg:"0.1 K"`
	Source      string     `key:"source" need:"true" doc:"where the figure is published"`
}

// TimeUntil asks when a place reaches a temperature.
type TimeUntil struct {
	Pos     Pos
	At      string `key:"at" need:"true" doc:"a place"`
	Reaches Q      `key:"reaches" dim:"temperature" need:"true" doc:"the temperature"`
}

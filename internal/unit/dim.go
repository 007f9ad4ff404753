package unit

import "strings"

// Dim is what kind of quantity is meant.
type Dim uint8

// The dimensions. The comment is the SI unit that Quantity's numbers have.
const (
	Length          Dim = iota // m
	Area                       // m2
	Volume                     // m3
	Mass                       // kg
	Time                       // s
	Power                      // W
	Energy                     // J
	Temperature                // K, absolute
	TemperatureDiff            // K
	Velocity                   // m/s
	Angle                      // rad
	Ratio                      // 1
	Pressure                   // Pa
	Conductivity               // W/(m K)
	SpecificHeat               // J/(kg K)
	Density                    // kg/m3
	FilmCoefficient            // W/(m2 K)
	AreaResistance             // m2 K/W
	Resistance                 // K/W
	HeatFlux                   // W/m2
	HeatCapacity               // J/K
	Current                    // A
	Voltage                    // V
	Force                      // N
	numDims
)

// dimInfo is what is known about a dimension apart from its units.
type dimInfo struct {
	key, name string
	article   string
	example   string
	signed    bool   // may be below zero
	wide      string // what "unknown" stands for
}

// The wide ranges are our own choice for hand-sized, heat-limited devices (no source): the places where a file is likely
// to say "unknown" are a chip's power, a trip temperature, a bond line, its coverage and its conductance.
var dims = [numDims]dimInfo{
	Length:          {"length", "length", "a", "12 mm", true, "0.02 to 1 mm"},
	Area:            {"area", "area", "an", "4 cm2", false, "0.1 to 100 cm2"},
	Volume:          {"volume", "volume", "a", "15 cm3", false, "0.1 to 200 cm3"},
	Mass:            {"mass", "mass", "a", "85 g", false, "1 to 500 g"},
	Time:            {"time", "time", "a", "25 min", false, "1 to 300 min"},
	Power:           {"power", "power", "a", "3.4 W", true, "0.1 to 15 W"},
	Energy:          {"energy", "energy", "an", "10 Wh", false, "1 to 30 Wh"},
	Temperature:     {"temperature", "temperature", "a", "24 °C", true, "50 to 105 °C"},
	TemperatureDiff: {"temperaturediff", "temperature difference", "a", "3 K", true, "0.5 to 30 K"},
	Velocity:        {"velocity", "speed", "a", "5 m/s", true, "0.1 to 10 m/s"},
	Angle:           {"angle", "angle", "an", "30 deg", true, "-45 to 45 deg"},
	Ratio:           {"ratio", "ratio", "a", "0.9 or 90 %", true, "0.1 to 1"},
	Pressure:        {"pressure", "pressure", "a", "50 kPa", false, "10 to 1000 kPa"},
	Conductivity:    {"conductivity", "conductivity", "a", "0.2 W/(m K)", false, "0.1 to 10 W/(m K)"},
	SpecificHeat:    {"specificheat", "specific heat", "a", "900 J/(kg K)", false, "400 to 2000 J/(kg K)"},
	Density:         {"density", "density", "a", "1.2 g/cm3", false, "900 to 9000 kg/m3"},
	FilmCoefficient: {"filmcoefficient", "film coefficient or conductance", "a", "10 W/(m2 K)", false, "50 to 20000 W/(m2 K)"},
	AreaResistance:  {"arearesistance", "area resistance", "an", "0.5 cm2 K/W", false, "0.5 to 200 cm2 K/W"},
	Resistance:      {"resistance", "thermal resistance", "a", "2.5 K/W", false, "0.1 to 50 K/W"},
	HeatFlux:        {"heatflux", "heat flux", "a", "800 W/m2", true, "10 to 10000 W/m2"},
	HeatCapacity:    {"heatcapacity", "heat capacity", "a", "120 J/K", false, "1 to 500 J/K"},
	Current:         {"current", "current", "a", "0.92 A", false, "0.05 to 3 A"},
	Voltage:         {"voltage", "voltage", "a", "5.1 V", false, "1 to 24 V"},
	Force:           {"force", "force", "a", "20 N", true, "1 to 200 N"},
}

// DimNamed finds a dimension by its key: its constant's name, in any case ("filmcoefficient").
func DimNamed(key string) (Dim, bool) {
	for d := range dims {
		if strings.EqualFold(dims[d].key, key) {
			return Dim(d), true
		}
	}
	return 0, false
}

func (d Dim) info() dimInfo {
	if d < numDims {
		return dims[d]
	}
	panic("unit: no such Dim")
}

// Name is the dimension in words, such as "film coefficient or conductance".
func (d Dim) Name() string { return d.info().name }

// String is Name.
func (d Dim) String() string { return d.Name() }

// Example is a quantity of this dimension as one would write it.
func (d Dim) Example() string { return d.info().example }

// Want is what a reader expects, such as "a length such as 12 mm".
func (d Dim) Want() string { i := d.info(); return i.article + " " + i.name + " such as " + i.example }

// Units lists the units that may be written, the usual one first.
func (d Dim) Units() []string {
	d.info()
	var out []string
	for _, u := range units[d] {
		if u.name != "" {
			out = append(out, u.name)
		}
	}
	return out
}

// Wide is the quantity that "unknown" stands for: an interval wide enough for any hand-sized device. Our own choice.
func (d Dim) Wide() Quantity {
	q, err := Parse(d.info().wide, d)
	if err != nil {
		panic("unit: bad wide range: " + err.Error())
	}
	q.Kind, q.Text = Unknown, "unknown"
	return q
}

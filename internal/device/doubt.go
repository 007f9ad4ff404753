package device

import (
	"reflect"
	"strings"

	"finwright/internal/material"
	"finwright/internal/unit"
)

// Assumption is something the file left open and the reader filled in: nothing is assumed in silence.
type Assumption struct {
	About  string // "heat of chip"
	Value  string // as it would be written in the file
	Source string
	Path   string // as for Q, when it is one quantity
}

// Defaults where the file says nothing. Those with doubt are in unknowns.
const (
	DefaultUp          = "+y"
	DefaultAmbientK    = zeroC + 25
	DefaultLogErrorK   = 2.0 // half width of the 90 % interval
	DefaultStepBackByK = 5.0 // a step is left that much below where it is taken
)

const ourDefault = "our default: the file states none"

// Assumptions lists what was put in on the user's behalf: defaults, and what stands for "unknown". The model adds its own.
func (f *File) Assumptions() []Assumption { return append([]Assumption(nil), f.assumed...) }

// AssumeLogError sets the error of a stock run's log, the half width of its 90 % interval in K, where the file states none: what
// is known of its probes goes before the general default.
func (f *File) AssumeLogError(run int, halfWidthK float64, source string) {
	r := &f.Runs[run]
	r.Error = Q{Quantity: unit.Quantity{Dim: unit.TemperatureDiff, Kind: unit.Exact, Mid: halfWidthK, Lo: halfWidthK, Hi: halfWidthK}, Pos: r.Pos}
	for i := range f.assumed {
		if a := &f.assumed[i]; a.About == aboutLogError(r) {
			a.Value, a.Source = "± "+unit.Format(halfWidthK, unit.TemperatureDiff), source
		}
	}
}

func aboutLogError(r *Run) string { return "error of the log " + r.Log }

// assumeDefaults records the defaults that a run of this file uses.
func (f *File) assumeDefaults() {
	add := func(about, value, source, path string) {
		f.assumed = append(f.assumed, Assumption{about, value, source, path})
	}
	temp := func(k float64) string { return unit.Format(k, unit.Temperature) }
	if f.Up == "" && f.Conditions.Up == "" {
		add("which way is up", DefaultUp, ourDefault, "up")
	}
	for i := range f.Sensors {
		for k := range f.Sensors[i].Steps {
			if st := &f.Sensors[i].Steps[k]; !st.BackBelow.Given() {
				add("a power step of "+f.Sensors[i].Name+" is left again", unit.Format(DefaultStepBackByK, unit.TemperatureDiff)+" below where it is taken", ourDefault, "")
			}
		}
	}
	for i := range f.Runs {
		if r := &f.Runs[i]; r.Log != "" && !r.Error.Given() {
			add(aboutLogError(r), "± "+unit.Format(DefaultLogErrorK, unit.TemperatureDiff), "thermocouple and cheap logger: common practice, no source", "")
		}
	}
	if len(f.Boundaries) > 0 {
		return // the surroundings are stated face by face
	}
	if !f.Conditions.Ambient.Given() {
		add("ambient temperature", temp(DefaultAmbientK), ourDefault, "conditions.ambient")
	}
	if !f.Conditions.Air.Given {
		add("air", "still", ourDefault, "conditions.air")
	}
	if !f.Conditions.Altitude.Given() {
		add("height above the sea", "0 m", ourDefault, "conditions.altitude")
	}
	if !f.Limits.Skin.Given() {
		limit := material.TouchLimitFor(material.Metal, HeldS)
		add("skin limit, held for minutes", temp(limit.LimitK), limit.Source, "limits.skin")
	}
	if b := f.Battery; b != nil && !b.Limit.Given() {
		limitK, source := material.CellLimit(b.State == "charging")
		add("cell limit", temp(limitK), source, "battery.limit")
	}
}

// HeldS is the shortest time for which the skin limit of a device in the hand holds, s.
const HeldS = 61

// Doubtful lists, in file order, the quantities with doubt that a run depends on. Observations (what a stock run shows, what
// is expected) and what only a retrofit brings are not among them; a variant has its retrofit's.
func (f *File) Doubtful() []Q {
	var out []Q
	walkQ(reflect.ValueOf(f).Elem(), "", func(q Q) {
		if q.Doubtful() && !observed(q.Path) {
			out = append(out, q)
		}
	})
	return out
}

// observed says whether a path belongs to something seen rather than something that is.
func observed(path string) bool {
	if strings.HasPrefix(path, "retrofits.") {
		return false // reached only in a variant, where it is part of the device
	}
	if strings.HasPrefix(path, "expect.") {
		return true
	}
	if !strings.HasPrefix(path, "stock runs.") && !strings.HasPrefix(path, "retrofit runs.") {
		return false
	}
	key := strings.SplitN(path, ".", 4)[2]
	switch key {
	case "stops after", "still running after", "battery empty after", "first step after", "power read", "current read", "voltage read", "spots", "log error":
		return true
	}
	return false
}

// walkQ calls visit for each quantity below v that the file states, in the order of the keys. Retrofits are left out.
func walkQ(v reflect.Value, name string, visit func(Q)) {
	switch {
	case name == "retrofits":
	case v.Type() == typeQ:
		if q := v.Interface().(Q); q.Given() {
			visit(q)
		}
	case v.Kind() == reflect.Pointer:
		if !v.IsNil() {
			walkQ(v.Elem(), "", visit)
		}
	case v.Kind() == reflect.Slice:
		for i := range v.Len() {
			walkQ(v.Index(i), "", visit)
		}
	case v.Kind() == reflect.Struct && v.Type() != reflect.TypeFor[unit.Quantity]():
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() && f.Name != "Warnings" {
				walkQ(v.Field(i), f.Tag.Get("key"), visit)
			}
		}
	}
}

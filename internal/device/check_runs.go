package device

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"finwright/internal/benchlog"
	"finwright/internal/unit"
)

// gatherRuns puts the runs with a retrofit on behind those of the device as it was, each with its path.
func (f *File) gatherRuns() {
	for i := range f.Runs {
		f.Runs[i].Path = fmt.Sprintf("stock runs.%d", i)
	}
	for i := range f.Tests {
		f.Tests[i].Path = fmt.Sprintf("retrofit runs.%d", i)
	}
	f.Runs, f.Tests = append(f.Runs, f.Tests...), f.Tests[:0]
}

// runs checks each observation: what it says must be there to be said. A run with a retrofit on is held against the device with it; where
// that has errors of its own it is passed over.
func (c *checker) runs(variants map[string]*File) {
	for i := range c.f.Runs {
		r := &c.f.Runs[i]
		if c.broken[r.Path] {
			continue
		}
		on := c.f
		switch tested := strings.HasPrefix(r.Path, "retrofit "); {
		case !tested && r.Retrofit != "":
			c.bad(c.where(r.Path, r.Conditions.Pos, "retrofit"), r.about()+" has a retrofit, but stock runs are of the device as it was", "", "move it under retrofit runs")
			continue
		case tested && r.Retrofit == "":
			c.bad(r.Conditions.Pos, r.about()+" does not say which retrofit was on", "", "add retrofit: and its name, or move it under stock runs")
			continue
		case tested:
			names := make([]string, len(c.f.Retrofits))
			for k := range names {
				names[k] = c.f.Retrofits[k].Name
			}
			if !slices.Contains(names, r.Retrofit) {
				c.bad(c.where(r.Path, r.Conditions.Pos, "retrofit"), fmt.Sprintf("%s: there is no retrofit %q", r.about(), r.Retrofit), "", orNearest(r.Retrofit, names, "it is to be described under retrofits"))
				continue
			}
			if on = variants[r.Retrofit]; on == nil {
				continue
			}
		}
		c.run(r, on)
	}
}

// Label is what a run is called: its own name, or "stock run 2".
func (r *Run) Label() string {
	if r.Name != "" {
		return r.Name
	}
	return r.Nth()
}

// Nth is "stock run 2".
func (r *Run) Nth() string { return nthRun(r.Path) }

// nthRun words a path such as "stock runs.1".
func nthRun(path string) string {
	kind, nth := runOfPath(path)
	return fmt.Sprintf("%s %d", kind, nth+1)
}

// runOfPath is the kind and number, from 0, in a path such as "stock runs.1": "stock run", 1.
func runOfPath(path string) (kind string, nth int) {
	key, number, _ := strings.Cut(path, ".")
	nth, _ = strconv.Atoi(number)
	return strings.TrimSuffix(key, "s"), nth
}

// about names a run for messages.
func (r *Run) about() string {
	if r.Name != "" {
		kind, _ := runOfPath(r.Path)
		return fmt.Sprintf("%s %q", kind, r.Name)
	}
	return r.Nth()
}

// outcome is how a run ended, as far as it is told: its key and time.
func (r *Run) outcomes() (names []string, last Q) {
	for _, o := range []struct {
		q    Q
		name string
	}{{r.StopsAfter, "stops after"}, {r.RunningAfter, "still running after"}, {r.EmptyAfter, "battery empty after"}} {
		if o.q.Given() {
			names, last = append(names, o.name), o.q
		}
	}
	return names, last
}

// Metered is the electric power that a meter showed: as read, or as the product of current and voltage. Absent when none was read.
func (r *Run) Metered() Q {
	amps, volts := r.CurrentRead, r.VoltageRead
	if !amps.Given() || !volts.Given() || r.PowerRead.Given() {
		return r.PowerRead
	}
	q := amps
	q.Dim, q.Kind, q.Mid = unit.Power, unit.Spread, amps.Mid*volts.Mid
	// shares of independent readings add up as squares
	share := math.Hypot((amps.Hi-amps.Lo)/2/amps.Mid, (volts.Hi-volts.Lo)/2/volts.Mid)
	q.Lo, q.Hi = q.Mid*max(0, 1-share), q.Mid*(1+share)
	q.Text = amps.Text + " at " + volts.Text
	return q
}

// metered checks what a meter showed.
func (c *checker) metered(r *Run, about string) {
	amps, volts := r.CurrentRead, r.VoltageRead
	switch {
	case amps.Given() && !volts.Given():
		c.bad(amps.Pos, about+" has a current read but no voltage: a current alone is no power", "", "add voltage read: 5.1 V ± 2 %, what the meter or the supply shows")
	case volts.Given() && !amps.Given():
		c.bad(volts.Pos, about+" has a voltage read but no current: a voltage alone is no power", "", "add current read: 0.9 A ± 2 %, what the meter shows")
	case amps.Given() && r.PowerRead.Given():
		c.bad(r.PowerRead.Pos, about+" has a power read and a current read", "", "leave one of them out")
	}
}

// run checks one run of the device on, which is the file or a variant of it.
func (c *checker) run(r *Run, on *File) {
	f, about, path := on, r.about(), r.Path
	names, _ := r.outcomes()
	c.metered(r, about)
	if len(names) > 1 {
		c.bad(r.Conditions.Pos, fmt.Sprintf("%s says %s: a run ends in one way", about, strings.Join(names, " and ")), "expected one of stops after, still running after, battery empty after", "make two runs of it")
	}
	if len(names) == 0 && !r.DimsAfter.Given() && len(r.Spots) == 0 && r.Log == "" && !r.PowerRead.Given() && !r.CurrentRead.Given() && !r.VoltageRead.Given() {
		c.bad(r.Conditions.Pos, about+" tells nothing that was seen", "expected stops after, still running after, battery empty after, first step after, power read, current read with voltage read, spots or a log", "")
	}
	c.conditions(&r.Conditions, about, path)
	c.mode(r.Mode, c.where(path, r.Conditions.Pos, "mode"), about)
	stops, steps := false, false
	for k := range f.Sensors {
		stops = stops || f.Sensors[k].StopsAt.Given()
		steps = steps || len(f.Sensors[k].Steps) > 0
	}
	if !c.broken["sensors"] {
		if r.StopsAfter.Given() && !stops {
			c.bad(r.StopsAfter.Pos, about+": the device stopped itself, but no sensor has stops at", "", "add under sensors, naming the hot part: soc: {at: chip, stops at: unknown}")
		}
		if r.DimsAfter.Given() && !steps {
			c.bad(r.DimsAfter.Pos, about+": a first step was taken, but no sensor has steps", "", "add steps to a sensor: - {above: unknown, power: 60 %}")
		}
	}
	if r.EmptyAfter.Given() && f.Battery == nil && !c.broken["battery"] {
		c.bad(r.EmptyAfter.Pos, about+" ran the battery empty, but the file has no battery", "", "add battery: {part: cell, energy: 10 Wh ± 10 %}")
	}
	for k := range r.Spots {
		s := &r.Spots[k]
		if _, err := ParsePlace(s.At, f); err != nil {
			c.badErr(s.Pos, fmt.Sprintf("spot %d of %s", k+1, about), err)
		}
		for _, q := range []Q{s.Emissivity, s.SetTo} {
			if q.Given() && s.By != "infrared" {
				c.bad(q.Pos, fmt.Sprintf("spot %d of %s has an emissivity, but was not read by an infrared thermometer", k+1, about), "", "add by: infrared, or leave the emissivity out")
			}
		}
	}
	for k := range r.Channels {
		ch := &r.Channels[k]
		if _, err := ParsePlace(ch.At, f); err != nil {
			c.badErr(ch.Pos, fmt.Sprintf("channel %q of %s", ch.Name, about), err)
		}
	}
	switch {
	case r.Log == "" && len(r.Channels) > 0:
		c.bad(r.Channels[0].Pos, about+" has channels but no log", "", "add log: and the file's name")
	case r.Log == "" && r.LogReading != "":
		c.bad(c.where(path, r.Conditions.Pos, "log reading"), about+" has a log reading but no log", "", "add log: and the file's name")
	case r.Log == "" && r.Error.Given():
		c.bad(r.Error.Pos, about+" has a log error but no log", "", "add log: and the file's name")
	case r.Log != "" && len(r.Channels) == 0:
		c.bad(r.Conditions.Pos, about+": it is not said where the log's columns were measured", "", "add channels: {T1: plate.front centre}")
	}
	if _, err := benchlog.ParseOptions(r.LogReading); err != nil {
		c.bad(c.where(path, r.Conditions.Pos, "log reading"), about+": "+err.Error(), "expected settings such as 'delimiter semicolon; decimal comma; column 2 name \"T1\" unit \"°F\"'", "finwright bench read shows how a log is read, and --remember writes it here")
	}
	if r.Log != "" {
		if _, err := c.f.LogPath(r.Log); err != nil {
			c.badErr(c.where(path, r.Conditions.Pos, "log"), about, err)
		}
	}
}

// LogPath is where a log named in this file lies. The log must be inside the file's own folder, so that a device file from
// someone else cannot make the program read elsewhere.
func (f *File) LogPath(log string) (string, error) {
	name := filepath.FromSlash(strings.ReplaceAll(log, `\`, "/"))
	folder := filepath.Dir(f.Path)
	if strings.ContainsRune(name, 0) || !filepath.IsLocal(name) {
		return "", &placeError{what: fmt.Sprintf("the log %q is not inside the device file's folder", log), hint: "copy it beside the device file and write its name only"}
	}
	path := filepath.Join(folder, name)
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", &placeError{what: fmt.Sprintf("the log %q is not there", path), hint: "check its name, and that it lies beside the device file"}
	case err != nil:
		return "", &placeError{what: fmt.Sprintf("the log %q cannot be opened", path), hint: ""}
	case info.IsDir():
		return "", &placeError{what: fmt.Sprintf("the log %q is a folder", path), hint: "write the name of the file in it"}
	}
	real, err1 := filepath.EvalSymlinks(path)
	home, err2 := filepath.EvalSymlinks(folder)
	if err1 == nil && err2 == nil {
		if rel, err := filepath.Rel(home, real); err != nil || !filepath.IsLocal(rel) {
			return "", &placeError{what: fmt.Sprintf("the log %q is a link that leads out of the device file's folder", log), hint: "copy it beside the device file"}
		}
	}
	return path, nil
}

// disjoint says whether two intervals have nothing in common.
func disjoint(a, b unit.Quantity) bool { return a.Hi < b.Lo || b.Hi < a.Lo }

package app

import (
	"testing"

	"finwright/internal/device"
)

// A run that the file knows is watched as the file says, sun and all.
func TestWatchOfAKnownRun(t *testing.T) {
	f, err := device.Parse("lamp.yaml", []byte("device: lamp\nparts:\n  a: {material: ABS, box: 40 x 50 x 16 mm, heat: 1 W}\nstock runs:\n  - {ambient: 35 °C ± 2 K, air: 1 m/s, sun: 800 W/m2, still running after: 9 min}\n"))
	if err != nil {
		t.Fatal(err)
	}
	w := &watching{design: f}
	room, err := w.room(nil, &f.Runs[0])
	c := w.tested(&f.Runs[0], room).Conditions
	if err != nil || c.Sun.Mid != 800 || c.Ambient.Mid != 308.15 || c.Ambient.Path != "bench.ambient" || c.Air.Speed.Mid != 1 {
		t.Errorf("%+v, %v", c, err)
	}
}

// On the bench neither the sun nor the sky of the file's own place shines, and the air is still or the fan's.
func TestWatchIsOnTheBench(t *testing.T) {
	for _, place := range []string{"{ambient: 30 °C, air: 4 m/s}", "{ambient: 30 °C, air: 4 m/s, sun: 800 W/m2, sky light: 100 W/m2, sky: 5 °C, ground: 40 °C}"} {
		f, err := device.Parse("lamp.yaml", []byte("device: lamp\nparts:\n  a: {material: ABS, box: 40 x 50 x 16 mm, heat: 1 W}\nconditions: "+place+"\n"))
		if err != nil {
			t.Fatal(err)
		}
		for _, windMS := range []float64{0, 2} {
			w := &watching{design: f, opt: WatchOptions{Ambient: "21 °C ± 1 K", WindMS: windMS}}
			room, err := w.room(nil, nil)
			if err != nil {
				t.Fatal(err)
			}
			c := w.tested(nil, room).Conditions
			if c.Ambient.Mid != 294.15 || c.Ambient.Hi != 295.15 || c.Sun.Mid != 0 || c.SkyLight.Mid != 0 || c.Sky.Given() || c.Ground.Given() || c.Air.Still != (windMS == 0) || c.Air.Speed.Mid != windMS {
				t.Errorf("%s, %g m/s: %+v", place, windMS, c)
			}
			if c.Surroundings.Given() && (c.Surroundings.Mid != 294.15 || c.Surroundings.Path != c.Ambient.Path) { // one room, one unknown
				t.Errorf("%s: surroundings %+v", place, c.Surroundings)
			}
		}
	}
}

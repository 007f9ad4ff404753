package benchtest

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"finwright/internal/curve"
	"finwright/internal/unit"
)

// Causes are the likely causes of a bond that is worse than planned, by what fills it. Common practice, no source.
func Causes(what string) []string {
	switch {
	case strings.Contains(what, "epoxy"), strings.Contains(what, "adhesive"), strings.Contains(what, "glue"):
		return []string{"a film thicker than planned: not clamped while it cured, or a chip or burr between the faces", "air pockets: too little adhesive, or the parts lifted while it set",
			"a face that was not degreased, or anodised or painted where it joins"}
	case strings.Contains(what, "pad"), strings.Contains(what, "tape"):
		return []string{"the pad does not reach, or is hardly squeezed: the gap is wider than the pad is thick", "its film or liner was left on", "it slipped while the case was closed"}
	case strings.Contains(what, "paste"), strings.Contains(what, "grease"):
		return []string{"the faces do not meet: something holds the parts apart", "too little paste, or paste that was pumped out or dried", "a face that is not flat"}
	}
	return []string{"screws or clips that do not press", "a face that is not flat, anodised or painted where it joins", "a chip or burr between the faces"}
}

// next says what to do.
func (v *Verdict) next(r *rig, best guess) {
	say := func(format string, a ...any) { v.Next = append(v.Next, fmt.Sprintf(format, a...)) }
	if !v.Fits {
		say("Find what the model misses before trusting the rest: the readings are %.1f standard deviations off even with the best guess. Ask in this order: was each probe where the command says, and still stuck at the end; was the device in this mode and posture, in still air; did it start cool; does the file leave out a part or a heat?", v.Off)
	}
	switch {
	case len(v.Blamed) == 1:
		b := &v.Bonds[v.Blamed[0]]
		say("Open it and look at the bond %s, between %s and %s. Likely: %s.", b.Name, b.A, b.B, strings.Join(Causes(b.What), "; "))
		say("Redo that bond, and repeat this very test: same places, same posture, started cool.")
	case len(v.Blamed) > 1:
		var names []string
		for _, b := range v.Blamed {
			names = append(names, v.Bonds[b].Name)
		}
		say("One of these bonds is worse than planned, and these probes cannot tell which: %s. Tape one more probe to %s before the case is closed and repeat the test, or open it and look at all. Likely: %s.",
			strings.Join(names, ", "), v.between(), strings.Join(Causes(v.Bonds[v.Blamed[0]].What), "; "))
	}
	short := false
	for _, c := range v.Curves {
		if c.Seen.Given() && c.Seen.Hi < 0.8 && v.Ended == EndRunning {
			say("Let the test run longer: at %s only %.0f %% (%.0f to %.0f) of the rise had happened when the log ends.", c.At, 100*c.Seen.Mid, 100*c.Seen.Lo, 100*c.Seen.Hi)
			short = true
			break
		}
		if c.Verdict == curve.StillRising && v.Ended == EndRunning && !c.allSeen() {
			say("Let the test run longer: at %s it was still warming when the log ends.", c.At)
			short = true
			break
		}
	}
	if a := v.furthest(); !short && a != nil && a.Share < 0.95 {
		say("Let the test run longer: when the log ends, %s has made %.0f %% of its rise. By the model, with what was found, it goes on to %s (%s to %s) and is nearly there after %s: what it read at the end is not what it settles at.",
			a.At, 100*a.Share, unit.Format(a.LaterK, unit.Temperature), unit.Format(a.LoK, unit.Temperature), unit.Format(a.HiK, unit.Temperature), unit.Format(a.LaterS, unit.Time))
		short = true
	}
	if len(v.Curves) > 0 && v.RoomDriftK == 0 && v.RoomFrom != "the room's probe at the start" {
		say("Hang a probe in the room, beside the device: without it a room that moved cannot be told from a bond.")
	}
	if v.Ended != EndByHeat && v.Ended != EndRunning && v.Margin.Given() && v.Margin.Lo > 3 && v.Chance[EndByHand] > 0.3 && !v.Said {
		say("Heat is hardly what ended it: its sensor was still %.0f K (%.0f to %.0f) from its limit, and the battery not empty. Was it switched off by hand? If not, look for a time limit, low voltage or a cracked joint, and run it once in front of a fan: if the minutes stay, metal will not help.", v.Margin.Mid, v.Margin.Lo, v.Margin.Hi)
	}
	for i := range v.Bonds {
		b := &v.Bonds[i]
		if v.AsPlanned > 0.5 && b.New && b.AtSd < clear {
			if math.IsInf(b.LeastFactor, 1) {
				say("This test says nothing of the bond %s: it matters too little, or the probes sit in the wrong places; finwright bench plan chooses better ones.", b.Name)
			}
		}
	}
	switch hot := v.Forward; {
	case len(hot) == 3 && hot[0].Lasts >= 0.9 && hot[2].Lasts < 0.5:
		say("It lasts on this bench, but not in the hot sun: shade it there, or make the design stronger (finwright compare).")
	case len(hot) == 3 && hot[0].Lasts < 0.5 && len(v.Blamed) == 0:
		say("Built as planned it does not last: another design is needed, not another bond (finwright compare).")
	case len(hot) == 3 && hot[2].Lasts >= 0.9 && v.Fits && !short:
		say("It holds. Make the same run once more from a cold start to see that it repeats; then take it outside with a way to cut the power.")
	}
	if len(v.Next) == 0 {
		say("Repeat the run once, from a cold start, to see that it repeats.")
	}
}

// furthest is the probe that has made the smallest share of its rise; nil without one.
func (v *Verdict) furthest() *Settling {
	var out *Settling
	for i := range v.Ahead {
		if out == nil || v.Ahead[i].Share < out.Share {
			out = &v.Ahead[i]
		}
	}
	return out
}

// between is the part that two suspected bonds share, or the first one's.
func (v *Verdict) between() string {
	a, b := &v.Bonds[v.Blamed[0]], &v.Bonds[v.Blamed[1]]
	for _, p := range []string{a.A, a.B} {
		if p == b.A || p == b.B {
			return p
		}
	}
	return a.B
}

// Found is a bond's conductance as the test found it, the way a device file says it, for the likeliest bond at fault; "" when none is.
func (v *Verdict) Found() string {
	if len(v.Blamed) != 1 {
		return ""
	}
	b := &v.Bonds[v.Blamed[0]]
	return fmt.Sprintf("%s: {between: [%s, %s], conductance: %s to %s W/m2K}", b.Name, b.A, b.B, twoDigits(b.HWm2K/b.Factor[2]), twoDigits(b.HWm2K/b.Factor[0]))
}

// twoDigits writes a conductance as a file would have it.
func twoDigits(x float64) string {
	step := math.Pow(10, math.Floor(math.Log10(x))-1)
	return strconv.FormatFloat(math.Round(x/step)*step, 'f', max(0, -int(math.Floor(math.Log10(x))-1)), 64)
}

// allSeen says whether all but a twentieth of the rise was surely seen.
func (c *Curve) allSeen() bool { return c.Seen.Given() && c.Seen.Lo > 0.95 }

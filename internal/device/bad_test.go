package device

import (
	"strings"
	"testing"
)

// lampBase is a small device without fault; partBase the beginning of one.
const (
	lampBase = "device: lamp\nparts:\n  a: {material: ABS, box: 60 x 90 x 20 mm, wall: 2 mm}\n  b: {material: ABS, box: 9 x 9 x 9 mm, at: 20 20 5 mm, heat: 3 W}\n"
	partBase = "device: lamp\nparts:\n  a: "
)

// badFiles are files with faults and the whole text a person gets to see. They are the corpus of FuzzParse too.
var badFiles = []struct{ name, in, want string }{
	{"empty file", "", `
testdata/lamp.yaml: the file is empty
  expected at least device and parts, such as
  device: bench lamp`},
	{"only comments", "# nothing yet\n\n", `
testdata/lamp.yaml: the file is empty
  expected at least device and parts, such as
  device: bench lamp`},
	{"not UTF-8", "device: l\xffmp\n", `
testdata/lamp.yaml:1:10: this is not UTF-8 text
     1 | device: l�mp
       |          ^
  save the file as UTF-8 text`},
	{"UTF-16", "\xff\xfed\x00e\x00", `
testdata/lamp.yaml: the file is saved as UTF-16
  save it as UTF-8 text`},
	{"control character", "device: la\x01mp\n", `
testdata/lamp.yaml:1:11: a control character (code 1) stands here
     1 | device: la�mp
       |           ^
  delete it; is this a text file?`},
	{"tab indent", "device: lamp\nparts:\n\ta: {material: ABS}\n", `
testdata/lamp.yaml:3:1: a tab stands at the start of this line
     3 | 	a: {material: ABS}
       | ^
  expected spaces: YAML does not allow tabs for indenting
  replace each tab by two spaces`},
	{"brace not closed", partBase + "{material: ABS, box: 1 x 1 x 1 mm\n", `
testdata/lamp.yaml:3:6: a { is never closed
     3 |   a: {material: ABS, box: 1 x 1 x 1 mm
       |      ^
  add the missing }`},
	{"bracket not closed", lampBase + "joints:\n  j: {between: [a, b}\n", `
testdata/lamp.yaml:6:21: inside [ ] a comma or the closing ] is missing here
     6 |   j: {between: [a, b}
       |                     ^
  put a comma between entries`},
	{"unit behind list", partBase + "{material: ABS, box: [60, 90, 22] mm}\n", `
testdata/lamp.yaml:3:27: a unit stands behind a list in brackets
     3 |   a: {material: ABS, box: [60, 90, 22] mm}
       |                           ^
  expected sizes such as 60 x 90 x 22 mm, or [60 mm, 90 mm, 22 mm]
  write it with x and without brackets`},
	{"quote not closed", "device: \"lamp\nparts: {}\n", `
testdata/lamp.yaml:1:9: a " is never closed
     1 | device: "lamp
       |         ^
  add the missing "`},
	{"two colons", "device: lamp: big\n", `
testdata/lamp.yaml:1:9: a second colon stands here, or a line that is not indented like its neighbours
     1 | device: lamp: big
       |         ^
  one key: value per line, keys of one mapping below each other; put text with a colon into quotes`},
	{"line without colon", "device: lamp\nparts\n", `
testdata/lamp.yaml:2:1: this line is not of the form key: value
     2 | parts
       | ^
  add a colon and a space after the key`},
	{"bad indent", "device: lamp\n  about: x\n", `
testdata/lamp.yaml:1:9: a second colon stands here, or a line that is not indented like its neighbours
     1 | device: lamp
       |         ^
  one key: value per line, keys of one mapping below each other; put text with a colon into quotes`},
	{"anchor", "device: &d lamp\nparts:\n  a: {material: ABS, box: 60 x 90 x 20 mm, wall: 2 mm}\n  b: {material: ABS, box: 9 x 9 x 9 mm, at: 20 20 5 mm, heat: 3 W}\n", `
testdata/lamp.yaml:1:9: & and * (anchors and aliases) are not used in device files
     1 | device: &d lamp
       |         ^
  write the value out; put text that begins with & or * into quotes`},
	{"alias bomb", "a: &a [x,x,x,x]\nb: &b [*a,*a,*a,*a]\nc: &c [*b,*b,*b,*b]\n", `
testdata/lamp.yaml: the file has no "device"
  expected device: what the device is called
  add device: bench lamp
testdata/lamp.yaml: the file has no "parts"
  expected parts: what the device is made of; later parts cut into earlier ones
  add parts:
    chip: {material: silicon, box: 14 x 14 x 1.2 mm, heat: 3 W}
testdata/lamp.yaml:1:1: there is no key "a"
     1 | a: &a [x,x,x,x]
       | ^
  expected one of device, about, invented, up, materials, finishes, parts, joints, mode, after stop, sensors, battery, limits, conditions, stock runs, retrofit runs, retrofits, grid, boundaries, start, expect
testdata/lamp.yaml:2:1: there is no key "b"
     2 | b: &b [*a,*a,*a,*a]
       | ^
  expected one of device, about, invented, up, materials, finishes, parts, joints, mode, after stop, sensors, battery, limits, conditions, stock runs, retrofit runs, retrofits, grid, boundaries, start, expect
testdata/lamp.yaml:3:1: there is no key "c"
     3 | c: &c [*b,*b,*b,*b]
       | ^
  expected one of device, about, invented, up, materials, finishes, parts, joints, mode, after stop, sensors, battery, limits, conditions, stock runs, retrofit runs, retrofits, grid, boundaries, start, expect`},
	{"merge key", lampBase + "limits:\n  <<: {skin: 48 °C}\n", `
testdata/lamp.yaml:6:3: & and * (anchors and aliases) are not used in device files
     6 |   <<: {skin: 48 °C}
       |   ^
  write the value out; put text that begins with & or * into quotes`},
	{"tag", "device: !!str lamp\nparts:\n  a: {material: ABS, box: 60 x 90 x 20 mm, wall: 2 mm}\n  b: {material: ABS, box: 9 x 9 x 9 mm, at: 20 20 5 mm, heat: 3 W}\n", `
testdata/lamp.yaml:1:9: ! (a tag) is not used in device files
     1 | device: !!str lamp
       |         ^
  take it out; put text that begins with ! into quotes`},
	{"deep nesting", "device: " + strings.Repeat("[", 40) + "\n", `
testdata/lamp.yaml:1:33: more than 24 brackets are open here
     1 | device: [[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[
       |                                 ^
  close [ with ] and { with }`},
	{"long line", "device: " + strings.Repeat("x", 5000) + "\n", `
testdata/lamp.yaml:1:1: this line has 5008 characters
     1 | device: xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx…
       | ^
  expected at most 4000
  break it up into indented lines`},
	{"two documents", lampBase + "---\ndevice: other\n", `
testdata/lamp.yaml:6:1: a second document starts here
     6 | device: other
       | ^
  expected one device in one file
  put it in a file of its own, or take out the --- line`},
	{"list at the top", "- device: lamp\n", `
testdata/lamp.yaml:1:1: expected keys with values, but here is a list
     1 | - device: lamp
       | ^
  expected a mapping such as
  device: bench lamp
  parts:
    chip: {material: silicon, box: 14 x 14 x 1.2 mm, heat: 3 W}`},
	{"scalar at the top", "lamp\n", `
testdata/lamp.yaml:1:1: expected keys with values, but here is a single value
     1 | lamp
       | ^
  expected a mapping such as
  device: bench lamp
  parts:
    chip: {material: silicon, box: 14 x 14 x 1.2 mm, heat: 3 W}`},
	{"unknown key", partBase + "{materail: ABS, box: 1 x 1 x 1 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:7: there is no key "materail" in part "a"
     3 |   a: {materail: ABS, box: 1 x 1 x 1 mm, heat: 1 W}
       |       ^
  expected one of material, finish, box, wall, plate, thickness, normal, cylinder, tube, fin block, at, on, offset, gap, turn, cuts, held apart, heat, mass, note
  did you mean "material"?`},
	{"unknown key, nothing near", lampBase + "zzzzqqqq: 3\n", `
testdata/lamp.yaml:5:1: there is no key "zzzzqqqq"
     5 | zzzzqqqq: 3
       | ^
  expected one of device, about, invented, up, materials, finishes, parts, joints, mode, after stop, sensors, battery, limits, conditions, stock runs, retrofit runs, retrofits, grid, boundaries, start, expect`},
	{"key twice", partBase + "{material: ABS, material: PC, box: 1 x 1 x 1 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:22: "material" is given twice
     3 |   a: {material: ABS, material: PC, box: 1 x 1 x 1 mm, heat: 1 W}
       |                      ^
  it is also on line 3: keep one`},
	{"part twice", partBase + "{material: ABS, box: 1 x 1 x 1 mm, heat: 1 W}\n  a: {material: ABS, box: 1 x 1 x 1 mm}\n", `
testdata/lamp.yaml:4:3: "a" is given twice
     4 |   a: {material: ABS, box: 1 x 1 x 1 mm}
       |   ^
  it is also on line 3: keep one`},
	{"needed key missing", partBase + "{box: 1 x 1 x 1 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:3: part "a" has no "material"
     3 |   a: {box: 1 x 1 x 1 mm, heat: 1 W}
       |   ^
  expected material: a material of the library or of this file
  add material: aluminium 6061`},
	{"no parts", "device: lamp\n", `
testdata/lamp.yaml: the file has no "parts"
  expected parts: what the device is made of; later parts cut into earlier ones
  add parts:
    chip: {material: silicon, box: 14 x 14 x 1.2 mm, heat: 3 W}`},
	{"parts as a list", "device: lamp\nparts:\n  - {material: ABS, box: 1 x 1 x 1 mm}\n", `
testdata/lamp.yaml:3:3: parts: here is a list, not names with values
     3 |   - {material: ABS, box: 1 x 1 x 1 mm}
       |   ^
  expected names with values such as
  parts:
    chip: {material: silicon, box: 14 x 14 x 1.2 mm, heat: 3 W}
  give each part a name and a colon, without a dash`},
	{"stock runs as a mapping", lampBase + "stock runs: {ambient: 24 °C}\n", `
testdata/lamp.yaml:5:13: stock runs: here is a mapping (key: value), not a list
     5 | stock runs: {ambient: 24 °C}
       |             ^
  expected a list such as
  stock runs:
    - {ambient: 24 °C, air: still, stops after: 20 to 30 min}
  begin each stock run with a dash`},
	{"mapping wanted", lampBase + "battery: 10 Wh\n", `
testdata/lamp.yaml:5:10: battery should have keys with values, but here is a single value
     5 | battery: 10 Wh
       |          ^
  expected a mapping such as {part: cell, energy: 10 Wh ± 5 %}`},
	{"retrofit without changes key", lampBase + "retrofits:\n  thin:\n    - remove: b\n", `
testdata/lamp.yaml:7:5: retrofit "thin" should have keys with values, but here is a list
     7 |     - remove: b
       |     ^
  expected a mapping such as {changes: [{remove: rubber skin}]}
  put changes: above the list`},
	{"value missing", partBase + "\n    material:\n    box: 1 x 1 x 1 mm\n    heat: 1 W\n", `
testdata/lamp.yaml:4:5: material: nothing is written here
     4 |     material:
       |     ^
  expected a material of the library or of this file, such as aluminium 6061
  fill it in, or take the key out`},
	{"part with nothing in it", "device: lamp\nparts:\n  a:\n", `
testdata/lamp.yaml:3:3: part "a" has nothing in it
     3 |   a:
       |   ^
  expected names with values such as
  parts:
    chip: {material: silicon, box: 14 x 14 x 1.2 mm, heat: 3 W}`},
	{"dot in a part's name", "device: lamp\nparts:\n  a.1: {material: ABS, box: 1 x 1 x 1 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:3: the name "a.1" has a dot in it
     3 |   a.1: {material: ABS, box: 1 x 1 x 1 mm, heat: 1 W}
       |   ^
  expected a name without a dot: places are written part.face
  did you mean a-1?`},
	{"mapping for a text", "device: {lamp: x}\nparts:\n  a: {material: ABS, box: 60 x 90 x 20 mm, wall: 2 mm}\n  b: {material: ABS, box: 9 x 9 x 9 mm, at: 20 20 5 mm, heat: 3 W}\n", `
testdata/lamp.yaml:1:9: device: here is a mapping (key: value)
     1 | device: {lamp: x}
       |         ^
  expected what the device is called, such as bench lamp
  put text with a colon into quotes`},
	{"word not known", "up: y\n" + lampBase, `
testdata/lamp.yaml:1:5: up: "y" is not known here
     1 | up: y
       |     ^
  expected one of +x, -x, +y, -y, +z, -z
  did you mean -y?`},
	{"neither true nor false", "invented: maybe\n" + lampBase, `
testdata/lamp.yaml:1:11: invented: this is neither true nor false
     1 | invented: maybe
       |           ^
  expected true or false, or yes or no`},
	{"no unit", partBase + "{material: ABS, box: 60 x 90 x 22 mm, wall: 0.5}\n", `
testdata/lamp.yaml:3:50: wall: "0.5": the unit is missing
     3 |   a: {material: ABS, box: 60 x 90 x 22 mm, wall: 0.5}
       |                                                  ^
  expected a length such as 12 mm
  write 0.5 mm, 0.5 cm or 0.5 m`},
	{"wrong dimension", partBase + "{material: ABS, box: 60 x 90 x 22 mm, wall: 5 W}\n", `
testdata/lamp.yaml:3:52: wall: "5 W": W is a unit of power, not of length
     3 |   a: {material: ABS, box: 60 x 90 x 22 mm, wall: 5 W}
       |                                                    ^
  expected a length such as 12 mm
  units that would do: mm, cm, m, µm, in, ft, km`},
	{"caret inside a value", partBase + "{material: ABS, box: 60 x 90 x 22 mm, heat: 3 W ± 5 mm}\n", `
testdata/lamp.yaml:3:58: heat: "3 W ± 5 mm": mm is a unit of length, not of power
     3 |   a: {material: ABS, box: 60 x 90 x 22 mm, heat: 3 W ± 5 mm}
       |                                                          ^
  expected a power such as 3 to 5 W, or one for each mode such as {on: 3 to 5 W, standby: 0.2 W}
  units that would do: W, mW, kW`},
	{"quoted value", partBase + "{material: ABS, box: 60 x 90 x 22 mm, heat: '3 Watz'}\n", `
testdata/lamp.yaml:3:53: heat: "3 Watz": "Watz" is not a unit of power
     3 |   a: {material: ABS, box: 60 x 90 x 22 mm, heat: '3 Watz'}
       |                                                     ^
  expected a power such as 3 to 5 W, or one for each mode such as {on: 3 to 5 W, standby: 0.2 W}
  units that would do: W, mW, kW`},
	{"two lengths for three", partBase + "{material: ABS, box: 60 x 90 mm}\n", `
testdata/lamp.yaml:3:27: box: "60 x 90 mm" has 2 lengths
     3 |   a: {material: ABS, box: 60 x 90 mm}
       |                           ^
  expected 3 lengths such as 60 x 90 x 22 mm`},
	{"list for a size", partBase + "{material: ABS, box: [60 mm, 90 mm, 1 g], heat: 1 W}\n", `
testdata/lamp.yaml:3:42: box: "60 mm, 90 mm, 1 g": g is a unit of mass, not of length
     3 |   a: {material: ABS, box: [60 mm, 90 mm, 1 g], heat: 1 W}
       |                                          ^
  expected 3 lengths such as 60 x 90 x 22 mm
  units that would do: mm, cm, m, µm, in, ft, km`},
	{"size of zero", partBase + "{material: ABS, box: 60 x 0 x 22 mm}\n", `
testdata/lamp.yaml:3:27: box: "0" must be above zero
     3 |   a: {material: ABS, box: 60 x 0 x 22 mm}
       |                           ^
  expected 3 lengths such as 60 x 90 x 22 mm`},
	{"negative size", partBase + "{material: ABS, box: 60 x -4 x 22 mm}\n", `
testdata/lamp.yaml:3:27: box: "-4" must be above zero
     3 |   a: {material: ABS, box: 60 x -4 x 22 mm}
       |                           ^
  expected 3 lengths such as 60 x 90 x 22 mm`},
	{"spread reaches zero", partBase + "{material: ABS, box: 60 x 90 x 22 mm, wall: 1 mm ± 1.2 mm}\n", `
testdata/lamp.yaml:3:50: wall: "1 mm ± 1.2 mm" reaches too far: it must be above zero
     3 |   a: {material: ABS, box: 60 x 90 x 22 mm, wall: 1 mm ± 1.2 mm}
       |                                                  ^
  expected a length such as 12 mm
  write it as a range that keeps inside`},
	{"unknown size", partBase + "{material: ABS, box: 60 x 90 x 22 mm, wall: unknown}\n", `
testdata/lamp.yaml:3:50: wall: "unknown" will not do here
     3 |   a: {material: ABS, box: 60 x 90 x 22 mm, wall: unknown}
       |                                                  ^
  expected a length such as 12 mm
  measure it with calipers; a range such as 1.5 to 2 mm will do`},
	{"unknown energy", lampBase + "battery: {part: b, energy: unknown}\n", `
testdata/lamp.yaml:5:28: energy: "unknown" will not do here
     5 | battery: {part: b, energy: unknown}
       |                            ^
  expected an energy such as 10 Wh ± 5 %
  take the cell's label with some doubt, such as 10 Wh ± 15 %`},
	{"coverage above one", lampBase + "joints:\n  j: {between: [a, b], filler: thermal paste, coverage: 120 %}\n", `
testdata/lamp.yaml:6:57: coverage: "120 %" must not be above 1 (100 %)
     6 |   j: {between: [a, b], filler: thermal paste, coverage: 120 %}
       |                                                         ^
  expected a ratio such as 0.8`},
	{"coverage interval above one", lampBase + "joints:\n  j: {between: [a, b], filler: thermal paste, coverage: 0.9 ± 0.2}\n", `
testdata/lamp.yaml:6:57: coverage: "0.9 ± 0.2" reaches too far: it must not be above 1 (100 %)
     6 |   j: {between: [a, b], filler: thermal paste, coverage: 0.9 ± 0.2}
       |                                                         ^
  expected a ratio such as 0.8
  write it as a range that keeps inside`},
	{"charge for energy", lampBase + "battery: {part: b, energy: 2600 mAh}\n", `
testdata/lamp.yaml:5:33: energy: "2600 mAh": mAh is a charge, and needs a voltage to become an energy
     5 | battery: {part: b, energy: 2600 mAh}
       |                                 ^
  expected an energy such as 10 Wh ± 5 %
  multiply by the cell's mean voltage: 2600 mAh at 3.7 V is 9.62 Wh`},
	{"negative heat", partBase + "{material: ABS, box: 60 x 90 x 22 mm, heat: -3 W}\n", `
testdata/lamp.yaml:3:50: heat: "-3 W" must not be below zero
     3 |   a: {material: ABS, box: 60 x 90 x 22 mm, heat: -3 W}
       |                                                  ^
  expected a power such as 3 to 5 W, or one for each mode such as {on: 3 to 5 W, standby: 0.2 W}`},
	{"air misspelt", lampBase + "conditions: {air: stil}\n", `
testdata/lamp.yaml:5:19: air: "stil" is not known here
     5 | conditions: {air: stil}
       |                   ^
  expected still, or a speed such as 5 m/s
  did you mean still?`},
	{"air without speed", lampBase + "conditions: {air: 0 m/s}\n", `
testdata/lamp.yaml:5:19: air: no speed at all
     5 | conditions: {air: 0 m/s}
       |                   ^
  expected still, or a speed such as 5 m/s
  write still`},
	{"no shape", partBase + "{material: ABS, heat: 1 W}\n", `
testdata/lamp.yaml:3:3: part "a" has no shape
     3 |   a: {material: ABS, heat: 1 W}
       |   ^
  expected exactly one of box, plate, cylinder, tube, fin block
  add box: 60 x 90 x 22 mm or another of these`},
	{"two shapes", partBase + "{material: ABS, box: 1 x 1 x 1 mm, plate: 1 x 1 mm, thickness: 1 mm, normal: z, heat: 1 W}\n", `
testdata/lamp.yaml:3:3: part "a" has 2 shapes: box and plate
     3 |   a: {material: ABS, box: 1 x 1 x 1 mm, plate: 1 x 1 mm, thickness: 1 mm, normal: z, heat: 1 W}
       |   ^
  expected exactly one of box, plate, cylinder, tube, fin block
  keep one; describe the other as a part of its own`},
	{"wall too thick", partBase + "{material: ABS, box: 60 x 90 x 4 mm, wall: 2 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:49: part "a": two walls of 2 mm leave no room in 4 mm
     3 |   a: {material: ABS, box: 60 x 90 x 4 mm, wall: 2 mm, heat: 1 W}
       |                                                 ^
  expected a wall thinner than half the smallest size`},
	{"plate without way", partBase + "{material: ABS, plate: 60 x 90 mm, thickness: 1 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:3: part "a": it is not said which way the plate faces
     3 |   a: {material: ABS, plate: 60 x 90 mm, thickness: 1 mm, heat: 1 W}
       |   ^
  add on: part.face, or normal: z with at`},
	{"tube inside out", partBase + "{material: ABS, tube: {diameter: 10 mm, inner: 12 mm, length: 50 mm, along: y}, heat: 1 W}\n", `
testdata/lamp.yaml:3:53: part "a": its inner diameter 12 mm is not smaller than its outer diameter 10 mm
     3 |   a: {material: ABS, tube: {diameter: 10 mm, inner: 12 mm, length: 50 mm, along: y}, heat: 1 W}
       |                                                     ^`},
	{"fins too many", partBase + "{material: ABS, fin block: {base: 50 x 50 mm, base thickness: 2 mm, fins: 40, fin height: 8 mm, fin thickness: 1.5 mm, fins along: y, fins point: +z}, heat: 1 W}\n", `
testdata/lamp.yaml:3:80: part "a": 40 fins of 1.5 mm need 60 mm, but the base is 50 mm wide
     3 | …k: {base: 50 x 50 mm, base thickness: 2 mm, fins: 40, fin height: 8 mm, fin thickness: 1.5 mm, fins …
       |                                                    ^
  fewer or thinner fins, or fins along the other axis`},
	{"half a fin", partBase + "{material: ABS, fin block: {base: 50 x 50 mm, base thickness: 2 mm, fins: 4.5, fin height: 8 mm, fin thickness: 1.5 mm, fins along: y, fins point: +z}, heat: 1 W}\n", `
testdata/lamp.yaml:3:80: part "a" has "4.5" fins
     3 | …k: {base: 50 x 50 mm, base thickness: 2 mm, fins: 4.5, fin height: 8 mm, fin thickness: 1.5 mm, fins…
       |                                                    ^
  expected a whole number from 2 on`},
	{"fins along their own way", partBase + "{material: ABS, fin block: {base: 50 x 50 mm, base thickness: 2 mm, fins: 4, fin height: 8 mm, fin thickness: 1.5 mm, fins along: z, fins point: +z}, heat: 1 W}\n", `
testdata/lamp.yaml:3:33: part "a": its fins run along z and point along it too
     3 |   a: {material: ABS, fin block: {base: 50 x 50 mm, base thickness: 2 mm, fins: 4, fin height: 8 mm, …
       |                                 ^
  fins run across the way they point`},
	{"cut of both kinds", partBase + "{material: ABS, box: 1 x 1 x 1 mm, cuts: [{box: 1 x 1 x 1 mm, hole: 1 mm, at: 0 0 0 mm}], heat: 1 W}\n", `
testdata/lamp.yaml:3:48: cut 1 of part "a" should be either a box or a hole
     3 |   a: {material: ABS, box: 1 x 1 x 1 mm, cuts: [{box: 1 x 1 x 1 mm, hole: 1 mm, at: 0 0 0 mm}], heat:…
       |                                                ^
  expected {box: 10 x 5 x 2 mm, at: 0 0 0 mm} or {hole: 3 mm, through: z, at: 5 5 0 mm}`},
	{"material not known", partBase + "{material: aluminum 606, box: 1 x 1 x 1 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:17: part "a": the material "aluminum 606" is neither in the library nor under materials
     3 |   a: {material: aluminum 606, box: 1 x 1 x 1 mm, heat: 1 W}
       |                 ^
  did you mean "aluminium 6061"?`},
	{"own material incomplete", lampBase + "materials:\n  goo: {density: 900 kg/m3}\n", `
testdata/lamp.yaml:6:3: material "goo" states no conductivity, no specific heat
     6 |   goo: {density: 900 kg/m3}
       |   ^
  state it, write unknown, or name a library material it is like`},
	{"on a part that is not there", lampBase + "  c: {material: ABS, box: 1 x 1 x 1 mm, on: bb.front}\n", `
testdata/lamp.yaml:5:45: part "c": on: there is no part "bb"
     5 |   c: {material: ABS, box: 1 x 1 x 1 mm, on: bb.front}
       |                                             ^
  parts here: a, b, c`},
	{"on a later part", partBase + "{material: ABS, box: 1 x 1 x 1 mm, on: b.front}\n  b: {material: ABS, box: 1 x 1 x 1 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:45: part "a" sits on "b", which comes later in the file
     3 |   a: {material: ABS, box: 1 x 1 x 1 mm, on: b.front}
       |                                             ^
  expected an earlier part
  move "b" up above it`},
	{"on no face", lampBase + "  c: {material: ABS, box: 1 x 1 x 1 mm, on: b}\n", `
testdata/lamp.yaml:5:45: part "c": on: "b" does not name a face
     5 |   c: {material: ABS, box: 1 x 1 x 1 mm, on: b}
       |                                             ^
  expected a face such as plate.front
  did you mean b.front?`},
	{"on a face that is not one", lampBase + "  c: {material: ABS, box: 1 x 1 x 1 mm, on: b.frnt}\n", `
testdata/lamp.yaml:5:45: part "c": on: "frnt" is not a face
     5 |   c: {material: ABS, box: 1 x 1 x 1 mm, on: b.frnt}
       |                                             ^
  did you mean b.front?`},
	{"inside a solid part", lampBase + "  c: {material: ABS, box: 1 x 1 x 1 mm, on: b.inside back}\n", `
testdata/lamp.yaml:5:45: part "c": on: part "b" has no inside: it has no wall
     5 |   c: {material: ABS, box: 1 x 1 x 1 mm, on: b.inside back}
       |                                             ^
  write b.back, or give the part a wall`},
	{"on and at", lampBase + "  c: {material: ABS, box: 1 x 1 x 1 mm, on: b.front, at: 0 0 0 mm}\n", `
testdata/lamp.yaml:5:3: part "c" has both on and at
     5 |   c: {material: ABS, box: 1 x 1 x 1 mm, on: b.front, at: 0 0 0 mm}
       |   ^
  keep one; to shift it on its face use offset`},
	{"on a round side", lampBase + "  r: {material: ABS, cylinder: {diameter: 9 mm, length: 9 mm, along: z}, at: 0 0 0 mm}\n  c: {material: ABS, box: 1 x 1 x 1 mm, on: r.left}\n", `
testdata/lamp.yaml:6:45: part "c": on: part "r" is round on its left
     6 |   c: {material: ABS, box: 1 x 1 x 1 mm, on: r.left}
       |                                             ^
  place what touches it there with at`},
	{"joint to nothing", lampBase + "joints:\n  j: {between: [a, c], kind: resting}\n", `
testdata/lamp.yaml:6:16: joint "j": there is no part "c"
     6 |   j: {between: [a, c], kind: resting}
       |                ^
  parts here: a, b`},
	{"joint with itself", lampBase + "joints:\n  j: {between: [a, a], kind: resting}\n", `
testdata/lamp.yaml:6:3: joint "j" is between "a" and itself
     6 |   j: {between: [a, a], kind: resting}
       |   ^
  name the two parts that touch`},
	{"joint of three", lampBase + "joints:\n  j: {between: [a, b, b], kind: resting}\n", `
testdata/lamp.yaml:6:3: joint "j" is between 3 parts
     6 |   j: {between: [a, b, b], kind: resting}
       |   ^
  expected two, such as between: [chip, plate]`},
	{"joint twice", lampBase + "joints:\n  j: {between: [a, b], kind: resting}\n  k: {between: [b, a], kind: resting}\n", `
testdata/lamp.yaml:7:3: joints "j" and "k" are both between a and b
     7 |   k: {between: [b, a], kind: resting}
       |   ^
  keep one of them`},
	{"joint that says nothing", lampBase + "joints:\n  j: {between: [a, b]}\n", `
testdata/lamp.yaml:6:3: joint "j" does not say what it is
     6 |   j: {between: [a, b]}
       |   ^
  expected a filler, a conductance, a pressure or a kind
  write conductance: unknown when you do not know`},
	{"joint that says two things", lampBase + "joints:\n  j: {between: [a, b], kind: resting, pressure: 20 kPa}\n", `
testdata/lamp.yaml:6:3: joint "j" says pressure and kind: they exclude each other
     6 |   j: {between: [a, b], kind: resting, pressure: 20 kPa}
       |   ^
  expected a filler (with a conductance, if it was measured), or a conductance, a pressure or a kind
  keep one`},
	{"joint thickness of no filler", lampBase + "joints:\n  j: {between: [a, b], conductance: unknown, thickness: 1 mm}\n", `
testdata/lamp.yaml:6:3: joint "j" has a thickness or conductivity but no filler
     6 |   j: {between: [a, b], conductance: unknown, thickness: 1 mm}
       |   ^
  add filler: and what fills the joint, such as thermal pad`},
	{"filler not known", lampBase + "joints:\n  j: {between: [a, b], filler: thermal past}\n", `
testdata/lamp.yaml:6:32: joint "j": the filler "thermal past" is not in the library
     6 |   j: {between: [a, b], filler: thermal past}
       |                                ^
  did you mean "thermal paste"?`},
	{"joint kind not known", lampBase + "joints:\n  j: {between: [a, b], kind: restin}\n", `
testdata/lamp.yaml:6:30: joint "j": the kind "restin" is not known
     6 |   j: {between: [a, b], kind: restin}
       |                              ^
  did you mean "resting"?`},
	{"mode missing", partBase + "{material: ABS, box: 1 x 1 x 1 mm, heat: {on: 3 W, off: 0 W}}\n", `
testdata/lamp.yaml:3:47: heats are given by mode, but the file does not say which mode it runs in
     3 |   a: {material: ABS, box: 1 x 1 x 1 mm, heat: {on: 3 W, off: 0 W}}
       |                                               ^
  add mode: on`},
	{"mode not known", "mode: onn\ndevice: lamp\nparts:\n  a: {material: ABS, box: 1 x 1 x 1 mm, heat: {on: 3 W, low: 1 W}}\n", `
testdata/lamp.yaml:1:7: mode: there is no mode "onn"
     1 | mode: onn
       |       ^
  did you mean "on"?`},
	{"mode without heats by mode", "mode: on\n" + lampBase, `
testdata/lamp.yaml:1:7: mode: there is no mode "on", because no heat is given by mode
     1 | mode: on
       |       ^
  write a heat as {on: 3 W}, or take the mode out`},
	{"sensor nowhere", lampBase + "sensors:\n  s: {at: chip, stops at: 90 °C}\n", `
testdata/lamp.yaml:6:11: sensor "s": there is no part "chip"
     6 |   s: {at: chip, stops at: 90 °C}
       |           ^
  parts here: a, b`},
	{"restart above stop", lampBase + "sensors:\n  s: {at: b, stops at: 90 °C, restarts below: 95 °C}\n", `
testdata/lamp.yaml:6:47: sensor "s" restarts below 95 °C, which is not below 90 °C where it stops
     6 |   s: {at: b, stops at: 90 °C, restarts below: 95 °C}
       |                                               ^
  it has to cool before it starts again`},
	{"steps out of order", lampBase + "sensors:\n  s: {at: b, stops at: 90 °C, steps: [{above: 80 °C, power: 60 %}, {above: 70 °C, power: 70 %}]}\n", `
testdata/lamp.yaml:6:76: step 2 of sensor "s" comes at 70 °C, not above the step before it (80 °C)
     6 |   s: {at: b, stops at: 90 °C, steps: [{above: 80 °C, power: 60 %}, {above: 70 °C, power: 70 %}]}
       |                                                                            ^
  expected the coolest step first
testdata/lamp.yaml:6:90: step 2 of sensor "s" leaves 70 % of full power, not less than the step before it (60 %)
     6 |   s: {at: b, stops at: 90 °C, steps: [{above: 80 °C, power: 60 %}, {above: 70 °C, power: 70 %}]}
       |                                                                                          ^
  expected shares of full power that get smaller`},
	{"battery nowhere", lampBase + "battery: {part: cel, energy: 10 Wh}\n", `
testdata/lamp.yaml:5:17: battery: there is no part "cel"
     5 | battery: {part: cel, energy: 10 Wh}
       |                 ^
  parts here: a, b`},
	{"own heat nowhere", lampBase + "battery: {energy: 10 Wh, own heat: 0.03}\n", `
testdata/lamp.yaml:5:10: the battery's own heat and limit need a place
     5 | battery: {energy: 10 Wh, own heat: 0.03}
       |          ^
  add part: and the part that is the cell`},
	{"rests on no face", lampBase + "conditions: {rests on: {face: a, what: wood}}\n", `
testdata/lamp.yaml:5:24: conditions, rests on: "a" is not a face
     5 | conditions: {rests on: {face: a, what: wood}}
       |                        ^
  expected a face such as shell.bottom`},
	{"retrofit run of no retrofit", lampBase + "retrofit runs:\n  - {still running after: 9 min}\nretrofits: {slow: {changes: [{add: {c: {material: ABS, box: 2 x 2 x 2 mm, on: a.top}}}]}}\n", `
testdata/lamp.yaml:6:5: retrofit run 1 does not say which retrofit was on
     6 |   - {still running after: 9 min}
       |     ^
  add retrofit: and its name, or move it under stock runs`},
	{"retrofit run of an unknown one", lampBase + "retrofit runs:\n  - {retrofit: slo, still running after: 9 min}\nretrofits: {slow: {changes: [{add: {c: {material: ABS, box: 2 x 2 x 2 mm, on: a.top}}}]}}\n", `
testdata/lamp.yaml:6:16: retrofit run 1: there is no retrofit "slo"
     6 |   - {retrofit: slo, still running after: 9 min}
       |                ^
  did you mean "slow"?`},
	{"stock run with a retrofit", lampBase + "stock runs:\n  - {retrofit: slow, still running after: 9 min}\nretrofits: {slow: {changes: [{add: {c: {material: ABS, box: 2 x 2 x 2 mm, on: a.top}}}]}}\n", `
testdata/lamp.yaml:6:16: stock run 1 has a retrofit, but stock runs are of the device as it was
     6 |   - {retrofit: slow, still running after: 9 min}
       |                ^
  move it under retrofit runs`},
	{"retrofit run's spot nowhere", lampBase + "retrofit runs:\n  - {retrofit: slow, spots: [{at: d.top, after: 9 min, reads: 30 °C}, {at: c.top, after: 9 min, reads: 30 °C}]}\nretrofits: {slow: {changes: [{add: {c: {material: ABS, box: 2 x 2 x 2 mm, on: a.top}}}]}}\n", `
testdata/lamp.yaml:6:30: spot 1 of retrofit run 1: there is no part "d"
     6 |   - {retrofit: slow, spots: [{at: d.top, after: 9 min, reads: 30 °C}, {at: c.top, after: 9 min, read…
       |                              ^
  parts here: a, b, c`},
	{"run that tells nothing", lampBase + "stock runs:\n  - {ambient: 24 °C}\n", `
testdata/lamp.yaml:6:5: stock run 1 tells nothing that was seen
     6 |   - {ambient: 24 °C}
       |     ^
  expected stops after, still running after, battery empty after, first step after, power read, current read with voltage read, spots or a log`},
	{"current without a voltage", lampBase + "stock runs:\n  - {current read: 920 mA}\n", `
testdata/lamp.yaml:6:20: stock run 1 has a current read but no voltage: a current alone is no power
     6 |   - {current read: 920 mA}
       |                    ^
  add voltage read: 5.1 V ± 2 %, what the meter or the supply shows`},
	{"voltage without a current", lampBase + "stock runs:\n  - {voltage read: 5.1 V}\n", `
testdata/lamp.yaml:6:20: stock run 1 has a voltage read but no current: a voltage alone is no power
     6 |   - {voltage read: 5.1 V}
       |                    ^
  add current read: 0.9 A ± 2 %, what the meter shows`},
	{"run with two ends", lampBase + "sensors: {s: {at: b, stops at: unknown}}\nstock runs:\n  - {stops after: 20 min, still running after: 30 min}\n", `
testdata/lamp.yaml:7:5: stock run 1 says stops after and still running after: a run ends in one way
     7 |   - {stops after: 20 min, still running after: 30 min}
       |     ^
  expected one of stops after, still running after, battery empty after
  make two runs of it`},
	{"stop without a sensor", lampBase + "stock runs:\n  - {stops after: 20 min}\n", `
testdata/lamp.yaml:6:19: stock run 1: the device stopped itself, but no sensor has stops at
     6 |   - {stops after: 20 min}
       |                   ^
  add under sensors, naming the hot part: soc: {at: chip, stops at: unknown}`},
	{"empty without a battery", lampBase + "stock runs:\n  - {battery empty after: 20 min}\n", `
testdata/lamp.yaml:6:27: stock run 1 ran the battery empty, but the file has no battery
     6 |   - {battery empty after: 20 min}
       |                           ^
  add battery: {part: cell, energy: 10 Wh ± 10 %}`},
	{"emissivity without infrared", lampBase + "stock runs:\n  - {spots: [{at: a.front, after: 5 min, reads: 40 °C, by: touch, emissivity: 0.9}]}\n", `
testdata/lamp.yaml:6:79: spot 1 of stock run 1 has an emissivity, but was not read by an infrared thermometer
     6 |   - {spots: [{at: a.front, after: 5 min, reads: 40 °C, by: touch, emissivity: 0.9}]}
       |                                                                               ^
  add by: infrared, or leave the emissivity out`},
	{"spot read by what", lampBase + "stock runs:\n  - {spots: [{at: a.front, after: 5 min, reads: 40 °C, by: infra red}]}\n", `
testdata/lamp.yaml:6:60: by: "infra red" is not known here
     6 |   - {spots: [{at: a.front, after: 5 min, reads: 40 °C, by: infra red}]}
       |                                                            ^
  expected one of touch, infrared, thermocouple
  did you mean infrared?`},
	{"spot nowhere", lampBase + "stock runs:\n  - {spots: [{at: a.fronts, after: 5 min, reads: 40 °C}]}\n", `
testdata/lamp.yaml:6:14: spot 1 of stock run 1: "fronts" is not a face
     6 |   - {spots: [{at: a.fronts, after: 5 min, reads: 40 °C}]}
       |              ^
  did you mean a.front?`},
	{"log not there", lampBase + "stock runs:\n  - {log: no-such.csv, channels: {T1: a}}\n", `
testdata/lamp.yaml:6:11: stock run 1: the log "testdata/no-such.csv" is not there
     6 |   - {log: no-such.csv, channels: {T1: a}}
       |           ^
  check its name, and that it lies beside the device file`},
	{"log outside the folder", lampBase + "stock runs:\n  - {log: ../../etc/passwd, channels: {T1: a}}\n", `
testdata/lamp.yaml:6:11: stock run 1: the log "../../etc/passwd" is not inside the device file's folder
     6 |   - {log: ../../etc/passwd, channels: {T1: a}}
       |           ^
  copy it beside the device file and write its name only`},
	{"channels without a log", lampBase + "stock runs:\n  - {still running after: 9 min, channels: {T1: a}}\n", `
testdata/lamp.yaml:6:49: stock run 1 has channels but no log
     6 |   - {still running after: 9 min, channels: {T1: a}}
       |                                                 ^
  add log: and the file's name`},
	{"boundary that states nothing", lampBase + "boundaries:\n  cold: {face: a.left}\n", `
testdata/lamp.yaml:6:3: boundary "cold" states nothing
     6 |   cold: {face: a.left}
       |   ^
  expected a film, a surface resistance, a temperature, a flux, a power or radiates`},
	{"film without ambient", lampBase + "boundaries:\n  cold: {face: a.left, film: 10 W/m2K}\n", `
testdata/lamp.yaml:6:3: boundary "cold" does not say how warm it is beyond the surface
     6 |   cold: {face: a.left, film: 10 W/m2K}
       |   ^
  add ambient: 20 °C`},
	{"swing without period", lampBase + "boundaries:\n  cold: {face: a.left, temperature: 10 °C, swing: 3 K}\n", `
testdata/lamp.yaml:6:3: boundary "cold" needs both swing and period, or neither
     6 |   cold: {face: a.left, temperature: 10 °C, swing: 3 K}
       |   ^`},
	{"expectation asks for nothing", lampBase + "expect:\n  - {id: x, target: 30 °C, within: 1 K, source: book}\n", `
testdata/lamp.yaml:6:5: expectation "x" asks for nothing
     6 |   - {id: x, target: 30 °C, within: 1 K, source: book}
       |     ^
  expected one of temperature at, mean of, highest of, rise at, mean rise of, heat through, time until`},
	{"expectation in the wrong dimension", lampBase + "expect:\n  - {id: x, mean of: b, target: 30 W, within: 1 K, source: book}\n", `
testdata/lamp.yaml:6:5: expectation "x": target: "30 W": W is a unit of power, not of temperature; expected a temperature such as 24 °C; units that would do: °C, K, °F
     6 |   - {id: x, mean of: b, target: 30 W, within: 1 K, source: book}
       |     ^`},
	{"heat through no boundary", lampBase + "expect:\n  - {id: x, heat through: b, target: 30 W, within: 1 %, source: book}\n", `
testdata/lamp.yaml:6:5: expectation "x": there is no boundary "b"
     6 |   - {id: x, heat through: b, target: 30 W, within: 1 %, source: book}
       |     ^
  name one of this file's boundaries`},
	{"change of two kinds", lampBase + "retrofits:\n  r: {changes: [{remove: a, mode: low}]}\n", `
testdata/lamp.yaml:6:17: retrofit "r": change 1 says remove and mode
     6 |   r: {changes: [{remove: a, mode: low}]}
       |                 ^
  each change has exactly one of remove, face, add, replace, rejoin, refinish, mode; begin each with a dash`},
	{"remove a heat source", lampBase + "retrofits:\n  r: {changes: [{remove: b}]}\n", `
testdata/lamp.yaml:6:17: retrofit "r": "b" is taken off, but it makes heat
     6 |   r: {changes: [{remove: b}]}
       |                 ^
  heat does not vanish with a part: add b again in its new place, or switch its heat off with a mode`},
	{"remove a sensor's part", lampBase + "  c: {material: ABS, box: 1 x 1 x 1 mm, on: b.front}\nsensors: {s: {at: c, stops at: unknown}}\nretrofits:\n  r: {changes: [{remove: c}]}\n", `
testdata/lamp.yaml:8:17: retrofit "r": "c" is taken off, but sensor "s" is in it
     8 |   r: {changes: [{remove: c}]}
       |                 ^
  replace the part instead, so that its sensor has a place`},
	{"remove what carries another", lampBase + "  c: {material: ABS, box: 1 x 1 x 1 mm, on: a.front}\nretrofits:\n  r: {changes: [{remove: a}]}\n", `
testdata/lamp.yaml:7:17: retrofit "r": "a" is taken off, but "c" sits on it
     7 |   r: {changes: [{remove: a}]}
       |                 ^
  take "c" off too, or replace "a"`},
	{"use what was removed", lampBase + "retrofits:\n  r: {changes: [{remove: a}, {refinish: {part: a, finish: black anodised}}]}\n", `
testdata/lamp.yaml:6:41: retrofit "r": change 2: there is no part "a"
     6 |   r: {changes: [{remove: a}, {refinish: {part: a, finish: black anodised}}]}
       |                                         ^
  it was taken off on line 6`},
	{"add what is there", lampBase + "retrofits:\n  r: {changes: [{add: {a: {material: ABS, box: 1 x 1 x 1 mm}}}]}\n", `
testdata/lamp.yaml:6:24: retrofit "r": change 1 adds "a", but a part of that name is there already
     6 |   r: {changes: [{add: {a: {material: ABS, box: 1 x 1 x 1 mm}}}]}
       |                        ^
  choose a new name, or write replace`},
	{"replace what is not there", lampBase + "retrofits:\n  r: {changes: [{replace: {c: {material: ABS, box: 1 x 1 x 1 mm}}}]}\n", `
testdata/lamp.yaml:6:28: retrofit "r": change 1: there is no part "c"
     6 |   r: {changes: [{replace: {c: {material: ABS, box: 1 x 1 x 1 mm}}}]}
       |                            ^
  parts here: a, b`},
	{"mill under something", lampBase + "  c: {material: ABS, box: 1 x 1 x 1 mm, on: a.front}\nretrofits:\n  r: {changes: [{face: {part: a, side: front, depth: 0.5 mm}}]}\n", `
testdata/lamp.yaml:7:24: retrofit "r": change 1 mills a.front, but "c" sits there
     7 |   r: {changes: [{face: {part: a, side: front, depth: 0.5 mm}}]}
       |                        ^
  take "c" off first with remove: c, and add it again afterwards`},
	{"mill through the wall", lampBase + "retrofits:\n  r: {changes: [{face: {part: a, side: front, depth: 2 mm}}]}\n", `
testdata/lamp.yaml:6:54: retrofit "r": change 1 mills a.front by 2 mm, but the wall there is only 2 mm thick
     6 |   r: {changes: [{face: {part: a, side: front, depth: 2 mm}}]}
       |                                                      ^
  take off less`},
	{"mill twice through", lampBase + "retrofits:\n  r: {changes: [{face: {part: a, side: front, depth: 1.2 mm}}, {face: {part: a, side: front, depth: 1 mm}}]}\n", `
testdata/lamp.yaml:6:101: retrofit "r": change 2 mills a.front by 1 mm, but the wall there is only 0.8 mm thick
     6 | …anges: [{face: {part: a, side: front, depth: 1.2 mm}}, {face: {part: a, side: front, depth: 1 mm}}]}
       |                                                                                              ^
  take off less`},
	{"retrofit adds a bad part", lampBase + "retrofits:\n  r: {changes: [{add: {c: {material: ABS, plate: 9 x 9 mm, on: a.front}}}]}\n", `
testdata/lamp.yaml:6:24: with retrofit "r": part "c" is a plate without a thickness
     6 |   r: {changes: [{add: {c: {material: ABS, plate: 9 x 9 mm, on: a.front}}}]}
       |                        ^
  add thickness: 1.8 mm`},
	{"retrofit mode not known", lampBase + "retrofits:\n  r: {changes: [{mode: low}]}\n", `
testdata/lamp.yaml:6:3: with retrofit "r": mode: there is no mode "low", because no heat is given by mode
     6 |   r: {changes: [{mode: low}]}
       |   ^
  write a heat as {low: 3 W}, or take the mode out`},
	{"on a turned part", lampBase + "  r: {material: ABS, box: 9 x 9 x 9 mm, at: 0 0 0 mm, turn: {by: 20 deg, about: z}}\n  c: {material: ABS, box: 1 x 1 x 1 mm, on: r.front}\n", `
testdata/lamp.yaml:6:45: part "c": on: part "r" is turned, so its faces are not where their names say
     6 |   c: {material: ABS, box: 1 x 1 x 1 mm, on: r.front}
       |                                             ^
  place what touches it with at`},
	{"fins too many for the narrow way", partBase + "{material: ABS, fin block: {base: 20 x 80 mm, base thickness: 2 mm, fins: 20, fin height: 8 mm, fin thickness: 1.5 mm, fins along: y, fins point: +z}, heat: 1 W}\n", `
testdata/lamp.yaml:3:80: part "a": 20 fins of 1.5 mm need 30 mm, but the base is 20 mm wide
     3 | …k: {base: 20 x 80 mm, base thickness: 2 mm, fins: 20, fin height: 8 mm, fin thickness: 1.5 mm, fins …
       |                                                    ^
  fewer or thinner fins, or fins along the other axis`},
	{"fins that point nowhere", partBase + "{material: ABS, fin block: {base: 20 x 80 mm, base thickness: 2 mm, fins: 4, fin height: 8 mm, fin thickness: 1.5 mm, fins along: y}, heat: 1 W}\n", `
testdata/lamp.yaml:3:33: part "a": it is not said where its fins point
     3 |   a: {material: ABS, fin block: {base: 20 x 80 mm, base thickness: 2 mm, fins: 4, fin height: 8 mm, …
       |                                 ^
  add fins point: +z, or on: part.face`},
	{"fins too many on a face", lampBase + "  f: {material: ABS, on: a.right, fin block: {base: 80 x 20 mm, base thickness: 2 mm, fins: 20, fin height: 8 mm, fin thickness: 1.5 mm, fins along: y}}\n", `
testdata/lamp.yaml:5:93: part "f": 20 fins of 1.5 mm need 30 mm, but the base is 20 mm wide
     5 | …k: {base: 80 x 20 mm, base thickness: 2 mm, fins: 20, fin height: 8 mm, fin thickness: 1.5 mm, fins …
       |                                                    ^
  fewer or thinner fins, or fins along the other axis`},
	{"wall of a tube", partBase + "{material: ABS, tube: {diameter: 10 mm, inner: 8 mm, length: 50 mm, along: y}, wall: 1 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:91: part "a" has a wall, but only a box or a cylinder can be hollow
     3 | …material: ABS, tube: {diameter: 10 mm, inner: 8 mm, length: 50 mm, along: y}, wall: 1 mm, heat: 1 W}
       |                                                                                      ^
  a tube has inner instead`},
	{"thickness of a box", partBase + "{material: ABS, box: 9 x 9 x 9 mm, thickness: 1 mm, normal: z, heat: 1 W}\n", `
testdata/lamp.yaml:3:3: part "a" has a normal, but only a plate needs one
     3 |   a: {material: ABS, box: 9 x 9 x 9 mm, thickness: 1 mm, normal: z, heat: 1 W}
       |   ^
  take normal out
testdata/lamp.yaml:3:52: part "a" has a thickness, but only a plate needs one
     3 |   a: {material: ABS, box: 9 x 9 x 9 mm, thickness: 1 mm, normal: z, heat: 1 W}
       |                                                    ^
  a box has its thickness among its three sizes`},
	{"cylinder with an inner diameter", partBase + "{material: ABS, cylinder: {diameter: 10 mm, inner: 8 mm, length: 50 mm, along: y}, heat: 1 W}\n", `
testdata/lamp.yaml:3:57: part "a" is a cylinder with an inner diameter
     3 |   a: {material: ABS, cylinder: {diameter: 10 mm, inner: 8 mm, length: 50 mm, along: y}, heat: 1 W}
       |                                                         ^
  call it a tube`},
	{"tube without an inner diameter", partBase + "{material: ABS, tube: {diameter: 10 mm, length: 50 mm, along: y}, heat: 1 W}\n", `
testdata/lamp.yaml:3:28: part "a" is a tube without an inner diameter
     3 |   a: {material: ABS, tube: {diameter: 10 mm, length: 50 mm, along: y}, heat: 1 W}
       |                            ^
  add inner: 16 mm`},
	{"plate with on and normal", lampBase + "  c: {material: ABS, plate: 9 x 9 mm, thickness: 1 mm, on: a.front, normal: z}\n", `
testdata/lamp.yaml:5:3: part "c" has both on and normal: the face it is on says which way it faces
     5 |   c: {material: ABS, plate: 9 x 9 mm, thickness: 1 mm, on: a.front, normal: z}
       |   ^
  take normal out`},
	{"offset from nothing", lampBase + "  c: {material: ABS, box: 1 x 1 x 1 mm, offset: 1 x 1 mm}\n", `
testdata/lamp.yaml:5:3: part "c" has an offset or gap, but sits on nothing
     5 |   c: {material: ABS, box: 1 x 1 x 1 mm, offset: 1 x 1 mm}
       |   ^
  add on: part.face, or use at`},
	{"on itself", lampBase + "  c: {material: ABS, box: 1 x 1 x 1 mm, on: c.front}\n", `
testdata/lamp.yaml:5:45: part "c" sits on itself
     5 |   c: {material: ABS, box: 1 x 1 x 1 mm, on: c.front}
       |                                             ^
  name another part`},
	{"inside of a can's round side", partBase + "{material: ABS, cylinder: {diameter: 20 mm, length: 50 mm, along: y}, wall: 1 mm, heat: 1 W}\n  c: {material: ABS, box: 1 x 1 x 1 mm, on: a.inside left}\n", `
testdata/lamp.yaml:4:45: part "c": on: the inside of "a" is round on its left
     4 |   c: {material: ABS, box: 1 x 1 x 1 mm, on: a.inside left}
       |                                             ^
  only its two ends are flat`},
	{"hole without a way", partBase + "{material: ABS, box: 9 x 9 x 9 mm, heat: 1 W, cuts: [{hole: 3 mm, at: 1 1 0 mm}]}\n", `
testdata/lamp.yaml:3:59: cut 1 of part "a": it is not said which way the hole goes
     3 |   a: {material: ABS, box: 9 x 9 x 9 mm, heat: 1 W, cuts: [{hole: 3 mm, at: 1 1 0 mm}]}
       |                                                           ^
  add through: z`},
	{"box cut with a depth", partBase + "{material: ABS, box: 9 x 9 x 9 mm, heat: 1 W, cuts: [{box: 3 x 3 x 3 mm, depth: 1 mm, at: 1 1 0 mm}]}\n", `
testdata/lamp.yaml:3:59: cut 1 of part "a" is a box: its depth is among its three sizes
     3 | …material: ABS, box: 9 x 9 x 9 mm, heat: 1 W, cuts: [{box: 3 x 3 x 3 mm, depth: 1 mm, at: 1 1 0 mm}]}
       |                                                      ^
  take through and depth out`},
	{"finish not known", partBase + "{material: ABS, finish: blak anodised, box: 9 x 9 x 9 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:30: part "a": the finish "blak anodised" is neither in the library nor under finishes
     3 |   a: {material: ABS, finish: blak anodised, box: 9 x 9 x 9 mm, heat: 1 W}
       |                              ^
  did you mean "black anodised"?`},
	{"material like nothing", lampBase + "materials: {goo: {like: ABZ}}\n", `
testdata/lamp.yaml:5:25: material "goo" is like "ABZ", which is not in the library
     5 | materials: {goo: {like: ABZ}}
       |                         ^
  did you mean "ABS"?`},
	{"filler and conductance and thickness", lampBase + "joints: {j: {between: [a, b], filler: thermal paste, conductance: 9000 W/m2K, thickness: 0.1 mm}}\n", `
testdata/lamp.yaml:5:10: joint "j": its conductance says all that thickness and conductivity could
     5 | joints: {j: {between: [a, b], filler: thermal paste, conductance: 9000 W/m2K, thickness: 0.1 mm}}
       |          ^
  take either out`},
	{"between one word", lampBase + "joints: {j: {between: a, kind: resting}}\n", `
testdata/lamp.yaml:5:23: between: here is a single value, not a list
     5 | joints: {j: {between: a, kind: resting}}
       |                       ^
  expected the two parts, such as [chip, plate]`},
	{"sensor acts on what makes no heat", lampBase + "sensors: {s: {at: b, stops at: unknown, acts on: [a]}}\n", `
testdata/lamp.yaml:5:11: sensor "s" acts on "a", which makes no heat
     5 | sensors: {s: {at: b, stops at: unknown, acts on: [a]}}
       |           ^
  name the parts whose heat it cuts
testdata/lamp.yaml:5:11: sensor "s" acts on parts but has no steps
     5 | sensors: {s: {at: b, stops at: unknown, acts on: [a]}}
       |           ^
  add steps, or take acts on out`},
	{"restarts but never stops", lampBase + "sensors: {s: {at: b, restarts below: 50 °C}}\n", `
testdata/lamp.yaml:5:11: sensor "s" restarts but never stops
     5 | sensors: {s: {at: b, restarts below: 50 °C}}
       |           ^
  add stops at: unknown`},
	{"step left above where it is taken", lampBase + "sensors: {s: {at: b, steps: [{above: 60 °C, back below: 65 °C, power: 50 %}]}}\n", `
testdata/lamp.yaml:5:57: step 1 of sensor "s" is left below 65 °C, which is not below 60 °C where it is taken
     5 | sensors: {s: {at: b, steps: [{above: 60 °C, back below: 65 °C, power: 50 %}]}}
       |                                                         ^
  the device would jump to and fro`},
	{"step above the stop", lampBase + "sensors: {s: {at: b, stops at: 80 °C, steps: [{above: 85 °C, power: 50 %}]}}\n", `
testdata/lamp.yaml:5:55: step 1 of sensor "s" comes at 85 °C, but the device stops at 80 °C already
     5 | sensors: {s: {at: b, stops at: 80 °C, steps: [{above: 85 °C, power: 50 %}]}}
       |                                                       ^`},
	{"sun from, without sun", lampBase + "conditions: {sun from: +z}\n", `
testdata/lamp.yaml:5:13: conditions say where the sun stands, but not how strong it is
     5 | conditions: {sun from: +z}
       |             ^
  add sun: 800 W/m2, or take sun from out`},
	{"rests on a part that is not there", lampBase + "conditions: {rests on: {face: shell.bottom, what: wood}}\n", `
testdata/lamp.yaml:5:24: conditions, rests on: there is no part "shell"
     5 | conditions: {rests on: {face: shell.bottom, what: wood}}
       |                        ^
  parts here: a, b`},
	{"first step without steps", lampBase + "stock runs: [{first step after: 9 min}]\n", `
testdata/lamp.yaml:5:33: stock run 1: a first step was taken, but no sensor has steps
     5 | stock runs: [{first step after: 9 min}]
       |                                 ^
  add steps to a sensor: - {above: unknown, power: 60 %}`},
	{"log without channels", lampBase + "stock runs: [{log: runs/run.csv}]\n", `
testdata/lamp.yaml:5:14: stock run 1: it is not said where the log's columns were measured
     5 | stock runs: [{log: runs/run.csv}]
       |              ^
  add channels: {T1: plate.front centre}`},
	{"log error without a log", lampBase + "stock runs: [{still running after: 9 min, log error: 1 K}]\n", `
testdata/lamp.yaml:5:54: stock run 1 has a log error but no log
     5 | stock runs: [{still running after: 9 min, log error: 1 K}]
       |                                                      ^
  add log: and the file's name`},
	{"log reading without a log", lampBase + "stock runs: [{still running after: 9 min, log reading: decimal comma}]\n", `
testdata/lamp.yaml:5:56: stock run 1 has a log reading but no log
     5 | stock runs: [{still running after: 9 min, log reading: decimal comma}]
       |                                                        ^
  add log: and the file's name`},
	{"log reading not known", lampBase + "stock runs:\n  - log: runs/run.csv\n    channels: {T1: a}\n    log reading: decimals comma\n", `
testdata/lamp.yaml:8:18: stock run 1: how to read a log: "decimals comma": there is no such setting; there are encoding, delimiter, decimal, heading, first, mark, clock, time, interval, jumps, start, rate, cold, code and column
     8 |     log reading: decimals comma
       |                  ^
  expected settings such as 'delimiter semicolon; decimal comma; column 2 name "T1" unit "°F"'
  finwright bench read shows how a log is read, and --remember writes it here`},
	{"channel nowhere", lampBase + "stock runs: [{log: runs/run.csv, channels: {T1: c}}]\n", `
testdata/lamp.yaml:5:49: channel "T1" of stock run 1: there is no part "c"
     5 | stock runs: [{log: runs/run.csv, channels: {T1: c}}]
       |                                                 ^
  parts here: a, b`},
	{"log that is a folder", lampBase + "stock runs: [{log: runs, channels: {T1: a}}]\n", `
testdata/lamp.yaml:5:20: stock run 1: the log "testdata/runs" is a folder
     5 | stock runs: [{log: runs, channels: {T1: a}}]
       |                    ^
  write the name of the file in it`},
	{"film and resistance", lampBase + "boundaries: {x: {face: a.left, film: 10 W/m2K, surface resistance: 1 cm2 K/W, ambient: 20 °C}}\n", `
testdata/lamp.yaml:5:14: boundary "x" has a film and a surface resistance: each is the other's inverse
     5 | boundaries: {x: {face: a.left, film: 10 W/m2K, surface resistance: 1 cm2 K/W, ambient: 20 °C}}
       |              ^
  keep one`},
	{"flux and power", lampBase + "boundaries: {x: {face: a.left, flux: 10 W/m2, power: 1 W}}\n", `
testdata/lamp.yaml:5:14: boundary "x" has a flux and a power
     5 | boundaries: {x: {face: a.left, flux: 10 W/m2, power: 1 W}}
       |              ^
  keep one`},
	{"temperature and film", lampBase + "boundaries: {x: {face: a.left, film: 10 W/m2K, ambient: 20 °C, temperature: 10 °C}}\n", `
testdata/lamp.yaml:5:14: boundary "x" has a fixed temperature and something else, which can have no effect
     5 | boundaries: {x: {face: a.left, film: 10 W/m2K, ambient: 20 °C, temperature: 10 °C}}
       |              ^
  keep the temperature or the rest`},
	{"ambient without film", lampBase + "boundaries: {x: {face: a.left, flux: 10 W/m2, ambient: 20 °C}}\n", `
testdata/lamp.yaml:5:14: boundary "x" has an ambient but neither film nor radiates
     5 | boundaries: {x: {face: a.left, flux: 10 W/m2, ambient: 20 °C}}
       |              ^
  add film, or take ambient out`},
	{"swing of nothing", lampBase + "boundaries: {x: {face: a.left, flux: 10 W/m2, swing: 3 K, period: 1 h}}\n", `
testdata/lamp.yaml:5:14: boundary "x" has a swing but no temperature to swing about
     5 | boundaries: {x: {face: a.left, flux: 10 W/m2, swing: 3 K, period: 1 h}}
       |              ^
  add temperature`},
	{"boundary called like a part", lampBase + "boundaries: {a: {face: a.left, flux: 10 W/m2}}\n", `
testdata/lamp.yaml:5:14: boundary "a" has the name of a part
     5 | boundaries: {a: {face: a.left, flux: 10 W/m2}}
       |              ^
  name it otherwise, so that places stay clear`},
	{"patch of a whole part", lampBase + "boundaries: {x: {face: a, patch: 1 x 1 mm, flux: 10 W/m2}}\n", `
testdata/lamp.yaml:5:14: boundary "x" is a patch of a whole part
     5 | boundaries: {x: {face: a, patch: 1 x 1 mm, flux: 10 W/m2}}
       |              ^
  name the face it lies on, such as a.top`},
	{"offset without a patch", lampBase + "boundaries: {x: {face: a.left, offset: 1 x 1 mm, flux: 10 W/m2}}\n", `
testdata/lamp.yaml:5:14: boundary "x" has an offset but no patch
     5 | boundaries: {x: {face: a.left, offset: 1 x 1 mm, flux: 10 W/m2}}
       |              ^
  add patch, or take offset out`},
	{"boundary on no face", lampBase + "boundaries: {x: {face: a.lft, flux: 10 W/m2}}\n", `
testdata/lamp.yaml:5:14: boundary "x": "lft" is not a face
     5 | boundaries: {x: {face: a.lft, flux: 10 W/m2}}
       |              ^
  did you mean a.left?`},
	{"boundary on no part", lampBase + "boundaries: {x: {face: zzz.left, flux: 10 W/m2}}\n", `
testdata/lamp.yaml:5:14: boundary "x": there is no part "zzz"
     5 | boundaries: {x: {face: zzz.left, flux: 10 W/m2}}
       |              ^
  parts here: a, b`},
	{"expectation twice", lampBase + "expect:\n  - {id: x, mean of: b, target: 30 °C, within: 1 K, source: book}\n  - {id: x, mean of: a, target: 30 °C, within: 1 K, source: book}\n", `
testdata/lamp.yaml:7:5: expectation "x" is there twice
     7 |   - {id: x, mean of: a, target: 30 °C, within: 1 K, source: book}
       |     ^
  give each its own id`},
	{"expectation of two things", lampBase + "expect: [{id: x, mean of: b, highest of: b, target: 30 °C, within: 1 K, source: book}]\n", `
testdata/lamp.yaml:5:10: expectation "x" asks for mean of and highest of
     5 | expect: [{id: x, mean of: b, highest of: b, target: 30 °C, within: 1 K, source: book}]
       |          ^
  expected one of temperature at, mean of, highest of, rise at, mean rise of, heat through, time until`},
	{"rise over nothing", lampBase + "expect: [{id: x, rise at: b, target: 30 K, within: 1 K, source: book}]\n", `
testdata/lamp.yaml:5:10: expectation "x" asks for a rise, but there is no boundary whose ambient it could count from
     5 | expect: [{id: x, rise at: b, target: 30 K, within: 1 K, source: book}]
       |          ^
  add a boundary with ambient`},
	{"time until, and a time", lampBase + "expect: [{id: x, time until: {at: b, reaches: 40 °C}, after: 3 min, target: 3 min, within: 1 %, source: book}]\n", `
testdata/lamp.yaml:5:10: expectation "x" asks for a time and also gives one
     5 | expect: [{id: x, time until: {at: b, reaches: 40 °C}, after: 3 min, target: 3 min, within: 1 %, sour…
       |          ^
  take after out`},
	{"temperature within percent", lampBase + "expect: [{id: x, mean of: b, target: 30 °C, within: 1 %, source: book}]\n", `
testdata/lamp.yaml:5:10: expectation "x": within: "1 %": % is a unit of ratio, not of temperature difference; expected a temperature difference such as 3 K; units that would do: K, °C, °F
     5 | expect: [{id: x, mean of: b, target: 30 °C, within: 1 %, source: book}]
       |          ^`},
	{"tolerance of zero", lampBase + "expect: [{id: x, mean of: b, target: 30 °C, within: 0 K, source: book}]\n", `
testdata/lamp.yaml:5:10: expectation "x": within: "0 K" is not above zero
     5 | expect: [{id: x, mean of: b, target: 30 °C, within: 0 K, source: book}]
       |          ^`},
	{"list entry that is empty", lampBase + "stock runs:\n  - {still running after: 9 min}\n  -\n", `
testdata/lamp.yaml:6:3: stock run 2 is empty
     6 |   - {still running after: 9 min}
       |   ^
  expected a list such as
  stock runs:
    - {ambient: 24 °C, air: still, stops after: 20 to 30 min}
  fill it in, or take the dash out`},
	{"mode without a power", partBase + "{material: ABS, box: 9 x 9 x 9 mm, heat: {on: }}\nmode: on\n", `
testdata/lamp.yaml:3:48: heat of mode "on": nothing is written here
     3 |   a: {material: ABS, box: 9 x 9 x 9 mm, heat: {on: }}
       |                                                ^
  expected a power such as 3 to 5 W`},
	{"no mode at all", partBase + "{material: ABS, box: 9 x 9 x 9 mm, heat: {}}\n", `
testdata/lamp.yaml:3:47: heat: no mode is given
     3 |   a: {material: ABS, box: 9 x 9 x 9 mm, heat: {}}
       |                                               ^
  expected a power such as 3 to 5 W, or one for each mode such as {on: 3 to 5 W, standby: 0.2 W}`},
	{"size unknown", partBase + "{material: ABS, box: unknown, heat: 1 W}\n", `
testdata/lamp.yaml:3:27: box: "unknown" will not do here
     3 |   a: {material: ABS, box: unknown, heat: 1 W}
       |                           ^
  expected 3 lengths such as 60 x 90 x 22 mm
  measure it with calipers; a range such as 1.5 to 2 mm will do`},
	{"list where one value stands", partBase + "{material: [ABS, PC], box: 9 x 9 x 9 mm, heat: 1 W}\n", `
testdata/lamp.yaml:3:17: material: here is a list
     3 |   a: {material: [ABS, PC], box: 9 x 9 x 9 mm, heat: 1 W}
       |                 ^
  expected a material of the library or of this file, such as aluminium 6061`},
	{"empty text", "device: ''\nparts:\n  a: {material: ABS, box: 60 x 90 x 20 mm, wall: 2 mm}\n  b: {material: ABS, box: 9 x 9 x 9 mm, at: 20 20 5 mm, heat: 3 W}\n", `
testdata/lamp.yaml:1:9: device: nothing is written here
     1 | device: ''
       |         ^
  expected what the device is called, such as bench lamp
  fill it in, or take the key out`},
	{"empty changes", lampBase + "retrofits: {r: {changes: []}}\n", `
testdata/lamp.yaml:5:26: changes of retrofit "r": the list is empty
     5 | retrofits: {r: {changes: []}}
       |                          ^
  expected a list such as
  changes:
    - remove: rubber skin`},
	{"change that says nothing", lampBase + "retrofits: {r: {changes: [{}]}}\n", `
testdata/lamp.yaml:5:27: retrofit "r": change 1 says nothing
     5 | retrofits: {r: {changes: [{}]}}
       |                           ^
  each change has exactly one of remove, face, add, replace, rejoin, refinish, mode; begin each with a dash`},
	{"mill a fin block", lampBase + "  f: {material: ABS, on: a.front, fin block: {base: 20 x 80 mm, base thickness: 2 mm, fins: 4, fin height: 8 mm, fin thickness: 1.5 mm, fins along: y}}\nretrofits: {r: {changes: [{face: {part: f, side: left, depth: 0.1 mm}}]}}\n", `
testdata/lamp.yaml:6:34: retrofit "r": change 1 mills f.left, but a fin block cannot be milled
     6 | retrofits: {r: {changes: [{face: {part: f, side: left, depth: 0.1 mm}}]}}
       |                                  ^
  replace it by one with other sizes`},
	{"mill what is not there", lampBase + "retrofits: {r: {changes: [{face: {part: aa, side: left, depth: 0.1 mm}}]}}\n", `
testdata/lamp.yaml:5:34: retrofit "r": change 1: there is no part "aa"
     5 | retrofits: {r: {changes: [{face: {part: aa, side: left, depth: 0.1 mm}}]}}
       |                                  ^
  parts here: a, b`},
	{"mill a round side", lampBase + "  r: {material: ABS, cylinder: {diameter: 9 mm, length: 9 mm, along: z}, at: 0 0 0 mm}\nretrofits: {r: {changes: [{face: {part: r, side: left, depth: 0.1 mm}}]}}\n", `
testdata/lamp.yaml:6:34: retrofit "r": change 1 mills r.left: part "r" is round on its left
     6 | retrofits: {r: {changes: [{face: {part: r, side: left, depth: 0.1 mm}}]}}
       |                                  ^
  only flat sides can be milled`},
	{"add on what was removed", lampBase + "retrofits: {r: {changes: [{remove: a}, {add: {c: {material: ABS, box: 1 x 1 x 1 mm, on: a.front}}}]}}\n", `
testdata/lamp.yaml:5:27: retrofit "r": "a" is taken off, but "c" sits on it
     5 | retrofits: {r: {changes: [{remove: a}, {add: {c: {material: ABS, box: 1 x 1 x 1 mm, on: a.front}}}]}…
       |                           ^
  take "c" off too, or replace "a"
testdata/lamp.yaml:5:47: retrofit "r": change 2: "c" sits on "a.front": there is no part "a"
     5 | retrofits: {r: {changes: [{remove: a}, {add: {c: {material: ABS, box: 1 x 1 x 1 mm, on: a.front}}}]}…
       |                                               ^
  it was taken off on line 5`},
	{"rejoin what is not there", lampBase + "retrofits: {r: {changes: [{rejoin: {j: {between: [a, c], kind: resting}}}]}}\n", `
testdata/lamp.yaml:5:37: retrofit "r": change 1: joint "j": there is no part "c"
     5 | retrofits: {r: {changes: [{rejoin: {j: {between: [a, c], kind: resting}}}]}}
       |                                     ^
  parts here: a, b`},
	{"remove the cell, the rest and a boundary", lampBase + "battery: {part: a, energy: 1 Wh}\nconditions: {rests on: {face: a.back, what: wood}}\nboundaries: {x: {face: a.left, flux: 10 W/m2}}\nretrofits: {r: {changes: [{remove: a}]}}\n", `
testdata/lamp.yaml:8:27: retrofit "r": "a" is taken off, but it is the battery's cell
     8 | retrofits: {r: {changes: [{remove: a}]}}
       |                           ^
  replace it instead
testdata/lamp.yaml:8:27: retrofit "r": "a" is taken off, but the device rests on it
     8 | retrofits: {r: {changes: [{remove: a}]}}
       |                           ^
  keep it, or take rests on out of the conditions
testdata/lamp.yaml:8:27: retrofit "r": "a" is taken off, but boundary "x" is on it
     8 | retrofits: {r: {changes: [{remove: a}]}}
       |                           ^`},
	{"directive", "%YAML 1.2\n---\n" + lampBase, `
testdata/lamp.yaml:1:1: lines that start with % are not used in device files
     1 | %YAML 1.2
       | ^
  take the line out`},
	{"name with an edge", "device: lamp\nparts:\n  ' a': {material: ABS, box: 1 x 1 x 1 mm}\n", `
testdata/lamp.yaml:3:3: the name " a" has spaces or line ends at its edges
     3 |   ' a': {material: ABS, box: 1 x 1 x 1 mm}
       |   ^
  write it without`},
	{"name that places use", "device: lamp\nparts:\n  a centre: {material: ABS, box: 1 x 1 x 1 mm}\n", `
testdata/lamp.yaml:3:3: the part's name "a centre" ends in a word that places use
     3 |   a centre: {material: ABS, box: 1 x 1 x 1 mm}
       |   ^
  choose another name`},
	{"name missing", "device: lamp\nparts:\n  '': {material: ABS, box: 1 x 1 x 1 mm}\n", `
testdata/lamp.yaml:3:3: a part has no name
     3 |   '': {material: ABS, box: 1 x 1 x 1 mm}
       |   ^
  write a name before the colon`},
	{"long key", "? device\n: lamp\nparts:\n  a: {material: ABS, box: 60 x 90 x 20 mm, wall: 2 mm}\n  b: {material: ABS, box: 9 x 9 x 9 mm, at: 20 20 5 mm, heat: 3 W}\n", `
testdata/lamp.yaml: the file has no "device"
  expected device: what the device is called
  add device: bench lamp
testdata/lamp.yaml:1:1: ? (a long key) is not used in device files
     1 | ? device
       | ^
  write key: value`},
	{"direction that is no axis", lampBase + "conditions: {sun: 800 W/m2, sun from: +w}\n", `
testdata/lamp.yaml:5:39: sun from: "+w" is not known here
     5 | conditions: {sun: 800 W/m2, sun from: +w}
       |                                       ^
  expected one of +x, -x, +y, -y, +z, -z, or three numbers along x, y and z such as [1, 2, 0.5]`},
	{"direction of two numbers", lampBase + "conditions: {sun: 800 W/m2, sun from: [1, 2]}\n", `
testdata/lamp.yaml:5:39: sun from: here are 2 numbers
     5 | conditions: {sun: 800 W/m2, sun from: [1, 2]}
       |                                       ^
  expected one of +x, -x, +y, -y, +z, -z, or three numbers along x, y and z such as [1, 2, 0.5]`},
	{"direction of zeros", lampBase + "conditions: {sun: 800 W/m2, sun from: [0, 0.0, -0]}\n", `
testdata/lamp.yaml:5:39: sun from: three zeros point nowhere
     5 | conditions: {sun: 800 W/m2, sun from: [0, 0.0, -0]}
       |                                       ^
  expected one of +x, -x, +y, -y, +z, -z, or three numbers along x, y and z such as [1, 2, 0.5]`},
	{"direction with a unit", lampBase + "conditions: {sun: 800 W/m2, sun from: [1, 2 m, 0]}\n", `
testdata/lamp.yaml:5:43: sun from: "2 m" is not a plain number
     5 | conditions: {sun: 800 W/m2, sun from: [1, 2 m, 0]}
       |                                           ^
  expected one of +x, -x, +y, -y, +z, -z, or three numbers along x, y and z such as [1, 2, 0.5]`},
	{"direction without end", lampBase + "conditions: {air: 5 m/s, wind from: [.inf, 0, 0]}\n", `
testdata/lamp.yaml:5:38: wind from: ".inf" is not a plain number
     5 | conditions: {air: 5 m/s, wind from: [.inf, 0, 0]}
       |                                      ^
  expected one of +x, -x, +y, -y, +z, -z, or three numbers along x, y and z such as [1, 2, 0.5]`},
	{"direction with a gap", lampBase + "conditions: {air: 5 m/s, wind from: [1, , 0]}\n", `
testdata/lamp.yaml:5:41: this line cannot be read as YAML
     5 | conditions: {air: 5 m/s, wind from: [1, , 0]}
       |                                         ^
  check its indent, colons, brackets and quotes against the lines around it`},
	{"direction as a mapping", lampBase + "conditions: {air: 5 m/s, wind from: {x: 1}}\n", `
testdata/lamp.yaml:5:37: wind from: here is a mapping (key: value)
     5 | conditions: {air: 5 m/s, wind from: {x: 1}}
       |                                     ^
  expected one of +x, -x, +y, -y, +z, -z, or three numbers along x, y and z such as [1, 2, 0.5]`},
	{"wind from, in still air", lampBase + "conditions: {air: still, wind from: +x}\n", `
testdata/lamp.yaml:5:37: conditions say where the wind comes from, but the air is still
     5 | conditions: {air: still, wind from: +x}
       |                                     ^
  add air: 5 m/s, or take wind from out`},
	{"wind from, without air", lampBase + "stock runs: [{wind from: [1, 0, 1], still running after: 9 min}]\n", `
testdata/lamp.yaml:5:26: stock run 1 says where the wind comes from, but the air is still
     5 | stock runs: [{wind from: [1, 0, 1], still running after: 9 min}]
       |                          ^
  add air: 5 m/s, or take wind from out`},
	{"leaning more than a turn", lampBase + "conditions: {leaning: {by: 400 deg, about: x}}\n", `
testdata/lamp.yaml:5:28: conditions, leaning: "400 deg" is more than a whole turn
     5 | conditions: {leaning: {by: 400 deg, about: x}}
       |                            ^
  expected an angle from -360 to 360 deg`},
	{"leaning about nothing", lampBase + "conditions: {leaning: {by: 30 deg}}\n", `
testdata/lamp.yaml:5:23: leaning of conditions has no "about"
     5 | conditions: {leaning: {by: 30 deg}}
       |                       ^
  expected about: axis of rotation
  add about: x`},
	{"leaning, angle only", lampBase + "conditions: {leaning: 30 deg}\n", `
testdata/lamp.yaml:5:23: leaning of conditions should have keys with values, but here is a single value
     5 | conditions: {leaning: 30 deg}
       |                       ^
  expected a mapping such as {by: 30 deg, about: x}`},
	{"leaning by unknown", lampBase + "conditions: {leaning: {by: unknown, about: x}}\n", `
testdata/lamp.yaml:5:28: by: "unknown" will not do here
     5 | conditions: {leaning: {by: unknown, about: x}}
       |                            ^
  expected an angle such as 30 deg
  give a range such as the widest you believe in, or leave by out`},
	{"share of nothing", lampBase + "conditions: {rests on: {face: a.back, what: wood, share: 0 %}}\n", `
testdata/lamp.yaml:5:58: share: "0 %" must be above zero
     5 | conditions: {rests on: {face: a.back, what: wood, share: 0 %}}
       |                                                          ^
  expected a ratio such as 40 %`},
	{"share above the whole", lampBase + "conditions: {rests on: [{face: a.back, what: wood, share: 140 %}]}\n", `
testdata/lamp.yaml:5:59: share: "140 %" must not be above 1 (100 %)
     5 | conditions: {rests on: [{face: a.back, what: wood, share: 140 %}]}
       |                                                           ^
  expected a ratio such as 40 %`},
	{"rests on a face twice", lampBase + "conditions:\n  rests on:\n    - {face: a.back, what: wood}\n    - {face: a.back, what: hand}\n", `
testdata/lamp.yaml:8:7: conditions, rests on: "a.back" is given twice
     8 |     - {face: a.back, what: hand}
       |       ^
  keep one; with share: 40 % for a part of the face`},
	{"rests on something unheard of", lampBase + "conditions: {rests on: {face: a.back, what: glas}}\n", `
testdata/lamp.yaml:5:45: what: "glas" is not known here
     5 | conditions: {rests on: {face: a.back, what: glas}}
       |                                             ^
  expected one of wood, metal, cloth, hand, stone, paper, glass, tripod, nothing
  did you mean glass?`},
	{"rests on, without a face", lampBase + "stock runs: [{name: desk, rests on: [{what: wood}], still running after: 9 min}]\n", `
testdata/lamp.yaml:5:38: stock run "desk", rests on: it is not said which face touches the wood
     5 | stock runs: [{name: desk, rests on: [{what: wood}], still running after: 9 min}]
       |                                      ^
  expected a face such as shell.bottom
  add face: and the face`},
	{"rests on, without what", lampBase + "conditions: {rests on: [{face: a.back}]}\n", `
testdata/lamp.yaml:5:25: support 1 of conditions has no "what"
     5 | conditions: {rests on: [{face: a.back}]}
       |                         ^
  expected what: what it lies on or is held by
  add what: wood`},
	{"rests on nothing and something", lampBase + "conditions: {rests on: [{face: a.back, what: wood}, {what: nothing}]}\n", `
testdata/lamp.yaml:5:53: conditions, rests on: nothing stands beside something
     5 | conditions: {rests on: [{face: a.back, what: wood}, {what: nothing}]}
       |                                                     ^
  take the entry out: a face that is not named touches nothing`},
	{"rests on a word", lampBase + "conditions: {rests on: wood}\n", `
testdata/lamp.yaml:5:24: rests on: here is a single value
     5 | conditions: {rests on: wood}
       |                        ^
  expected keys with values such as {face: shell.bottom, what: wood}, or a list of such`},
	{"rests on a list of words", lampBase + "conditions: {rests on: [wood]}\n", `
testdata/lamp.yaml:5:25: support 1 of conditions should have keys with values, but here is a single value
     5 | conditions: {rests on: [wood]}
       |                         ^
  expected a mapping such as {face: shell.bottom, what: wood}`},
	{"rests on, second part that is not there", lampBase + "conditions: {rests on: [{face: a.back, what: wood}, {face: c.back, what: hand}]}\n", `
testdata/lamp.yaml:5:53: conditions, rests on: there is no part "c"
     5 | conditions: {rests on: [{face: a.back, what: wood}, {face: c.back, what: hand}]}
       |                                                     ^
  parts here: a, b`},
	{"ground that reflects too much", lampBase + "conditions: {sun: 800 W/m2, ground reflects: 1.2}\n", `
testdata/lamp.yaml:5:46: ground reflects: "1.2" must not be above 1 (100 %)
     5 | conditions: {sun: 800 W/m2, ground reflects: 1.2}
       |                                              ^
  expected a ratio such as 0.2`},
	{"sky light below zero", lampBase + "conditions: {sky light: -5 W/m2}\n", `
testdata/lamp.yaml:5:25: sky light: "-5 W/m2" must not be below zero
     5 | conditions: {sky light: -5 W/m2}
       |                         ^
  expected a heat flux such as 100 W/m2`},
	{"sky without a unit", lampBase + "conditions: {sky: -5}\n", `
testdata/lamp.yaml:5:19: sky: "-5": the unit is missing
     5 | conditions: {sky: -5}
       |                   ^
  expected a temperature such as -5 °C
  write -5 °C, -5 K or -5 °F`},
	{"held apart, but sits on a part", lampBase + "  c: {material: ABS, plate: 9 x 9 mm, thickness: 1 mm, on: a.front, held apart: yes}\n", `
testdata/lamp.yaml:5:81: part "c" is held apart, but sits on a.front without a gap
     5 |   c: {material: ABS, plate: 9 x 9 mm, thickness: 1 mm, on: a.front, held apart: yes}
       |                                                                                 ^
  add gap: 3 mm, or take held apart out`},
	{"held apart, with a joint", lampBase + "  c: {material: ABS, box: 9 x 9 x 1 mm, at: 0 0 30 mm, held apart: yes}\njoints: {c-a: {between: [c, a], kind: resting}}\n", `
testdata/lamp.yaml:5:68: part "c" is held apart, but joint "c-a" says what it touches
     5 |   c: {material: ABS, box: 9 x 9 x 1 mm, at: 0 0 30 mm, held apart: yes}
       |                                                                    ^
  take either out`},
	{"held apart, perhaps", lampBase + "  c: {material: ABS, box: 9 x 9 x 1 mm, at: 0 0 30 mm, held apart: 3 mm}\n", `
testdata/lamp.yaml:5:68: held apart: this is neither true nor false
     5 |   c: {material: ABS, box: 9 x 9 x 1 mm, at: 0 0 30 mm, held apart: 3 mm}
       |                                                                    ^
  expected true or false, or yes or no`},
	{"retrofit takes the second support", lampBase + "conditions: {rests on: [{face: a.back, what: wood}, {face: b.left, what: hand}]}\nretrofits: {r: {changes: [{replace: {b: {material: ABS, box: 1 x 1 x 1 mm, heat: 1 W}}}, {remove: a}]}}\n", `
testdata/lamp.yaml:6:90: retrofit "r": "a" is taken off, but the device rests on it
     6 | …rofits: {r: {changes: [{replace: {b: {material: ABS, box: 1 x 1 x 1 mm, heat: 1 W}}}, {remove: a}]}}
       |                                                                                        ^
  keep it, or take rests on out of the conditions`},
	{"retrofit glues what is held apart", lampBase + "  c: {material: ABS, box: 9 x 9 x 1 mm, at: 0 0 30 mm, held apart: yes}\nretrofits: {r: {changes: [{rejoin: {c-a: {between: [c, a], filler: thermal epoxy}}}]}}\n", `
testdata/lamp.yaml:5:68: with retrofit "r": part "c" is held apart, but joint "c-a" says what it touches
     5 |   c: {material: ABS, box: 9 x 9 x 1 mm, at: 0 0 30 mm, held apart: yes}
       |                                                                    ^
  take either out`},
	{"several at once", "device: lamp\nup: +w\nparts:\n  a: {material: ABS, box: 60 x 90 mm, wal: 2 mm}\n  b: {material: silicn, box: 9 x 9 x 9 mm, heat: 3}\njoints:\n  j: {between: [a, c], filler: thermal paste}\n", `
testdata/lamp.yaml:2:5: up: "+w" is not known here
     2 | up: +w
       |     ^
  expected one of +x, -x, +y, -y, +z, -z
testdata/lamp.yaml:4:27: box: "60 x 90 mm" has 2 lengths
     4 |   a: {material: ABS, box: 60 x 90 mm, wal: 2 mm}
       |                           ^
  expected 3 lengths such as 60 x 90 x 22 mm
testdata/lamp.yaml:4:39: there is no key "wal" in part "a"
     4 |   a: {material: ABS, box: 60 x 90 mm, wal: 2 mm}
       |                                       ^
  expected one of material, finish, box, wall, plate, thickness, normal, cylinder, tube, fin block, at, on, offset, gap, turn, cuts, held apart, heat, mass, note
  did you mean "wall"?
testdata/lamp.yaml:5:17: part "b": the material "silicn" is neither in the library nor under materials
     5 |   b: {material: silicn, box: 9 x 9 x 9 mm, heat: 3}
       |                 ^
  did you mean "silicon"?
testdata/lamp.yaml:5:50: heat: "3": the unit is missing
     5 |   b: {material: silicn, box: 9 x 9 x 9 mm, heat: 3}
       |                                                  ^
  expected a power such as 3 to 5 W, or one for each mode such as {on: 3 to 5 W, standby: 0.2 W}
  write 3 W, 3 mW or 3 kW
testdata/lamp.yaml:7:16: joint "j": there is no part "c"
     7 |   j: {between: [a, c], filler: thermal paste}
       |                ^
  parts here: a, b`},
}

func TestBadFiles(t *testing.T) {
	seen := map[string]bool{}
	for _, tc := range badFiles {
		if seen[tc.name] {
			t.Errorf("two rows are called %q", tc.name)
		}
		seen[tc.name] = true
		t.Run(tc.name, func(t *testing.T) {
			f, err := Parse("testdata/lamp.yaml", []byte(tc.in))
			if err == nil || f != nil {
				t.Fatalf("read without an error: %v", f)
			}
			if got, want := err.Error(), strings.TrimPrefix(tc.want, "\n"); got != want {
				t.Errorf("got\n%s\nwant\n%s", got, want)
			}
		})
	}
}

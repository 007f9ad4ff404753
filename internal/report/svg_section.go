package report

import (
	"fmt"
	"html/template"
	"math"
	"sort"
	"strings"

	"finwright/internal/compare"
	"finwright/internal/model"
)

// warmthLevels is the number of colours of a section picture. Levels are painted from cool to warm, each as one path over
// all cells at least that warm, so that no seams show between neighbours.
const warmthLevels = 40

// atlas is what all section pictures of a study share: the colour scale, the stretch of space shown, the size of a mm.
type atlas struct {
	degC   span
	u, v   span // m
	unitsM float64
}

// Size of a section picture in units; what is right of the device is for labels.
const (
	sectionW    = 340.0
	sectionMaxU = 205.0
	sectionMaxV = 300.0
)

func usable(s model.Section) bool {
	nu, nv := len(s.UPlanesM)-1, len(s.VPlanesM)-1
	return nu > 0 && nv > 0 && len(s.TK) == nu*nv && len(s.Part) == nu*nv
}

// newAtlas surveys the sections of a study; ok is false when there is nothing to show.
func newAtlas(s *compare.Study) (atlas, bool) {
	a := atlas{degC: emptySpan(), u: emptySpan(), v: emptySpan()}
	for _, row := range s.Rows {
		if row.Result == nil || !usable(row.Result.Section) {
			continue
		}
		sec := row.Result.Section
		nu := len(sec.UPlanesM) - 1
		for c, t := range sec.TK {
			if sec.Part[c] >= 0 && finite(t) {
				a.degC.show(t - zeroC)
				a.u.show(sec.UPlanesM[c%nu], sec.UPlanesM[c%nu+1])
				a.v.show(sec.VPlanesM[c/nu], sec.VPlanesM[c/nu+1])
			}
		}
	}
	if a.degC.empty() || a.u.hi <= a.u.lo || a.v.hi <= a.v.lo {
		return a, false
	}
	a.degC = a.degC.rounded(5)
	a.unitsM = math.Min(sectionMaxU/(a.u.hi-a.u.lo), sectionMaxV/(a.v.hi-a.v.lo))
	return a, true
}

// air says whether a name of a section is sealed air.
func air(name string) bool { return strings.HasPrefix(name, "sealed air") }

// box is a rectangle of cells, both ends included.
type box struct{ i0, i1, j0, j1 int }

// boxes covers the cells that in chooses with rectangles: runs along a row, merged upwards while they stay the same.
func boxes(nu, nv int, in func(i, j int) bool) []box {
	var done, open []box
	for j := 0; j < nv; j++ {
		var runs []box
		for i := 0; i < nu; i++ {
			if !in(i, j) {
				continue
			}
			k := i
			for k+1 < nu && in(k+1, j) {
				k++
			}
			runs = append(runs, box{i, k, j, j})
			i = k
		}
		var next []box
		for _, o := range open {
			grown := false
			for r := range runs {
				if runs[r].i0 == o.i0 && runs[r].i1 == o.i1 {
					runs[r].j0, grown = o.j0, true
				}
			}
			if !grown {
				done = append(done, o)
			}
		}
		next = append(next, runs...)
		open = next
	}
	return append(done, open...)
}

// sectionPicture draws a cut through a design by temperature.
func sectionPicture(ps *pictures, a atlas, name string, s model.Section) template.HTML {
	if !usable(s) {
		return ""
	}
	nu, nv := len(s.UPlanesM)-1, len(s.VPlanesM)-1
	const left, top = 8.0, 8.0
	x := func(u float64) float64 { return left + (u-a.u.lo)*a.unitsM }
	y := func(v float64) float64 { return top + (a.v.hi-v)*a.unitsM }
	picW, picH := (a.u.hi-a.u.lo)*a.unitsM, (a.v.hi-a.v.lo)*a.unitsM
	d := ps.start("section", sectionW, top+picH+34, "Section of "+name+" by temperature",
		fmt.Sprintf("Cut at %s = %s mm at the end of the session; darker is hotter. Sealed air is hatched.", axisName(s.Axis), figure(s.AtM*1000, 0.1)))
	hatch := fmt.Sprintf("air%d", ps.n)
	d.b.WriteString(`<defs><pattern id="` + hatch + `" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">` +
		`<rect width="5" height="5" fill="#fff" fill-opacity="0.5"/><rect width="1.6" height="5" fill="#fff" fill-opacity="0.75"/></pattern></defs>`)
	data := func(bs []box) string {
		var b strings.Builder
		for _, r := range bs {
			x0, x1, y0, y1 := x(s.UPlanesM[r.i0]), x(s.UPlanesM[r.i1+1]), y(s.VPlanesM[r.j1+1]), y(s.VPlanesM[r.j0])
			b.WriteString("M" + num(x0) + " " + num(y0) + "H" + num(x1) + "V" + num(y1) + "H" + num(x0) + "z")
		}
		return b.String()
	}
	level := make([]int, nu*nv)
	seen := make([]bool, warmthLevels)
	for c, t := range s.TK {
		level[c] = -1
		if s.Part[c] >= 0 && finite(t) {
			level[c] = min(int(a.degC.share(t-zeroC)*warmthLevels), warmthLevels-1)
			seen[level[c]] = true
		}
	}
	d.b.WriteString(`<g shape-rendering="crispEdges">`)
	for k := 0; k < warmthLevels; k++ {
		if seen[k] {
			d.path(data(boxes(nu, nv, func(i, j int) bool { return level[j*nu+i] >= k })), "",
				"fill", fromOKLab(warmth((float64(k)+0.5)/warmthLevels)).hex())
		}
	}
	airCells := boxes(nu, nv, func(i, j int) bool {
		p := s.Part[j*nu+i]
		return p >= 0 && p < len(s.Names) && air(s.Names[p])
	})
	if len(airCells) > 0 {
		d.path(data(airCells), "", "fill", "url(#"+hatch+")")
	}
	d.b.WriteString("</g>")
	d.path(outlines(s, nu, nv, x, y), "outline")
	partLabels(d, s, nu, nv, x, y, left+picW+16, top, top+picH)
	// Scale bar: a round length of at most half the picture's width.
	mm := tickStepBelow(picW / a.unitsM * 1000 / 2)
	bar := mm / 1000 * a.unitsM
	by := top + picH + 14
	d.path("M"+num(left)+" "+num(by-4)+"v8m0 -4h"+num(bar)+"m0 -4v8", "scalebar")
	d.text(left+bar+6, by+4, "start", "fig", figure(mm, math.Min(1, mm))+" mm")
	return d.end()
}

// tickStepBelow is the largest 1, 2 or 5 times a power of ten that does not exceed x.
func tickStepBelow(x float64) float64 {
	e := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{5, 2} {
		if m*e <= x {
			return m * e
		}
	}
	return e
}

func axisName(axis int) string {
	if axis < 0 || axis > 2 {
		return "?"
	}
	return "xyz"[axis : axis+1]
}

// outlines draws a line wherever the part changes, joined along rows and columns.
func outlines(s model.Section, nu, nv int, x, y func(float64) float64) string {
	part := func(i, j int) int {
		if i < 0 || j < 0 || i >= nu || j >= nv {
			return -1
		}
		return s.Part[j*nu+i]
	}
	var b strings.Builder
	for i := 0; i <= nu; i++ {
		for j := 0; j < nv; j++ {
			if part(i-1, j) == part(i, j) {
				continue
			}
			k := j
			for k+1 < nv && part(i-1, k+1) != part(i, k+1) {
				k++
			}
			b.WriteString("M" + num(x(s.UPlanesM[i])) + " " + num(y(s.VPlanesM[j])) + "V" + num(y(s.VPlanesM[k+1])))
			j = k
		}
	}
	for j := 0; j <= nv; j++ {
		for i := 0; i < nu; i++ {
			if part(i, j-1) == part(i, j) {
				continue
			}
			k := i
			for k+1 < nu && part(k+1, j-1) != part(k+1, j) {
				k++
			}
			b.WriteString("M" + num(x(s.UPlanesM[i])) + " " + num(y(s.VPlanesM[j])) + "H" + num(x(s.UPlanesM[k+1])))
			i = k
		}
	}
	return b.String()
}

// partLabels names the parts at the right of the picture with their mean temperature in the cut, the ten largest at most.
func partLabels(d *drawing, s model.Section, nu, nv int, x, y func(float64) float64, at, top, bottom float64) {
	type found struct {
		part              int
		area, sum, cu, cv float64
		au, av            float64 // where the leader points
	}
	all := make([]found, len(s.Names))
	each := func(do func(f *found, area, u, v, t float64)) {
		for j := 0; j < nv; j++ {
			for i := 0; i < nu; i++ {
				p, t := s.Part[j*nu+i], s.TK[j*nu+i]
				if p < 0 || p >= len(all) || !finite(t) {
					continue
				}
				do(&all[p], (s.UPlanesM[i+1]-s.UPlanesM[i])*(s.VPlanesM[j+1]-s.VPlanesM[j]),
					(s.UPlanesM[i]+s.UPlanesM[i+1])/2, (s.VPlanesM[j]+s.VPlanesM[j+1])/2, t)
			}
		}
	}
	each(func(f *found, area, u, v, t float64) {
		f.area, f.sum, f.cu, f.cv = f.area+area, f.sum+area*t, f.cu+area*u, f.cv+area*v
	})
	// The leader points at the part's cell nearest to its centroid; of equals, at the right-hand one.
	nearest := make([]float64, len(all))
	for p := range all {
		all[p].part, nearest[p] = p, math.Inf(1)
	}
	each(func(f *found, area, u, v, t float64) {
		if dist := math.Hypot(u-f.cu/f.area, v-f.cv/f.area); dist <= nearest[f.part]+1e-9 {
			nearest[f.part], f.au, f.av = dist, u, v
		}
	})
	var shown []found
	for _, f := range all {
		if f.area > 0 {
			shown = append(shown, f)
		}
	}
	sort.SliceStable(shown, func(i, j int) bool { return shown[i].area > shown[j].area })
	shown = shown[:min(len(shown), 10)]
	sort.SliceStable(shown, func(i, j int) bool { return shown[i].av > shown[j].av })
	want := make([]float64, len(shown))
	for i, f := range shown {
		want[i] = y(f.av)
	}
	places := apart(want, 15, top+6, bottom-4)
	uncross(len(shown), func(i, k int) float64 { return math.Hypot(at-5-x(shown[i].au), places[k]-y(shown[i].av)) },
		func(i int) { shown[i], shown[i+1] = shown[i+1], shown[i] })
	for i, ly := range places {
		f := shown[i]
		line := "M" + num(x(f.au)) + " " + num(y(f.av)) + "L" + num(at-5) + " " + num(ly) + "h3"
		d.path(line, "halo")
		d.path(line, "leader")
		d.add("circle", "class", "dot", "cx", num(x(f.au)), "cy", num(y(f.av)), "r", "1.8")
		name := s.Names[f.part]
		figure := DegC(f.sum / f.area)
		d.text(at+1, ly+4, "start", "label", figure+" "+cut(name, int((sectionW-at)/5.7)-runes(figure)-1))
	}
}

// colourBar draws the scale of the section pictures.
func colourBar(ps *pictures, a atlas) template.HTML {
	const w, left, right, top, high = 340.0, 10.0, 318.0, 6.0, 12.0
	d := ps.start("scale", w, 38, "Colour scale of the sections", "From "+figure(a.degC.lo, 1)+" °C, pale, to "+figure(a.degC.hi, 1)+" °C, dark.")
	d.b.WriteString(`<g shape-rendering="crispEdges">`)
	for k := 0; k < warmthLevels; k++ {
		x := left + (right-left)*float64(k)/warmthLevels
		d.rect(x, top, right-x, high, "", "fill", fromOKLab(warmth((float64(k)+0.5)/warmthLevels)).hex())
	}
	d.b.WriteString("</g>")
	for _, v := range ticks(a.degC.lo, a.degC.hi, 6, tens) {
		x := left + (right-left)*a.degC.share(v)
		d.line(x, top+high, x, top+high+4, "axis")
		d.text(x, top+high+16, "middle", "fig", figure(v, 1))
	}
	d.text(right+6, top+10, "start", "fig", "°C")
	return d.end()
}

package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strconv"
	"strings"

	"finwright/internal/compare"
	"finwright/internal/learn"
	"finwright/internal/session"
)

//go:embed page.html.tmpl
var pageText string

//go:embed page.css
var pageCSS string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// page is what the template prints: every figure already in words, every picture already drawn.
type page struct {
	CSS                           template.CSS
	Device, About, Setting        string
	Invented                      bool
	Verdict                       []string
	WattLessHead, Goal, DrawsNote string
	Rows                          []pageRow
	CurvesWide, CurvesNarrow      template.HTML
	Designs                       []pageDesign
	HasSections, HasCurves        bool
	ColourBar                     template.HTML
	Learned                       *pageLearned
	Limits                        []pageLimits
	Assumptions                   []pageAssumed
	AssumedNote                   string
	Findings, Cautions            []string
	Accounts                      []string
}

type pageRow struct {
	Name, About, Failed              string
	Anchor                           string // id of the design's own block; empty when it has none
	Minutes, End, EndClass, Chance   string
	Air                              string // up to which it is sure
	Own                              string
	Bar                              template.HTML
	Margin, MarginTo, Touch, TouchAt string
	Mass, WattLess, WattLessK        string
}

type pageDesign struct {
	Anchor, Name, About string
	Ends                []string
	Notes, Events       []string
	Section, Curves     template.HTML
	SectionNote         string
	Stair               []pageLeg
	StairTicks          template.HTML
	SourceC, AmbientC   string
	StairAt             string
	Watts               []pageWatt
	MadeW               string
	Crossings           []pageCrossing
	CurvesNote          string
}

type pageCrossing struct{ From, To, Joint, Heat, Lost string }

type pageAssumed struct {
	Word string
	List []compare.Assumption
}

type pageLeg struct {
	Name, Kind, Drop, Flow string
	Bar                    template.HTML
}

type pageWatt struct {
	Name, Watts, Split, Film string
	Bar                      template.HTML
}

type pageLearned struct {
	Unknowns []pageUnknown
	Rest     string
	Beyond   string
	Cause    *pageCause
	Runs     []pageRun
	FitNote  string
	Warnings []string
	Status   string
}

type pageCause struct {
	Head, Reference, ReferenceSeen, Verdict, Note string
	Runs                                          []pageCauseRun
	Against                                       bool
}

type pageCauseRun struct {
	Run, Seen, ByHeat, Odds string
	Against                 bool
}

type pageUnknown struct {
	Name, Path, Before, After, Narrowed, Source string
	Bar                                         template.HTML
}

type pageRun struct {
	Name string
	Fits []pageFit
}

type pageFit struct {
	What, Observed, Modelled, Score string
	Far                             bool
}

type pageLimits struct {
	Design, Rest string
	Rows         []pageLimit
}

type pageLimit struct {
	Name, At, Highest, Margin, Reached, Settles, Source string
	Passed                                              bool
}

// HTML writes the study as one page that needs nothing else: no script, no font, no picture from outside. It is
// well-formed XML as well, so other programs can read it.
func HTML(w io.Writer, s *compare.Study) error {
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, newPage(s)); err != nil {
		return fmt.Errorf("report page: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

func newPage(s *compare.Study) *page {
	ps := &pictures{}
	p := &page{CSS: template.CSS(pageCSS), Device: clean(s.Device), About: clean(s.About), Setting: clean(studySetting(s)), Invented: s.Invented,
		Verdict: cleanAll(s.Verdict), WattLessHead: upperFirst(wattLessHead(s.Rows)), Findings: cleanAll(s.Findings), Cautions: cleanAll(s.Cautions)}
	if finite(goalMin(s)) {
		p.Goal = goalName(s)
	}
	if s.Draws > 1 {
		p.DrawsNote = "“Lasts” is the share of " + plural(s.Draws, "draw", "draws") + " from what is not known exactly that reach the goal; bands and brackets hold 90 % of them."
	}
	counts := make([]string, 0, len(sourceKinds))
	for _, g := range assumedGroups(s.Assumptions) {
		pa := pageAssumed{Word: g.word}
		for _, a := range g.list {
			pa.List = append(pa.List, compare.Assumption{About: clean(a.About), Value: clean(a.Value), Source: clean(a.Source)})
		}
		p.Assumptions = append(p.Assumptions, pa)
		counts = append(counts, strconv.Itoa(len(g.list))+" "+lowerFirst(g.word))
	}
	p.AssumedNote = plural(len(s.Assumptions), "figure", "figures") + " the file leaves open: " + strings.Join(counts, "; ") + ". Within each group the widest doubt comes first."
	p.DrawsNote = strings.TrimSpace(strings.TrimSpace(p.DrawsNote+" "+clean(confirmedWords(s.Rows))) + " " + longerNote(s))
	p.CurvesWide = allCurves(ps, s, "wide", 860, 400, 7.6, 24)
	p.CurvesNarrow = allCurves(ps, s, "narrow", 340, 320, 6.3, 16)
	p.HasCurves = p.CurvesWide != ""
	shared, sections := newAtlas(s)
	if sections {
		p.ColourBar = colourBar(ps, shared)
		p.HasSections = true
	}
	for i, row := range s.Rows {
		pr := newRow(ps, s, row)
		if row.Result != nil && row.Failed == "" {
			pr.Anchor = fmt.Sprintf("design%d", i+1)
			p.Designs = append(p.Designs, newDesign(ps, s, row, pr.Anchor, shared, sections))
			if len(row.Result.Limits) > 0 {
				p.Limits = append(p.Limits, newLimits(row))
			}
			p.Accounts = append(p.Accounts, clean(row.Name)+": "+balanceWords(row.Result))
		}
		p.Rows = append(p.Rows, pr)
	}
	if s.Learned != nil {
		p.Learned = newLearned(ps, s.Learned)
	}
	return p
}

func cleanAll(list []string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = clean(s)
	}
	return out
}

// minus sets a true minus sign before figures.
func minus(s string) string {
	s = strings.ReplaceAll(s, "(-", "(−")
	s = strings.ReplaceAll(s, " -", " −")
	if strings.HasPrefix(s, "-") {
		s = "−" + s[1:]
	}
	return s
}

// together lets a figure break only before its bracketed interval.
func together(s string) string {
	const still = "\u00a0"
	return strings.ReplaceAll(strings.ReplaceAll(s, " ", still), still+"(", " (")
}

func endClass(k session.EndKind) string {
	switch {
	case lasts(k):
		return "good"
	case k == session.LimitPassed, k == session.Dimmed:
		return "uneasy"
	case k == session.Stopped:
		return "bad"
	}
	return ""
}

func newRow(ps *pictures, s *compare.Study, r compare.Row) pageRow {
	end := rowEnd(r)
	out := pageRow{Name: clean(r.Name), About: clean(r.About), Failed: clean(r.Failed), Minutes: together(Minutes(r.Minutes)), End: endWord(end), EndClass: endClass(end),
		Chance: chanceOf(r, s.Draws), Air: sureAir(r), Margin: together(minus(Margin(r.MarginK))), Touch: together(Celsius(r.SkinC)), TouchAt: clean(touchPlace(r)),
		Mass: minus(massWords(r.MassAddedKg)), Own: ownWords(r), WattLess: together(minus(wattLessGain(r))), WattLessK: wattLessCooler(r)}
	if l, ok := nearest(r.Result); ok {
		out.MarginTo = clean(l.Name)
	}
	if !finite(r.Minutes.Mid) {
		return out
	}
	scale := span{0, longestMin(s)}
	at := func(x float64) float64 { return 100 * scale.share(x) }
	d := ps.strip(r.Name + ": " + out.Minutes)
	if b := s.BatteryMin; finite(b.Lo) && finite(b.Hi) {
		d.rect(at(b.Lo), 0, at(b.Hi)-at(b.Lo), 10, "goalband")
	}
	d.rect(0, 3.6, at(r.Minutes.Mid), 2.8, "to "+out.EndClass)
	if finite(r.Minutes.Lo) && finite(r.Minutes.Hi) {
		d.rect(at(r.Minutes.Lo), 2, at(r.Minutes.Hi)-at(r.Minutes.Lo), 6, "doubt "+out.EndClass)
	}
	d.rect(math.Max(0, at(r.Minutes.Mid)-0.5), 1, 1, 8, "middle")
	if r.Minutes.Hi > scale.hi { // more than the scale holds
		d.path("M97.4 1.5L100 5L97.4 8.5z", "middle")
	}
	if g := goalMin(s); finite(g) {
		d.rect(at(g)-0.25, 0, 0.5, 10, "goalline")
	}
	out.Bar = d.end()
	return out
}

func newDesign(ps *pictures, s *compare.Study, row compare.Row, anchor string, shared atlas, sections bool) pageDesign {
	r := row.Result
	out := pageDesign{Anchor: anchor, Name: clean(row.Name), About: clean(row.About), Notes: cleanAll(row.Notes), Curves: ownCurves(ps, s, row)}
	for _, line := range runWords(r) {
		out.Ends = append(out.Ends, minus(clean(line)))
	}
	for _, e := range r.Events {
		out.Events = append(out.Events, AtMinute(e.AtS)+": "+minus(clean(e.What)))
	}
	if draws := drawsWords(row.EndKinds); draws != "" && s.Draws > 1 {
		out.Ends = append(out.Ends, "Of the draws: "+draws+".")
	}
	if words := causeWords(row); words != "" {
		out.Ends = append(out.Ends, minus(clean("At full power to the end, "+Margin(row.HeadroomK)+" are left of the nearest limit. What keeps that in doubt: "+words+".")))
	}
	if sections {
		if out.Section = sectionPicture(ps, shared, row.Name, r.Section); out.Section != "" {
			sec := r.Section
			out.SectionNote = fmt.Sprintf("Cut at %s = %s mm, %s to the right, %s up. Figures: mean of each part in this cut.",
				axisName(sec.Axis), figure(sec.AtM*1000, 0.1), clean(sec.UName), clean(sec.VName))
		}
	}
	degC, mostW := ledgerScales(s)
	newStair(ps, &out, &r.Ledger, degC)
	newWatts(ps, &out, &r.Ledger, mostW)
	crossings, _ := tellingCrossings(&r.Ledger)
	for _, x := range crossings {
		out.Crossings = append(out.Crossings, pageCrossing{clean(x.A), clean(x.B), clean(x.Joint), minus(Watts(x.FlowW)), minus(crossingDrop(x))})
	}
	if out.Curves != "" {
		out.CurvesNote = upperFirst(row.Name) + ": figures at " + AtMinute(endedS(r)) + ", when it ends" + strings.ReplaceAll(coolWords(r), "then cooling", "then it cools") + ". Dashed: the limit of the curve of the same colour."
	}
	return out
}

// ledgerScales finds the range of temperature (°C) and the largest flow (W) that the ledgers of all designs need, so that
// their pictures can be compared by eye.
func ledgerScales(s *compare.Study) (degC span, mostW float64) {
	degC, watts := emptySpan(), emptySpan()
	watts.show(1e-9)
	for _, row := range s.Rows {
		if row.Result == nil {
			continue
		}
		l := &row.Result.Ledger
		if finite(l.AmbientK) {
			degC.show(l.AmbientK-zeroC, l.AmbientK-zeroC+pathDropK(l))
		}
		watts.show(l.StoredW)
		for _, o := range l.Outflows {
			watts.show(o.HeatW, o.ConvW+o.RadW)
		}
	}
	degC.show(degC.lo + 0.1)
	return degC, watts.hi
}

// newStair makes the stair of degrees: one tread per leg, from the source at the right down to the ambient at the left.
func newStair(ps *pictures, out *pageDesign, l *session.Ledger, scale span) {
	legs := stairLegs(l)
	if len(legs) == 0 || !finite(l.AmbientK) {
		return
	}
	out.SourceC, out.AmbientC, out.StairAt = DegC(l.SourceK), DegC(l.AmbientK), AtMinute(l.AtS)
	at := func(share float64) float64 { return 100 * scale.share(l.AmbientK-zeroC+share*pathDropK(l)) }
	marks := ticks(scale.lo, scale.hi, 5, tens)
	for i, g := range legs {
		kind := clean(g.Kind)
		d := ps.strip(fmt.Sprintf("%s: %s", g.Name, drop(g.DropK)))
		for _, m := range marks {
			d.rect(100*scale.share(m)-0.15, 0, 0.3, 10, "rulebar")
		}
		class := "leg"
		switch g.Kind {
		case "joint", "air gap":
			class = "leg joint"
		case "film":
			class = "leg film"
		}
		d.rect(math.Min(at(g.to), 99.4), 2, math.Max(at(g.from)-at(g.to), 0.6), 8, class)
		if i > 0 { // the riser from the leg above
			d.rect(math.Min(at(g.from), 99.4)-0.3, 0, 0.6, 2, "riser")
		}
		out.Stair = append(out.Stair, pageLeg{clean(g.Name), kind, minus(drop(g.DropK)), minus(Watts(g.FlowW)), d.end()})
	}
	var b strings.Builder
	for _, m := range marks {
		fmt.Fprintf(&b, `<span style="left:%s%%">%s</span>`, num(100*scale.share(m)), minus(figure(m, 1)))
	}
	out.StairTicks = template.HTML(b.String())
}

// newWatts makes one bar per surface, most heat first.
func newWatts(ps *pictures, out *pageDesign, l *session.Ledger, mostW float64) {
	if len(l.Outflows) == 0 {
		return
	}
	out.MadeW = Watts(l.PowerW)
	scale := span{0, mostW}
	bar := func(title string, conv, rad, other float64) template.HTML {
		d := ps.strip(title)
		x := 0.0
		for _, part := range []struct {
			w     float64
			class string
		}{{conv, "conv"}, {rad, "rad"}, {other, "stored"}} {
			if finite(part.w) && part.w > 0 {
				wide := 100 * scale.share(part.w)
				d.rect(x, 1.5, wide, 7, part.class)
				x += wide
			}
		}
		return d.end()
	}
	for _, o := range tellingOutflows(l) {
		pw := pageWatt{Name: clean(o.Name), Watts: minus(Watts(o.HeatW)), Split: DegC(o.MeanK)}
		pw.Film = clean(filmWords(o))
		if finite(o.ConvW) && finite(o.RadW) && o.ConvW+o.RadW > 0 {
			pw.Bar = bar(o.Name+": "+Watts(o.ConvW)+" to moving air, "+Watts(o.RadW)+" radiated", o.ConvW, o.RadW, 0)
		} else {
			pw.Bar = bar(o.Name+": "+Watts(o.HeatW), o.HeatW, 0, 0)
		}
		out.Watts = append(out.Watts, pw)
	}
	if finite(l.StoredW) && math.Abs(l.StoredW) >= 0.005 {
		out.Watts = append(out.Watts, pageWatt{Name: "still warming the device", Watts: minus(Watts(l.StoredW)), Bar: bar("stored: "+Watts(l.StoredW), 0, 0, l.StoredW)})
	}
}

func newLimits(row compare.Row) pageLimits {
	told, rest := tellingLimits(row.Result)
	out := pageLimits{Design: clean(row.Name), Rest: rest}
	for _, l := range told {
		out.Rows = append(out.Rows, pageLimit{clean(l.Name), together(DegC(l.LimitK)), together(DegC(l.HighestK)), together(minus(Kelvins(l.MarginK))), together(AtMinute(l.ReachedS)),
			together(DegC(l.SettleK)), clean(l.Source), used(l)})
	}
	return out
}

func newLearned(ps *pictures, l *learn.Result) *pageLearned {
	taught, rest := taughtMost(l.Unknowns)
	out := &pageLearned{Rest: untaughtWords(rest, l.Silent), Beyond: clean(beyondWords(l.Unknowns)), Warnings: cleanAll(l.Warnings), FitNote: fitNote, Status: clean(learnedStatus(l))}
	for _, u := range taught {
		at := unknownScale(u)
		x := func(v float64) float64 { return 2 + 96*at(v) }
		pu := pageUnknown{Name: clean(unknownName(u)), Source: clean(u.Source), Narrowed: percent(u.Narrowed),
			Before: together(minus(learnedWords(u.Dim, u.PriorLo, u.PriorMid, u.PriorHi))), After: together(minus(learnedWords(u.Dim, u.Lo, u.Mid, u.Hi)))}
		if u.About != "" {
			pu.Path = clean(u.Path)
		}
		d := ps.strip(unknownName(u) + ": before " + pu.Before + ", after " + pu.After)
		stretch := func(lo, hi, y, h float64, class string) {
			if finite(lo) && finite(hi) && hi >= lo {
				d.rect(x(lo), y, math.Max(x(hi)-x(lo), 0.8), h, class)
			}
		}
		stretch(u.PriorLo, u.PriorHi, 4.2, 1.6, "before")
		stretch(u.Lo, u.Hi, 2, 6, "after")
		if finite(u.Mid) {
			d.rect(x(u.Mid)-0.5, 1, 1, 8, "middle")
		}
		pu.Bar = d.end()
		out.Unknowns = append(out.Unknowns, pu)
	}
	if e := l.Cause; e == nil && stopSeen(l.Fits) {
		out.Cause = &pageCause{Head: causeHead, Verdict: causeUntold}
	} else if e != nil {
		out.Cause = &pageCause{Head: causeHead, Reference: clean(e.Reference), ReferenceSeen: clean(e.ReferenceSeen), Verdict: clean(causeVerdict(e)), Note: causeNote, Against: e.Log10Odds < 0}
		for _, r := range e.Runs {
			out.Cause.Runs = append(out.Cause.Runs, pageCauseRun{clean(r.Run), clean(r.Seen), clean(r.ByHeat), clean(r.Odds), r.Log10Odds < 0})
		}
	}
	for _, r := range fitsByRun(l.Fits) {
		run := pageRun{Name: clean(r.name)}
		for _, f := range r.lines {
			run.Fits = append(run.Fits, pageFit{clean(f.what), clean(f.observed), clean(f.modelled), minus(f.scores()), finite(f.worst) && math.Abs(f.worst) > 2})
		}
		out.Runs = append(out.Runs, run)
	}
	return out
}

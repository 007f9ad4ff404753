// Command table reads the bench's rows on standard input and prints them as one table, or as JSON with the derived figures.
//
//	cat rows | table [-json] [-tried]
package main

import (
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"text/tabwriter"

	"finwright/bench/exchange"
)

// leastB is the traffic to memory, bytes per cell and iteration, of a solver that wastes none: multigrid-preconditioned
// conjugate gradients with one relaxation before and one after on the finest level, in float64 throughout, coarse levels free:
//
//	q = A p                 operator 32, p 8, q 8           48
//	x += α p, r −= α q      x 16, r 16, p 8, q 8            48
//	p = z + β p             z 8, p 16                       24
//	relax and restrict      operator 32, r 8, z 8           48
//	correct and relax       operator 32, r 8, z 16          56
const leastB = 224

// line is a row of the step with what follows from it and the others of its case.
type line struct {
	exchange.Row
	CellS      float64 `json:"cellS,omitempty"`      // solve, s per cell
	CellB      float64 `json:"cellB,omitempty"`      // live bytes per cell
	Ratio      float64 `json:"ratio,omitempty"`      // its solve over ours on two cores
	RatioWhole float64 `json:"ratioWhole,omitempty"` // the same with set-up
	LimitShare float64 `json:"limitShare,omitempty"` // least traffic over what the triad moves in the solve's time
}

// growth is how a solver's figures grow over the layered cubes.
type growth struct {
	Solver     string  `json:"solver"`
	Exponent   float64 `json:"exponent"`   // of solve time against cells, least squares in logarithms
	Iterations float64 `json:"iterations"` // of the largest over those of the smallest
	Sizes      int     `json:"sizes"`
}

// result is everything, for -json.
type result struct {
	TriadBytesPerS float64        `json:"triadBytesPerS,omitempty"`
	Step           []line         `json:"step"`
	Growth         []growth       `json:"growth"`
	Other          []exchange.Row `json:"other"` // transients, sessions, reduced model
	Tried          []exchange.Row `json:"tried"` // settings of the peers
}

const oursTwo = "finwright, 2 cores"

func main() {
	asJSON := flag.Bool("json", false, "print JSON")
	tried := flag.Bool("tried", false, "list the peers' settings that were tried, too")
	flag.Parse()
	rows, err := exchange.ReadRows(os.Stdin)
	if err == nil {
		res := derive(rows)
		if *asJSON {
			e := json.NewEncoder(os.Stdout)
			e.SetIndent("", "  ")
			err = e.Encode(res)
		} else {
			err = res.print(os.Stdout, *tried)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "table:", err)
		os.Exit(1)
	}
}

// derive works the figures out that need more than one row.
func derive(rows []exchange.Row) result {
	res := result{Step: []line{}, Growth: []growth{}, Other: []exchange.Row{}, Tried: []exchange.Row{}}
	ours := map[string]exchange.Row{}
	for _, r := range rows {
		switch {
		case r.Part == "limit":
			res.TriadBytesPerS = r.BytesPerS
		case r.Part == "step" && r.Solver == oursTwo:
			ours[r.Case] = r
		}
	}
	for _, r := range rows {
		switch r.Part {
		case "step":
			l := line{Row: r}
			if r.SolveS > 0 {
				l.CellS, l.CellB = r.SolveS/float64(r.Cells), r.LiveB/float64(r.Cells)
				if o, ok := ours[r.Case]; ok {
					l.Ratio, l.RatioWhole = r.SolveS/o.SolveS, (r.SetupS+r.SolveS)/(o.SetupS+o.SolveS)
				}
				if res.TriadBytesPerS > 0 {
					l.LimitShare = leastB * float64(r.Iterations) * float64(r.Cells) / res.TriadBytesPerS / r.SolveS
				}
			}
			res.Step = append(res.Step, l)
		case "transient", "session", "reduced":
			res.Other = append(res.Other, r)
		case "tried":
			res.Tried = append(res.Tried, r)
		}
	}
	res.Growth = growths(res.Step)
	return res
}

// growths fits every solver's layered cubes that were solved.
func growths(step []line) []growth {
	out := []growth{}
	var order []string
	of := map[string][]line{}
	for _, l := range step {
		if strings.HasPrefix(l.Case, "layers-") && l.SolveS > 0 {
			if of[l.Solver] == nil {
				order = append(order, l.Solver)
			}
			of[l.Solver] = append(of[l.Solver], l)
		}
	}
	for _, name := range order {
		ls := of[name]
		if len(ls) < 2 {
			continue
		}
		first, last := ls[0], ls[0]
		var n, sx, sy, sxx, sxy float64
		for _, l := range ls {
			x, y := math.Log(float64(l.Cells)), math.Log(l.SolveS)
			n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
			if l.Cells < first.Cells {
				first = l
			}
			if l.Cells > last.Cells {
				last = l
			}
		}
		if first.Cells == last.Cells {
			continue
		}
		out = append(out, growth{name, (n*sxy - sx*sy) / (n*sxx - sx*sx), float64(last.Iterations) / float64(first.Iterations), len(ls)})
	}
	return out
}

func (res result) print(out io.Writer, tried bool) error {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	if res.TriadBytesPerS > 0 {
		fmt.Fprintf(w, "Triad on two threads: %.1f GB/s\n\n", res.TriadBytesPerS/1e9)
	}
	if len(res.Step) > 0 {
		fmt.Fprintln(w, "One implicit step to 1e-8")
		fmt.Fprintln(w, "case\tsolver\tcells\tsolve s\tµs/cell\titerations\tset-up s\tB/cell\tpeak GB\tresidual\tto ours\t×\t× with set-up\tof limit\tsetting")
		for _, l := range res.Step {
			if l.Note != "" {
				fmt.Fprintf(w, "%s\t%s\t%d\t%s\n", l.Case, l.Solver, l.Cells, l.Note)
				continue
			}
			fmt.Fprintf(w, "%s\t%s\t%d\t%.4f\t%.3f\t%d\t%.4f\t%.0f\t%.2f\t%.1e\t%s\t%.2f\t%.2f\t%s\t%s\n", l.Case, l.Solver, l.Cells, l.SolveS, l.CellS*1e6,
				l.Iterations, l.SetupS, l.CellB, l.PeakB/1e9, l.RelResidual, maybe(l.OffRel, "%.0e"), l.Ratio, l.RatioWhole, percent(l.LimitShare), l.Setting)
		}
		fmt.Fprintln(w)
	}
	if len(res.Growth) > 0 {
		fmt.Fprintln(w, "Growth over the layered cubes\tsizes\ttime against cells\titerations, largest over smallest")
		for _, g := range res.Growth {
			fmt.Fprintf(w, "%s\t%d\texponent %.3f\t%.2f\n", g.Solver, g.Sizes, g.Exponent, g.Iterations)
		}
		fmt.Fprintln(w)
	}
	if len(res.Other) > 0 {
		fmt.Fprintln(w, "Transients, sessions, reduced model")
		fmt.Fprintln(w, "case\tsolver\tcells\ts\tset-up s\tsteps\titerations\tworst error K\tsetting")
		for _, r := range res.Other {
			if r.Draws > 0 {
				r.Setting = strings.TrimSpace(fmt.Sprintf("%d draws; %s", r.Draws, r.Setting))
			}
			fmt.Fprintf(w, "%s\t%s\t%d\t%.5f\t%.3f\t%d\t%d\t%s\t%s\n", r.Case, r.Solver, r.Cells, r.SolveS, r.SetupS, r.Steps, r.Iterations, maybe(r.OffK, "%.5f"), r.Setting)
		}
	}
	if tried && len(res.Tried) > 0 {
		fmt.Fprintln(w, "\nSettings of the peers that were tried")
		fmt.Fprintln(w, "case\tsolver\tsolve s\tset-up s\titerations\tB/cell\tsetting\tnote")
		for _, r := range res.Tried {
			fmt.Fprintf(w, "%s\t%s\t%.4f\t%.4f\t%d\t%.0f\t%s\t%s\n", r.Case, r.Solver, r.SolveS, r.SetupS, r.Iterations, r.LiveB/float64(r.Cells), r.Setting, r.Note)
		}
	}
	return w.Flush()
}

func maybe(v *float64, format string) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf(format, *v)
}

func percent(share float64) string {
	if share == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f %%", 100*share)
}

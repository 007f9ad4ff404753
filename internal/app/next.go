package app

import (
	"context"
	"errors"
	"fmt"
	"math"

	"finwright/internal/advise"
	"finwright/internal/compare"
	"finwright/internal/device"
	"finwright/internal/learn"
)

// NextOptions steer Next.
type NextOptions struct {
	Design string // the retrofit to decide about, or "stock"; "": the likeliest to last of those about which there is doubt
	UntilS float64
	Draws  int // 0: 400 for one design, 200 where all have to be compared first
	Seed   uint64
}

// Shares of the time that Next takes: learning, comparing, the measurements.
const nextLearns, nextCompares = 0.3, 0.4

// Next says which measurement to make next: the one that is expected to shrink the doubt in whether a design lasts most, per minute of
// effort.
func Next(ctx context.Context, path string, opt NextOptions, tell Tell) (*advise.Advice, error) {
	f, err := device.Load(path)
	if err != nil {
		return nil, err
	}
	var only []string
	if opt.Design != "" {
		only = []string{opt.Design}
		if opt.Design != "stock" {
			if _, _, err := f.Variant(opt.Design); err != nil {
				return nil, err
			}
		}
	}
	if opt.Draws <= 0 {
		opt.Draws = 200
		if opt.Design != "" {
			opt.Draws = 400
		}
	}
	learned, _, err := learnFile(ctx, f, LearnOptions{opt.Seed, opt.Draws}, func(task string, done, total float64) { tell.say(task, nextLearns*done/total, 1) })
	if err != nil && !errors.Is(err, learn.ErrNothing) {
		return nil, err
	}
	st, err := compare.Compare(ctx, f, learned, compare.Options{Only: only, UntilS: opt.UntilS, Draws: opt.Draws, Seed: opt.Seed,
		Progress: func(done, expected int, what string) {
			tell.say("comparing: "+what, nextLearns+nextCompares*float64(done)/float64(expected), 1)
		}})
	if err != nil {
		return nil, err
	}
	row := toDecide(st, opt.Design)
	if row == nil || len(row.Headrooms) == 0 {
		why := "it has no limit that could stop it"
		if row != nil && row.Failed != "" {
			why = row.Failed
		}
		return nil, fmt.Errorf("%s: there is nothing to decide about %s: %s", path, named(opt.Design), why)
	}
	var best device.Values
	var draws []device.Values
	if learned != nil {
		best, draws = learned.Best, learned.Draws
	}
	mode := ""
	if row.Result != nil {
		mode = row.Result.Mode
	}
	before := nextLearns + nextCompares
	a, err := advise.Advise(ctx, f, advise.Decision{Design: row.Name, HeadroomK: row.Headrooms, Unknowns: row.Unknowns, Mode: mode}, advise.Options{Best: best, Learned: draws, Seed: opt.Seed,
		Progress: func(done, expected int, what string) {
			tell.say("measurements in "+what, before+(1-before)*float64(done)/float64(expected), 1)
		}})
	if errors.Is(err, advise.ErrFew) {
		return nil, fmt.Errorf("%s: %s: %w: give it a sensor that stops it, or a limit, and some figures with doubt", path, named(row.Name), err)
	}
	return a, err
}

func named(design string) string {
	if design == "" {
		return "the device"
	}
	return "“" + design + "”"
}

// toDecide is the design asked for. Where none is, the likeliest to last of those that may or may not last; where all is clear, the likeliest.
// The stock device only where there is nothing else.
func toDecide(st *compare.Study, design string) *compare.Row {
	rank := func(row *compare.Row) int {
		switch {
		case row.Name == "stock":
			return 0
		case row.Chance > 0.9 || row.Chance < 0.1:
			return 1
		}
		return 2
	}
	var best *compare.Row
	for i := range st.Rows {
		row := &st.Rows[i]
		switch {
		case design != "":
			if row.Name == design {
				return row
			}
		case row.Failed != "" || math.IsNaN(row.Chance):
		case best == nil || rank(row) > rank(best),
			rank(row) == rank(best) && (row.Chance > best.Chance || row.Chance == best.Chance && row.HeadroomK.Mid > best.HeadroomK.Mid):
			best = row
		}
	}
	return best
}

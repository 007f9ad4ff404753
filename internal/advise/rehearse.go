package advise

import (
	"context"
	"errors"
	"math"
	"sort"

	"finwright/internal/device"
	"finwright/internal/model"
)

// ReadsAt is what every ranked measurement would read, without its error, on the device as it is if its values were v: from 3-D runs in
// a room and before a fan. With a device of known values it tries the advice out.
func (a *Advice) ReadsAt(ctx context.Context, v device.Values) ([]float64, error) {
	if a.designs[0] == nil {
		return nil, errors.New("advise: this advice was not made by Advise")
	}
	d := drawn{values: v}
	var err error
	if d.still, err = a.designs[0].Ask3D(ctx, v, model.Fineness{}); err != nil {
		return nil, err
	}
	if d.fan, err = a.designs[1].Ask3D(ctx, v, model.Fineness{}); err != nil {
		return nil, err
	}
	d.partKg = d.still.PartKg
	out := make([]float64, len(a.Ranked))
	for i := range a.Ranked {
		out[i] = a.Ranked[i].read(&d)
	}
	return out, nil
}

// ErrorSD is the standard deviation of ranked measurement i's reading, in its own unit or, for a time, in its logarithm; what the
// model cannot know is in it.
func (a *Advice) ErrorSD(i int) float64 { return a.Ranked[i].errorSD }

// Given is the 90 % interval of the headroom once ranked measurement i has read what ReadsAt gives, with an error: the draws weighed by how
// well they agree with the reading (importance sampling of the posterior). draws is what the weighed draws are worth (Kish, Survey
// Sampling, 1965, §11.7); below some twenty the interval means little.
func (a *Advice) Given(i int, reading float64) (loK, hiK, draws float64) {
	w := make([]float64, len(a.answer))
	least := math.Inf(1)
	for k, r := range a.readings[i] {
		z := (r - reading) / a.Ranked[i].errorSD
		w[k] = z * z / 2
		least = math.Min(least, w[k])
	}
	sum, sum2 := 0.0, 0.0
	order := make([]int, len(w))
	for k := range w {
		order[k] = k
		w[k] = math.Exp(least - w[k])
		sum, sum2 = sum+w[k], sum2+w[k]*w[k]
	}
	sort.SliceStable(order, func(x, y int) bool { return a.answer[order[x]] < a.answer[order[y]] })
	at := func(share float64) float64 { // by straight lines between the middles of the steps of the weighed distribution
		before, below := math.NaN(), 0.0
		for n, k := range order {
			mid := (below + w[k]/2) / sum
			if mid >= share {
				if n == 0 {
					return a.answer[k]
				}
				last := order[n-1]
				return a.answer[last] + (share-before)/(mid-before)*(a.answer[k]-a.answer[last])
			}
			before, below = mid, below+w[k]
		}
		return a.answer[order[len(order)-1]]
	}
	return at(0.05), at(0.95), sum * sum / sum2
}

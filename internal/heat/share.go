package heat

import (
	"runtime"

	"finwright/internal/work"
)

// share runs passes over all cells on the processors of the linear solver. How
// cells are cut into pieces depends on their number alone, and sums are added up
// piece by piece: results do not depend on the number of workers.
type share struct {
	cells int
	crew  *work.Crew[*share]
	part  [][2]float64 // per piece
	pass  pass
}

const (
	cellsPerPiece = 8192
	// sharedFrom: fewer cells are done before another processor has been told of them.
	sharedFrom = 50_000
)

// newShare prepares for so many cells; workers 0 takes all processors for a large body.
func newShare(cells, workers int) *share {
	if workers == 0 {
		workers = 1
		if cells >= sharedFrom {
			workers = runtime.GOMAXPROCS(0)
		}
	}
	return &share{cells: cells, crew: work.NewCrew[*share](workers), part: make([][2]float64, (cells+cellsPerPiece-1)/cellsPerPiece)}
}

// pass does cells lo … hi-1 and gives what is to be summed, or the largest of. One
// that is called in every step should be a stored value: a closure made for the
// call is an allocation.
type pass func(lo, hi int) (a, b float64)

func (s *share) run(p pass) {
	s.pass = p
	s.crew.Do(len(s.part), s, func(s *share, i int) {
		s.part[i][0], s.part[i][1] = s.pass(i*cellsPerPiece, min((i+1)*cellsPerPiece, s.cells))
	})
	s.pass = nil
}

// sum adds up what the pieces give.
func (s *share) sum(p pass) (a, b float64) {
	s.run(p)
	for _, p := range s.part {
		a += p[0]
		b += p[1]
	}
	return a, b
}

// most is the largest a that the pieces give, 0 at least.
func (s *share) most(p pass) (a float64) {
	s.run(p)
	for _, p := range s.part {
		if !(p[0] <= a) { // what is no number shows
			a = p[0]
		}
	}
	return a
}

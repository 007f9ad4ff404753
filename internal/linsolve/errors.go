package linsolve

import "fmt"

// OperatorError says why an operator or a call cannot be used.
type OperatorError struct {
	Grid Grid
	Cell int // -1 when no single cell is to blame
	What string
}

func (e *OperatorError) Error() string {
	if e.Cell < 0 {
		return fmt.Sprintf("linear operator on %d x %d x %d cells: %s", e.Grid.NX, e.Grid.NY, e.Grid.NZ, e.What)
	}
	i, j, k := e.Grid.Coordinates(e.Cell)
	return fmt.Sprintf("linear operator at cell (%d, %d, %d): %s", i, j, k, e.What)
}

// Singular says that a connected group of cells has no positive Diag anywhere,
// so that any constant may be added to its solution.
type Singular struct {
	Grid Grid
	Cell int // one cell of the group
}

func (e *Singular) Error() string {
	i, j, k := e.Grid.Coordinates(e.Cell)
	return fmt.Sprintf("the equations have no unique solution: the cells connected with cell (%d, %d, %d) have neither "+
		"capacity nor any connection to a fixed value; give at least one of them a positive Diag", i, j, k)
}

// NotConverged says that a solve ended above the wanted residual; dst holds
// the last iterate.
type NotConverged struct {
	Stats  Stats
	Target float64 // the residual norm that was wanted
	// Rounding is set when the solution is as good as double precision allows,
	// and only the tolerance asked for more: ‖A‖·‖x‖·1e-16 is no longer small
	// against the target.
	Rounding bool
	Cause    string
}

func (e *NotConverged) Error() string {
	return fmt.Sprintf("linear solve stopped after %d iterations with residual %.3g, wanted %.3g: %s",
		e.Stats.Iterations, e.Stats.Residual, e.Target, e.Cause)
}

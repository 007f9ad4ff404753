package exchange

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// Row is one line of the bench's table. What does not apply is absent.
type Row struct {
	Part    string `json:"part"` // "limit", "step", "transient", "session", "reduced"
	Case    string `json:"case"`
	Solver  string `json:"solver"`
	Setting string `json:"setting,omitempty"`
	Note    string `json:"note,omitempty"` // why there are no figures

	Cells       int      `json:"cells,omitempty"`
	SetupS      float64  `json:"setupS,omitempty"`
	SolveS      float64  `json:"solveS,omitempty"`
	Iterations  int      `json:"iterations,omitempty"`
	Steps       int      `json:"steps,omitempty"`
	LiveB       float64  `json:"liveB,omitempty"` // held once solved, operator, right-hand side and solution included
	PeakB       float64  `json:"peakB,omitempty"` // most the processes ever held
	RelResidual float64  `json:"relResidual,omitempty"`
	OffRel      *float64 `json:"offRel,omitempty"` // ‖x − ours‖/‖ours‖
	OffK        *float64 `json:"offK,omitempty"`   // worst temperature difference to the reference
	BytesPerS   float64  `json:"bytesPerS,omitempty"`
	Draws       int      `json:"draws,omitempty"`
}

// Write appends the row as one line of JSON.
func (r Row) Write(w io.Writer) error { return json.NewEncoder(w).Encode(r) }

// ReadRows reads lines written by Write.
func ReadRows(r io.Reader) ([]Row, error) {
	var rows []Row
	d := json.NewDecoder(bufio.NewReader(r))
	for {
		var row Row
		switch err := d.Decode(&row); {
		case errors.Is(err, io.EOF):
			return rows, nil
		case err != nil:
			return nil, fmt.Errorf("line %d of the results: %w", len(rows)+1, err)
		}
		rows = append(rows, row)
	}
}

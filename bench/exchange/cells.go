// Package exchange is what the bench's programs hand to each other: files of cell arrays and rows of results.
package exchange

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"

	"finwright/internal/linsolve"
)

// A cell file is this word, four little-endian int64 (NX, NY, NZ, number of arrays), then the arrays of one float64 per cell in
// linsolve.Grid's layout. bench/peers/slab.h reads and writes the same.
const magic = "FWCELLS1"

// chunk is how many values are turned into bytes at a time.
const chunk = 1 << 15

// WriteCells writes arrays of one value per cell.
func WriteCells(path string, g linsolve.Grid, arrays ...[]float64) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	w := bufio.NewWriterSize(f, 1<<20)
	head := binary.LittleEndian.AppendUint64([]byte(magic), uint64(g.NX))
	for _, v := range []int{g.NY, g.NZ, len(arrays)} {
		head = binary.LittleEndian.AppendUint64(head, uint64(v))
	}
	if _, err := w.Write(head); err != nil {
		return err
	}
	buf := make([]byte, 0, 8*chunk)
	for _, a := range arrays {
		if len(a) != g.Cells() {
			return fmt.Errorf("%s: %d values for %d cells", path, len(a), g.Cells())
		}
		for len(a) > 0 {
			n := min(chunk, len(a))
			buf = buf[:0]
			for _, v := range a[:n] {
				buf = binary.LittleEndian.AppendUint64(buf, math.Float64bits(v))
			}
			if _, err := w.Write(buf); err != nil {
				return err
			}
			a = a[n:]
		}
	}
	return w.Flush()
}

// ReadCells reads a whole cell file.
func ReadCells(path string) (linsolve.Grid, [][]float64, error) {
	var g linsolve.Grid
	f, err := os.Open(path)
	if err != nil {
		return g, nil, err
	}
	defer f.Close() // only read from
	info, err := f.Stat()
	if err != nil {
		return g, nil, err
	}
	r := bufio.NewReaderSize(f, 1<<20)
	head := make([]byte, len(magic)+4*8)
	if _, err := io.ReadFull(r, head); err != nil || string(head[:len(magic)]) != magic {
		return g, nil, fmt.Errorf("%s is not a cell file", path)
	}
	word := func(i int) int { return int(binary.LittleEndian.Uint64(head[len(magic)+8*i:])) }
	g = linsolve.Grid{NX: word(0), NY: word(1), NZ: word(2)}
	if info.Size() != int64(len(head))+8*int64(g.Cells())*int64(word(3)) {
		return g, nil, fmt.Errorf("%s is not as long as it says", path)
	}
	arrays := make([][]float64, word(3))
	buf := make([]byte, 8*chunk)
	for i := range arrays {
		a := make([]float64, g.Cells())
		arrays[i] = a
		for len(a) > 0 {
			n := min(chunk, len(a))
			if _, err := io.ReadFull(r, buf[:8*n]); err != nil {
				return g, nil, fmt.Errorf("%s: %w", path, err)
			}
			for k := range n {
				a[k] = math.Float64frombits(binary.LittleEndian.Uint64(buf[8*k:]))
			}
			a = a[n:]
		}
	}
	return g, arrays, nil
}

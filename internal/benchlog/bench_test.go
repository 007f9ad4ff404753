package benchlog

import (
	"io"
	"math"
	"runtime"
	"strconv"
	"testing"
	"time"
)

// endless writes rows of an invented run as they are read: no file is needed for ten million of them.
type endless struct {
	dated     bool
	row, rows int
	buf, rest []byte
}

func (e *endless) Read(p []byte) (int, error) {
	if len(e.rest) == 0 {
		if e.row > e.rows {
			return 0, io.EOF
		}
		e.buf = e.buf[:0]
		for len(e.buf) < 32<<10 && e.row <= e.rows {
			if e.row == 0 {
				e.buf = append(e.buf, "time [s];chip [°C];case [°C];room [°C]\n"...)
			} else {
				i := e.row - 1
				if e.dated {
					e.buf = time.Unix(1710252310+int64(i/10), int64(i%10)*1e8).UTC().AppendFormat(e.buf, "2006-01-02 15:04:05.0")
				} else {
					e.buf = strconv.AppendFloat(e.buf, float64(i)/10, 'f', 1, 64)
				}
				for k := 0.0; k < 3; k++ {
					e.buf = append(e.buf, ';')
					e.buf = strconv.AppendFloat(e.buf, 23+40/(k+1)*(1-math.Exp(-float64(i)/5e6)), 'f', 2, 64)
				}
				e.buf = append(e.buf, '\n')
			}
			e.row++
		}
		e.rest = e.buf
	}
	n := copy(p, e.rest)
	e.rest = e.rest[n:]
	return n, nil
}

// The readings of a stream must be those of its formula, thinned.
func TestStreamIsThinned(t *testing.T) {
	const rows = 200000
	log, err := Read("x", &endless{rows: rows})
	if err != nil {
		t.Fatal(err)
	}
	if log.Summary.Rows != rows || len(log.Columns) != 3 {
		t.Fatalf("%d rows of %v", log.Summary.Rows, log.Columns)
	}
	tr := log.Traces["chip"]
	if len(tr.TimeS) > 2*LogPoints+1 {
		t.Errorf("%d points are kept, at most %d should be", len(tr.TimeS), 2*LogPoints)
	}
	for k, s := range tr.TimeS {
		want := 296.15 + 40*(1-math.Exp(-s*10/5e6))
		if math.Abs(tr.ValueK[k]-want) > 0.006 { // half of the last digit, and the curve within a bin
			t.Fatalf("at %v s %v K, want %v", s, tr.ValueK[k], want)
		}
	}
}

// BenchmarkTenMillionRows reads ten million rows of three channels; B/heap is the largest heap seen on the way.
func BenchmarkTenMillionRows(b *testing.B) {
	for _, dated := range []bool{false, true} {
		b.Run(map[bool]string{false: "seconds", true: "dates"}[dated], func(b *testing.B) {
			most := uint64(0)
			for b.Loop() {
				g, err := NewGuess("x", head(b, dated), Options{})
				if err != nil {
					b.Fatal(err)
				}
				sink := &watched{Bins: NewBins(len(g.Channels()), LogPoints)}
				sum, err := g.Stream(&endless{dated: dated, rows: 1e7}, sink)
				if err != nil || sum.Rows != 1e7 {
					b.Fatal(sum, err)
				}
				most = max(most, sink.most)
			}
			b.ReportMetric(float64(most)/1e6, "MB-heap")
		})
	}
}

func head(b *testing.B, dated bool) []byte {
	h := make([]byte, HeadBytes)
	n, err := io.ReadFull(&endless{dated: dated, rows: 1e7}, h)
	if err != nil {
		b.Fatal(n, err)
	}
	return h
}

// watched looks at the heap now and then.
type watched struct {
	*Bins
	rows int
	most uint64
}

func (w *watched) Row(tS float64, value []float64, why []Reason) error {
	if w.rows++; w.rows%1000000 == 0 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		w.most = max(w.most, m.Sys)
	}
	return w.Bins.Row(tS, value, why)
}

package benchlog

import "math"

// LogPoints is how many points of a channel Read keeps at most.
const LogPoints = 20000

// allPoints bounds the points of all channels together: pictures have thousands of channels. fewPoints are kept of each anyway.
const (
	allPoints = 1000000
	fewPoints = 500
)

// maxEvents bounds what a log full of text can ask for.
const maxEvents = 10000

// Point is one reading, or the average of several that follow each other.
type Point struct {
	TimeS         float64 // mean of their times
	Mean          float64 // in the unit of the channel's Kind: K for temperatures
	Min, Max, Std float64 // Std is the standard deviation within the point; 0 for a single reading
	N             int
}

// Bins is a Sink that keeps at most a given number of points a channel, in one pass and in constant memory: while there are
// few rows every reading is a point of its own, and each time there are twice too many, the bins become twice as wide.
type Bins struct {
	Events []Event

	limit    int
	widthS   float64 // 0: each reading alone
	channels []binned
}

// binned is one channel: finished points with the sum of squares about their means in Std until they are handed out.
type binned struct {
	done []Point
	open Point
	bin  float64 // number of the open bin
	any  bool
}

// NewBins makes a sink of so many channels with at most points points in each.
func NewBins(channels, points int) *Bins {
	return &Bins{limit: max(points, 2), channels: make([]binned, channels)}
}

// Row takes a row's readings.
func (b *Bins) Row(tS float64, value []float64, why []Reason) error {
	for i := range b.channels {
		if why[i] == Present {
			b.add(&b.channels[i], Point{tS, value[i], value[i], value[i], 0, 1})
		}
	}
	return nil
}

// Event keeps a line of text.
func (b *Bins) Event(e Event) {
	if len(b.Events) < maxEvents {
		b.Events = append(b.Events, e)
	}
}

func (b *Bins) add(c *binned, p Point) {
	if b.widthS == 0 {
		c.done = append(c.done, p)
		if len(c.done) >= 2*b.limit {
			b.widen()
		}
		return
	}
	c.put(p, b.widthS)
	if len(c.done) >= 2*b.limit {
		b.widen()
	}
}

func (c *binned) put(p Point, widthS float64) {
	bin := math.Floor(p.TimeS / widthS)
	if c.any && bin == c.bin {
		c.open = c.open.with(p)
		return
	}
	if c.any {
		c.done = append(c.done, c.open)
	}
	c.open, c.bin, c.any = p, bin, true
}

// with joins two points: mean and sum of squares of a union, Chan, Golub and LeVeque, The American Statistician 37, 1983, eq. (2.1).
func (p Point) with(q Point) Point {
	n, m := float64(p.N), float64(q.N)
	d := q.Mean - p.Mean
	return Point{
		TimeS: (n*p.TimeS + m*q.TimeS) / (n + m), Mean: p.Mean + d*m/(n+m),
		Min: math.Min(p.Min, q.Min), Max: math.Max(p.Max, q.Max),
		Std: p.Std + q.Std + d*d*n*m/(n+m), N: p.N + q.N,
	}
}

// widen makes the bins so wide that about limit points are left in the fullest channel.
func (b *Bins) widen() {
	if b.widthS == 0 {
		for _, c := range b.channels {
			if n := len(c.done); n >= 2*b.limit {
				b.widthS = (c.done[n-1].TimeS - c.done[0].TimeS) / float64(b.limit)
			}
		}
		if !(b.widthS > 0) {
			b.widthS = math.SmallestNonzeroFloat64
		}
	} else {
		b.widthS *= 2
	}
	for {
		full := false
		for i := range b.channels {
			c := &b.channels[i]
			old := c.done
			last, had := c.open, c.any
			c.done, c.any = old[:0], false
			for _, p := range old {
				c.put(p, b.widthS)
			}
			if had {
				c.put(last, b.widthS)
			}
			full = full || len(c.done) > b.limit*3/2
		}
		if !full {
			return
		}
		b.widthS *= 2
	}
}

// Points hands out a channel's points, rising in time.
func (b *Bins) Points(channel int) []Point {
	c := &b.channels[channel]
	out := append([]Point(nil), c.done...)
	if c.any {
		out = append(out, c.open)
	}
	for i := range out {
		out[i].Std = math.Sqrt(out[i].Std / float64(out[i].N))
	}
	return out
}

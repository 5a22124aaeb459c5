package leaf

import (
	"math"

	"phototrack/internal/colour"
	"phototrack/internal/record"
	"phototrack/internal/uncert"
)

// ColourChange is how far the leaves' colours moved between two sessions, in CIEDE2000: the least mean difference by
// which the one distribution can be turned into the other, area for area (the earth mover's distance of Rubner, Tomasi
// & Guibas 2000 with the colour difference of Sharma, Wu & Dalal 2005 as ground distance). It is 0 for equal
// distributions and sees a change that crosses no class border as well as a spot that appears on leaves otherwise
// unchanged. The mean lightness of the second session is first brought to that of the first: how lamps fall on tilted
// leaves moves it by ten units and more with no change of the leaves. Its budget holds both colour fits and, as it contains lightness, the shading of tilted leaves. It cannot be
// negative: what is less than its U95 is no change. NaN where a side is empty.
func ColourChange(a, b Colours) record.Quantity {
	if len(a.Parts) == 0 || len(b.Parts) == 0 {
		return record.Quantity{Name: record.ColourChange, Unit: "CIEDE2000", Value: math.NaN()}
	}
	m := meanLab(a.Parts)
	v := moverDistance(a.Parts, atLightness(b.Parts, m.L))
	return uncert.Quantity(record.ColourChange, "CIEDE2000", v,
		uncert.Normal("colour fit, first", fitDifference(m, a)),
		uncert.Normal("colour fit, second", fitDifference(m, b)),
		uncert.Normal("shading", colour.DeltaE2000(m, colour.Lab{L: m.L + math.Sqrt2*sessionShadeL, A: m.A, B: m.B})))
}

// sessionShadeL is the standard uncertainty of what is left in L* after the means are made equal: light from one side
// spreads the leaves' lightnesses, even light draws them together.
const sessionShadeL = 2.5

// atLightness shifts all lightnesses so that their mean is l.
func atLightness(p []ColourPart, l float64) []ColourPart {
	d := l - meanLab(p).L
	out := append([]ColourPart(nil), p...)
	for i := range out {
		out[i].L += d
	}
	return out
}

func meanLab(p []ColourPart) (m colour.Lab) {
	sum := 0.0
	for _, q := range p {
		m.L, m.A, m.B, sum = m.L+q.Share*q.L, m.A+q.Share*q.A, m.B+q.Share*q.B, sum+q.Share
	}
	return colour.Lab{L: m.L / sum, A: m.A / sum, B: m.B / sum}
}

func fitDifference(m colour.Lab, c Colours) float64 {
	return math.Sqrt(sqr(colour.DeltaE2000(m, colour.Lab{L: m.L + c.LU, A: m.A, B: m.B})) +
		sqr(colour.DeltaE2000(m, colour.Lab{L: m.L, A: m.A + c.AU, B: m.B})) +
		sqr(colour.DeltaE2000(m, colour.Lab{L: m.L, A: m.A, B: m.B + c.BU})))
}

func sqr(x float64) float64 { return x * x }

// sameWay is the difference of two ways, units of CIEDE2000, below which they are one: sums of the same costs in another order differ by
// some 1e-14, and without it the search could go round such a pair for ever.
const sameWay = 1e-12

// moverDistance solves the transport problem exactly: shares in whole units, sent along the cheapest way that is left
// (successive shortest paths, Bellman & Ford on the residual graph), until all is sent.
func moverDistance(a, b []ColourPart) float64 {
	t := transport{supply: units(a), demand: units(b), cost: make([]float64, len(a)*len(b)), flow: make([]int, len(a)*len(b))}
	for i := range a {
		for j := range b {
			t.cost[i*len(b)+j] = colour.DeltaE2000(a[i].lab(), b[j].lab())
		}
	}
	for {
		to, from, ok := t.cheapest()
		if !ok {
			break
		}
		t.send(to, from)
	}
	sum, sent := 0.0, 0
	for i, f := range t.flow {
		sum += float64(f) * t.cost[i]
		sent += f
	}
	return sum / float64(max(1, sent))
}

// transport is a transport problem under way: what sources still have, what sinks still want, and what goes from each source to each sink.
type transport struct {
	supply, demand []int
	cost           []float64 // by source, then sink
	flow           []int     // the same
}

// cheapest is the sink that can be reached most cheaply, and from where each place is reached (sources 0..n-1, sinks n..n+m-1; -1 where a way
// begins); false where nothing can be sent any more.
func (t *transport) cheapest() (to int, from []int, ok bool) {
	n, m := len(t.supply), len(t.demand)
	dist, from := make([]float64, n+m), make([]int, n+m)
	for i := range dist {
		dist[i], from[i] = unreached, -1
		if i < n && t.supply[i] > 0 {
			dist[i] = 0
		}
	}
	for t.relax(dist, from) {
	}
	to = -1
	for j := range m {
		if t.demand[j] > 0 && (to < 0 || dist[n+j] < dist[to]) {
			to = n + j
		}
	}
	return to, from, to >= 0 && dist[to] < unreached
}

// unreached is the distance of a place to which no way is known.
const unreached = math.MaxFloat64

// relax shortens the way to each place by one more stretch, from a source to a sink or back along what flows; false where none gets shorter.
func (t *transport) relax(dist []float64, from []int) (shorter bool) {
	n, m := len(t.supply), len(t.demand)
	for i := range n {
		for j := range m {
			c := t.cost[i*m+j]
			if dist[i] < unreached && dist[i]+c < dist[n+j]-sameWay {
				dist[n+j], from[n+j], shorter = dist[i]+c, i, true
			}
			if t.flow[i*m+j] > 0 && dist[n+j] < unreached && dist[n+j]-c < dist[i]-sameWay {
				dist[i], from[i], shorter = dist[n+j]-c, n+j, true
			}
		}
	}
	return shorter
}

// send sends as much to a sink as the way there carries.
func (t *transport) send(to int, from []int) {
	n, m := len(t.supply), len(t.demand)
	most := t.demand[to-n]
	v := to
	for from[v] >= 0 {
		if u := from[v]; v < n { // back along source v -> sink u
			most = min(most, t.flow[v*m+u-n])
		}
		v = from[v]
	}
	most = min(most, t.supply[v])
	t.supply[v] -= most
	t.demand[to-n] -= most
	for v = to; from[v] >= 0; v = from[v] {
		if u := from[v]; v >= n {
			t.flow[u*m+v-n] += most
		} else {
			t.flow[v*m+u-n] -= most
		}
	}
}

// units turns shares into whole numbers that add up to shareUnits; the largest part takes what rounding leaves.
func units(p []ColourPart) []int {
	out := make([]int, len(p))
	total, big, sum := 0.0, 0, 0
	for _, q := range p {
		total += q.Share
	}
	for i, q := range p {
		out[i] = int(q.Share/total*shareUnits + 0.5)
		sum += out[i]
		if out[i] > out[big] {
			big = i
		}
	}
	out[big] += shareUnits - sum
	return out
}

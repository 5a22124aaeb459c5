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
	n, m := len(a), len(b)
	supply, demand := units(a), units(b)
	cost := make([]float64, n*m)
	for i := range a {
		for j := range b {
			cost[i*m+j] = colour.DeltaE2000(a[i].lab(), b[j].lab())
		}
	}
	flow := make([]int, n*m)
	const inf = math.MaxFloat64
	for {
		dist, from := make([]float64, n+m), make([]int, n+m) // sources 0..n-1, sinks n..n+m-1
		any := false
		for i := range dist {
			dist[i], from[i] = inf, -1
			if i < n && supply[i] > 0 {
				dist[i], any = 0, true
			}
		}
		if !any {
			break
		}
		for changed := true; changed; {
			changed = false
			for i := range n {
				for j := range m {
					if c := cost[i*m+j]; dist[i] < inf && dist[i]+c < dist[n+j]-sameWay {
						dist[n+j], from[n+j], changed = dist[i]+c, i, true
					}
					if c := cost[i*m+j]; flow[i*m+j] > 0 && dist[n+j] < inf && dist[n+j]-c < dist[i]-sameWay {
						dist[i], from[i], changed = dist[n+j]-c, n+j, true
					}
				}
			}
		}
		best := -1
		for j := range m {
			if demand[j] > 0 && (best < 0 || dist[n+j] < dist[best]) {
				best = n + j
			}
		}
		if best < 0 || dist[best] == inf {
			break
		}
		send := demand[best-n]
		v := best
		for from[v] >= 0 {
			if u := from[v]; v < n { // back along i -> j
				send = min(send, flow[v*m+u-n])
			}
			v = from[v]
		}
		send = min(send, supply[v])
		supply[v] -= send
		demand[best-n] -= send
		for v = best; from[v] >= 0; v = from[v] {
			if u := from[v]; v >= n {
				flow[u*m+v-n] += send
			} else {
				flow[v*m+u-n] -= send
			}
		}
	}
	sum, sent := 0.0, 0
	for i, f := range flow {
		sum += float64(f) * cost[i]
		sent += f
	}
	return sum / float64(max(1, sent))
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

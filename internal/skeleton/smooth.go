package skeleton

import "math"

// Resample returns the line with points at equal steps of about step px, both ends kept.
func Resample(p []Pt, step float64) []Pt {
	total := Length(p)
	if len(p) < 2 || total == 0 {
		return append([]Pt(nil), p...)
	}
	n := max(1, int(math.Round(total/step)))
	out := make([]Pt, 0, n+1)
	out = append(out, p[0])
	k, done := 1, 0.0
	for i := 1; i < n; i++ {
		at := total * float64(i) / float64(n)
		for k < len(p)-1 && done+p[k].Dist(p[k-1]) < at {
			done += p[k].Dist(p[k-1])
			k++
		}
		seg := p[k].Dist(p[k-1])
		f := 0.0
		if seg > 0 {
			f = (at - done) / seg
		}
		out = append(out, Pt{p[k-1].X + f*(p[k].X-p[k-1].X), p[k-1].Y + f*(p[k].Y-p[k-1].Y)})
	}
	return append(out, p[len(p)-1])
}

// Smooth takes the pixel steps out of a line whose points lie about 1 px apart. It is a Gaussian of standard deviation
// sigma px applied twice as 2 G - G G ("twicing", Tukey 1977), which keeps curves of second order: a plain Gaussian
// would draw every bend inwards and make the line too short. An open line is continued beyond its ends by point
// reflection; a closed one (first point = last point) goes round.
func Smooth(p []Pt, sigma float64) []Pt {
	if len(p) < 3 {
		return append([]Pt(nil), p...)
	}
	closed := p[0] == p[len(p)-1]
	s := math.Min(sigma, float64(len(p)-1)/3)
	once := blur(p, s, closed)
	rest := make([]Pt, len(p))
	for i := range p {
		rest[i] = Pt{p[i].X - once[i].X, p[i].Y - once[i].Y}
	}
	more := blur(rest, s, closed)
	for i := range once {
		once[i].X += more[i].X
		once[i].Y += more[i].Y
	}
	return once
}

func blur(p []Pt, sigma float64, closed bool) []Pt {
	n := len(p)
	reach := int(math.Ceil(3 * sigma))
	kernel := make([]float64, reach+1)
	sum := 0.0
	for k := range kernel {
		kernel[k] = math.Exp(-float64(k*k) / (2 * sigma * sigma))
		sum += kernel[k]
		if k > 0 {
			sum += kernel[k]
		}
	}
	at := func(i int) Pt {
		switch {
		case closed:
			m := n - 1
			return p[((i%m)+m)%m]
		case i < 0:
			q := p[min(-i, n-1)]
			return Pt{2*p[0].X - q.X, 2*p[0].Y - q.Y}
		case i >= n:
			q := p[max(2*(n-1)-i, 0)]
			return Pt{2*p[n-1].X - q.X, 2*p[n-1].Y - q.Y}
		}
		return p[i]
	}
	out := make([]Pt, n)
	for i := range p {
		var x, y float64
		for k := -reach; k <= reach; k++ {
			w := kernel[max(k, -k)]
			q := at(i + k)
			x += w * q.X
			y += w * q.Y
		}
		out[i] = Pt{x / sum, y / sum}
	}
	return out
}

// SmoothLength is the length of a digitised line, px, without the bias of counting its steps: the line resampled,
// smoothed with sigma px and measured.
func SmoothLength(p []Pt, sigma float64) float64 { return Length(Smooth(Resample(p, 1), sigma)) }

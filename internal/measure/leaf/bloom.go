package leaf

// Petals are told by colours that leaves do not have: pale pinks and strong magentas. Where there are some, what belongs
// to the same flowers goes with them: the coloured lips they enclose, and the thin stem that bears them. White petals
// are no candidates for tissue anyway; a flower that is as green, brown or dull purple as a leaf is not recognised.

const (
	petalLight   = 60.0 // L*: a purple leaf is darker
	petalPale2   = 7 * 7
	petalStrong2 = 42 * 42 // chroma: no leaf's anthocyanin is as strong
	minPetalMM2  = 60.0
	stemMM       = 4.5 // a flower's stem is thinner
	lipReachMM   = 1.5
	stemReachMM  = 8.0
)

// petals gives the mask of petals on the grid, and their area in mm2.
func petals(g *grid, colours []groundColour) ([]uint8, float64) {
	p := make([]uint8, len(g.L))
	any := false
	for i, L := range g.L {
		a, b := g.A[i], g.B[i]
		if g.block[i] != 0 || a <= 0 {
			continue
		}
		// Pinks and magentas: from 290 degrees through 0 to 25.
		if b > 0.47*a || b < -2.7*a {
			continue
		}
		if c2 := a*a + b*b; ((L > petalLight && c2 > petalPale2) || c2 > petalStrong2) && !nearGround(g, i, colours) {
			p[i] = 1
			any = true
		}
	}
	if !any {
		return nil, 0
	}
	p = open(p, g.w, g.h, 1)
	p = closeGaps(p, g.w, g.h, max(1, int(g.pxPerMM)))
	dropSmall(p, g.w, g.h, int(minPetalMM2*g.pxPerMM*g.pxPerMM))
	n := 0
	for _, v := range p {
		n += int(v)
	}
	return p, float64(n) / (g.pxPerMM * g.pxPerMM)
}

// leaveOutBloom clears from m what belongs to flowers and gives the area in mm2 of flowers seen, petals included. Without
// petals nothing is touched.
func leaveOutBloom(g *grid, m, cls []uint8, colours []groundColour) float64 {
	p, mm2 := petals(g, colours)
	if mm2 == 0 {
		return 0
	}
	w, h := g.w, g.h
	out := 0
	gone := make([]uint8, len(m))
	drop := func(i int) {
		if m[i] != 0 {
			m[i] = 0
			gone[i] = 1
			out++
		}
	}
	for i, v := range p {
		if v != 0 {
			drop(i)
		}
	}
	// Lips: coloured parts, not green, most of whose surroundings are petal.
	halo := dilate(p, w, h, max(2, int(lipReachMM*g.pxPerMM)))
	lip := make([]uint8, len(m))
	for i, v := range m {
		if v != 0 && cls[i] != Green {
			lip[i] = 1
		}
	}
	clearTouching(lip, halo, w, h, 0.35, drop)
	// Stems: parts thinner than any of these leaves that hang on flowers directly or through other stem.
	thin := make([]uint8, len(m))
	broad := dilate(erode(m, w, h, max(1, int(stemMM*g.pxPerMM/2))), w, h, max(1, int(stemMM*g.pxPerMM/2))+1)
	for i, v := range m {
		if v != 0 && broad[i] == 0 {
			thin[i] = 1
		}
	}
	clearTouching(thin, dilate(p, w, h, max(2, int(stemReachMM*g.pxPerMM))), w, h, 0, drop)
	// What is left of the flowers is small and has lost its hold on the leaves.
	label, size := parts(m, w, h, true)
	largest := 0
	for _, n := range size {
		largest = max(largest, n)
	}
	touches := make([]bool, len(size))
	halo = dilate(gone, w, h, 2)
	for i, l := range label {
		if l != 0 && halo[i] != 0 {
			touches[l] = true
		}
	}
	for i, l := range label {
		if l != 0 && touches[l] && size[l]*20 < largest {
			drop(i)
		}
	}
	return mm2 + float64(out)/(g.pxPerMM*g.pxPerMM)
}

// clearTouching drops the parts of q of which more than the given share lies in near.
func clearTouching(q, near []uint8, w, h int, share float64, drop func(int)) {
	label, size := parts(q, w, h, true)
	in := make([]int, len(size))
	for i, l := range label {
		if l != 0 && near[i] != 0 {
			in[l]++
		}
	}
	for i, l := range label {
		if l != 0 && float64(in[l]) > share*float64(size[l]) {
			drop(i)
		}
	}
}

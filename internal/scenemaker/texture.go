package scenemaker

import "math"

// lattice is a hash of a place on a grid, 0..1 (finaliser of MurmurHash3).
func lattice(seed uint64, x, y int) float64 {
	h := seed ^ uint64(int64(x))*0x9E3779B97F4A7C15 ^ uint64(int64(y))*0xC2B2AE3D27D4EB4F
	h ^= h >> 33
	h *= 0xFF51AFD7ED558CCD
	h ^= h >> 33
	h *= 0xC4CEB9FE1A85EC53
	h ^= h >> 33
	return float64(h>>11) / (1 << 53)
}

// wash is smooth noise of unit grid, -1..1 (value noise: Perlin 1985's simpler sister).
func wash(seed uint64, x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int(fx), int(fy)
	u, v := x-fx, y-fy
	u, v = u*u*(3-2*u), v*v*(3-2*v)
	a := lattice(seed, i, j) + u*(lattice(seed, i+1, j)-lattice(seed, i, j))
	b := lattice(seed, i, j+1) + u*(lattice(seed, i+1, j+1)-lattice(seed, i, j+1))
	return 2*(a+v*(b-a)) - 1
}

// texture is the brightness of a surface at a place of its own, about 1: broad clouds and a finer grain, longer along u
// than across.
func texture(seed uint64, contrast, along, u, v float64) float64 {
	if contrast == 0 {
		return 1
	}
	return 1 + contrast*(1.2*wash(seed, u/(6*along), v/6)+0.8*wash(seed+1, u/(1.2*along), v/1.2))
}

package trainscene

// hash2 and hash3 give a number in 0..1 for a lattice point.
func hash2(x, y int32, seed uint32) float32 {
	h := uint32(x)*0x8da6b343 ^ uint32(y)*0xd8163841 ^ seed*0xcb1ab31f
	h ^= h >> 13
	h *= 0x5bd1e995
	h ^= h >> 15
	return float32(h&0xffffff) / 0xffffff
}

// noise is smooth value noise, 0..1.
func noise(x, y float32, seed uint32) float32 {
	fx, fy := floor(x), floor(y)
	ix, iy := int32(fx), int32(fy)
	tx, ty := x-fx, y-fy
	tx, ty = tx*tx*(3-2*tx), ty*ty*(3-2*ty)
	a, b := hash2(ix, iy, seed), hash2(ix+1, iy, seed)
	c, d := hash2(ix, iy+1, seed), hash2(ix+1, iy+1, seed)
	a += (b - a) * tx
	c += (d - c) * tx
	return a + (c-a)*ty
}

// fbm adds up octaves of noise, each of half the size and half the strength; 0..1.
func fbm(x, y float32, octaves int, seed uint32) float32 {
	sum, amp, all := float32(0), float32(1), float32(0)
	for i := range octaves {
		sum += amp * noise(x, y, seed+uint32(i)*17)
		all += amp
		amp *= 0.55
		x, y = 2.03*x+3.1, 2.03*y-1.7
	}
	return sum / all
}

// cells gives the distance to the nearest and second nearest of points scattered one a unit square, and the nearest one's
// own number 0..1.
func cells(x, y float32, seed uint32) (d1, d2, id float32) {
	ix, iy := int32(floor(x)), int32(floor(y))
	d1, d2 = 9, 9
	for j := iy - 1; j <= iy+1; j++ {
		for i := ix - 1; i <= ix+1; i++ {
			px := float32(i) + hash2(i, j, seed)
			py := float32(j) + hash2(i, j, seed+101)
			q := (px-x)*(px-x) + (py-y)*(py-y)
			if q < d1 {
				d1, d2, id = q, d1, hash2(i, j, seed+202)
			} else if q < d2 {
				d2 = q
			}
		}
	}
	return sqrt(d1), sqrt(d2), id
}

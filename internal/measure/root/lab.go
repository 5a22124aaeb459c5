package root

// ToLab turns a photo's 8-bit colour into corrected CIELAB (D65, 2 degree observer).
type ToLab func(b, g, r uint8) (l, a, bb float32)

const cubeSide = 18 // values 0, 15, 30, .. 255

// labCube tabulates a ToLab on a grid of 18 x 18 x 18 colours, so that a wall's half million pixels do not each pay for
// a colour model with its roots and powers; between the nodes it is linear, good to about 0.3 units.
type labCube struct {
	v [cubeSide * cubeSide * cubeSide][3]float32
}

func newLabCube(f ToLab) *labCube {
	c := &labCube{}
	i := 0
	for b := range cubeSide {
		for g := range cubeSide {
			for r := range cubeSide {
				l, a, bb := f(uint8(15*b), uint8(15*g), uint8(15*r))
				c.v[i] = [3]float32{l, a, bb}
				i++
			}
		}
	}
	return c
}

// at interpolates in the table; b, g, r lie in 0..255.
func (c *labCube) at(b, g, r float32) (l, a, bb float32) {
	const k = 1.0 / 15
	b, g, r = b*k, g*k, r*k
	ib, ig, ir := min(int(b), cubeSide-2), min(int(g), cubeSide-2), min(int(r), cubeSide-2)
	fb, fg, fr := b-float32(ib), g-float32(ig), r-float32(ir)
	i := (ib*cubeSide+ig)*cubeSide + ir
	// Along red on the four edges of the cell, then along green, then along blue.
	var e [4][3]float32
	for n := range e {
		j := i + n&1*cubeSide + n>>1*(cubeSide*cubeSide)
		p, q := &c.v[j], &c.v[j+1]
		e[n] = [3]float32{p[0] + fr*(q[0]-p[0]), p[1] + fr*(q[1]-p[1]), p[2] + fr*(q[2]-p[2])}
	}
	var out [3]float32
	for k := range out {
		near := e[0][k] + fg*(e[1][k]-e[0][k])
		far := e[2][k] + fg*(e[3][k]-e[2][k])
		out[k] = near + fb*(far-near)
	}
	return out[0], out[1], out[2]
}

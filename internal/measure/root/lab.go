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
	var out [3]float32
	for n := range 8 {
		w, j := float32(1), i
		if n&1 != 0 {
			w, j = w*fr, j+1
		} else {
			w *= 1 - fr
		}
		if n&2 != 0 {
			w, j = w*fg, j+cubeSide
		} else {
			w *= 1 - fg
		}
		if n&4 != 0 {
			w, j = w*fb, j+cubeSide*cubeSide
		} else {
			w *= 1 - fb
		}
		v := &c.v[j]
		out[0] += w * v[0]
		out[1] += w * v[1]
		out[2] += w * v[2]
	}
	return out[0], out[1], out[2]
}

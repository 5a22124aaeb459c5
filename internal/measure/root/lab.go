package root

// ToLab turns a photo's 8-bit colour into corrected CIELAB (D65, 2 degree observer).
type ToLab func(b, g, r uint8) (l, a, bb float32)

const cubeSide = 18 // values 0, 15, 30, .. 255

// labCube tabulates a ToLab on a grid of 18 x 18 x 18 colours, so that a wall's half million pixels do not each pay for
// a colour model with its roots and powers; between the nodes it is linear, good to about 0.3 units (see places.lab).
type labCube struct {
	v [cubeSide * cubeSide * cubeSide][4]float32 // L, a, b, and nothing
}

func newLabCube(f ToLab) *labCube {
	c := &labCube{}
	i := 0
	for b := range cubeSide {
		for g := range cubeSide {
			for r := range cubeSide {
				l, a, bb := f(uint8(15*b), uint8(15*g), uint8(15*r))
				c.v[i] = [4]float32{l, a, bb}
				i++
			}
		}
	}
	return c
}

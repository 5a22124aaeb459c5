package leaf

import (
	"math"
	"slices"
)

// partMixed takes back the joining of regions whose outline is in parts sharp and in parts blurred: they may hold a leaf
// in front and one behind of the same colour. fs is what was seen of the n small regions; label holds the joined ones.
// It renumbers label from 1 and returns how many there are.
func partMixed(label, small []int32, n int, fs []focusOf) int {
	of := make([]int32, len(fs)) // joined region of each small one
	for i, l := range small {
		if l > 0 {
			of[l] = label[i]
		}
	}
	sum := make([]focusOf, n+1)
	for l := 1; l < len(fs); l++ {
		sum[of[l]].sharp += fs[l].sharp
		sum[of[l]].blur += fs[l].blur
	}
	joined, alone := make([]int32, n+1), make([]int32, len(fs))
	k := int32(0)
	for i, l := range label {
		if l <= 0 {
			continue
		}
		to := &joined[l]
		if sum[l].mixed() {
			to = &alone[small[i]]
		}
		if *to == 0 {
			k++
			*to = k
		}
		label[i] = *to
	}
	return int(k)
}

const (
	leastOutline = 250 // outline, weighted by contrast, from which a region speaks for itself
	mixedShare   = 0.2
)

// mixed says that the outline is clearly in parts sharp and in parts blurred.
func (f *focusOf) mixed() bool {
	e := f.sharp + f.blur
	return e > leastOutline && f.blur > mixedShare*e && f.sharp > mixedShare*e
}

// occludes says that the border is the sharp outline of one of the two.
func (b *border) occludes() bool { return b.sharp > 3*fullContrast && b.sharp > 2*b.blur }

// judgeFocus tells which regions stand behind. Those with enough outline against the ground speak for themselves and say
// what texture is sharp; the others follow the neighbour they differ least from, unless their texture says otherwise. nil where nothing stands behind.
func judgeFocus(fs []focusOf, bs map[pair]*border) []bool {
	const front, back = 1, 2
	state := make([]int, len(fs))
	var tex, area [3]float64
	for l := 1; l < len(fs); l++ {
		f := &fs[l]
		e := f.sharp + f.blur
		switch {
		case e < leastOutline:
			continue
		case f.blur > 0.6*e:
			state[l] = back
		case f.blur < 0.4*e:
			state[l] = front
		}
		tex[state[l]] += f.texture * float64(f.texN)
		area[state[l]] += float64(f.texN)
	}
	// A small part alone may be a curled tip, or an edge that the light blurs.
	all, seen := 0, 0
	for l := 1; l < len(fs); l++ {
		all += fs[l].size
		if state[l] == back {
			seen += fs[l].size
		}
	}
	if seen*100 < leastBehindPercent*all {
		return nil
	}
	limit := 0.0
	if area[front] > 0 && area[back] > 0 {
		limit = math.Sqrt(tex[front] / area[front] * tex[back] / area[back])
	}
	return cutFocus(fs, bs, limit)
}

// Weights of the evidence, in units of one sample of outline of full contrast.
const (
	fullContrast  = 40.0
	textureWeight = 0.012 // per grid pixel inside and octave of texture
	textureMost   = 8.0
	borderWeight  = 0.2 // per grid pixel of border without a step
	borderStep    = 4.5 // CIELAB step that lets it fall to 1/e
)

// cutFocus takes the division into front and behind that fits the outlines and the texture of all regions best while it
// parts neighbours only where the colour steps and the border is not blurred, and leaves no sharp border between two
// regions behind.
func cutFocus(fs []focusOf, bs map[pair]*border, limit float64) []bool {
	cost := make([]float64, len(fs)) // what it costs more to have the region behind
	g := newCutGraph(len(fs) + 1)    // region l is node l + 1
	for l := 1; l < len(fs); l++ {
		f := &fs[l]
		front, back := f.sharp/fullContrast, f.blur/fullContrast
		if limit > 0 && f.texN > 0 && f.texture > 0 {
			t := clamp(textureWeight*float64(f.texN)*clamp(math.Log2(f.texture/limit), -0.7, 0.7), -textureMost, textureMost)
			front, back = front+max(0, t), back+max(0, -t)
		}
		cost[l] = front - back
		g.add(0, int32(l+1), front, 0)
		g.add(int32(l+1), 1, back, 0)
	}
	ties := tiesOf(bs)
	for _, t := range ties {
		g.add(t.a+1, t.b+1, t.part, t.part)
	}
	front := g.cut()
	behind := make([]bool, len(fs))
	for l := 1; l < len(fs); l++ {
		behind[l] = !front[l+1]
	}
	mendFocus(behind, cost, ties)
	return behind
}

// tie is what the border between two regions says: what it costs to part them, and what to have both behind.
type tie struct {
	a, b             int32
	part, bothBehind float64
}

// tiesOf makes the ties; a border whose stretches disagree says nothing unless one kind is twice the other. They are in
// the order of the regions' numbers, so that the result never depends on chance.
func tiesOf(bs map[pair]*border) []tie {
	ties := make([]tie, 0, len(bs))
	for p, b := range bs {
		like := math.Exp(-sqr(b.step / float64(b.length) / borderStep))
		ties = append(ties, tie{p.a, p.b, borderWeight*float64(b.length)*like + max(0, b.blur-2*b.sharp)/fullContrast, max(0, b.sharp-2*b.blur) / fullContrast})
	}
	slices.SortFunc(ties, func(x, y tie) int {
		if x.a != y.a {
			return int(x.a - y.a)
		}
		return int(x.b - y.b)
	})
	return ties
}

// mendFocus moves one region after another to the other side, always the one that gains most, until none gains. A cut
// cannot weigh what two regions on the same side cost; this can.
func mendFocus(behind []bool, cost []float64, ties []tie) {
	of := make([][]int, len(behind))
	for i, t := range ties {
		of[t.a], of[t.b] = append(of[t.a], i), append(of[t.b], i)
	}
	for range 4 * len(behind) {
		best, most := 0, 1e-6
		for l := 1; l < len(behind); l++ {
			back := cost[l] // of being behind over being in front
			for _, i := range of[l] {
				t := &ties[i]
				if other := t.a + t.b - int32(l); behind[other] {
					back += t.bothBehind - t.part
				} else {
					back += t.part
				}
			}
			gain := back
			if !behind[l] {
				gain = -back
			}
			if gain > most {
				best, most = l, gain
			}
		}
		if best == 0 {
			return
		}
		behind[best] = !behind[best]
	}
}

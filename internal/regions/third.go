package regions

// Three is a Two that knows of a third Seer, which sees better than both and takes several times their time.
type Three interface {
	Two
	// Third is that one.
	Third() Seer
}

const (
	// leastUnsure is how unsure of a photo the first two must be for the third to be asked, as a share of the leaf. Of the 45 leaf photos of the scenes
	// 35 lie below; those with plants close behind, stakes before leaves or small leaves before a pattern lie above 14 %.
	leastUnsure = 0.06
	// ofThird is the third's share in the mean, and ofApart how much of two disagreements, that of the first two and theirs with the third, is left
	// in the mean of all. Fitted to 113 drawn scenes that were not trained on (docs/model-card.md).
	ofThird, ofApart = 2.0 / 3, 0.38
)

// lookAgain asks a third Seer, where there is one and the map is unsure, and makes the map the mean of all. In photos without a card every leaf counts,
// near ones and those a little out of focus. What grows the third sees better there, too, but it takes a canopy against the sky for plants behind: so
// whose it is the first two say.
func (m *Map) lookAgain(s Seer, v View) error {
	t, ok := s.(Three)
	if !ok || m.unsure() < leastUnsure {
		return nil
	}
	c, err := bothWays(t.Third(), t.Third(), v)
	if err != nil {
		return err
	}
	if !v.hasCard() {
		c.divideAs(m)
	}
	for i, a := range c.P[Leaf] {
		d := a - m.P[Leaf][i]
		m.Apart[i] = ofApart * (max(d, -d) + m.Apart[i])
		best := Rest
		for k := range m.P {
			p := m.P[k][i] + ofThird*(c.P[k][i]-m.P[k][i])
			m.P[k][i] = p
			if p > m.P[best][i] {
				best = Class(k)
			}
		}
		m.Class[i] = best
	}
	return nil
}

// divideAs divides the probability of what grows, leaf and other plants, between both as another map does.
func (m *Map) divideAs(o *Map) {
	const least = 0.02 // where nothing grows by the other map, what grows is leaf
	for i, l := range o.P[Leaf] {
		grows, share := m.P[Leaf][i]+m.P[Other][i], (l+least)/(l+o.P[Other][i]+least)
		m.P[Leaf][i], m.P[Other][i] = grows*share, grows*(1-share)
	}
}

// unsure is how much of the leaf there is doubt about: the probability's variance and how far the two looks are apart, summed, as a share of the leaf.
func (m *Map) unsure() float64 {
	leaf, doubt := 0.0, 0.0
	for i, p := range m.P[Leaf] {
		leaf += float64(p)
		doubt += float64(p*(1-p) + m.Apart[i])
	}
	return doubt / max(1, leaf)
}

// hasCard says whether the view shows where a card is.
func (v View) hasCard() bool {
	n := v.W * v.H
	for _, b := range v.Pix[12*n : 13*n] {
		if b != 0 {
			return true
		}
	}
	return false
}

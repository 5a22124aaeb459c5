package digest

import "phototrack/internal/record"

// Pair names the two photos that stand for what changed of a plant: of the surest line of the view the days that it
// compares; of another plant the first photo and the last. counted are the plant's photos of the view that count, by
// time. then is nil where there is one day only.
func (d *Digest) Pair(plant int, view record.View, counted []*record.Photo) (then, now *record.Photo) {
	if len(counted) == 0 {
		return nil, nil
	}
	from, to := "", ""
	if p, ok := d.Plant(plant); ok {
		for i := range p.Lines {
			if l := &p.Lines[i]; l.View == view {
				from, to = l.Surer().FromDate, l.Surer().ToDate
				break
			}
		}
	}
	then, now = counted[0], counted[len(counted)-1]
	for i := len(counted) - 1; i >= 0; i-- { // of a day the first
		switch counted[i].Taken.Day() {
		case from:
			then = counted[i]
		case to:
			now = counted[i]
		}
	}
	if then.Taken.Day() == now.Taken.Day() {
		then = nil
	}
	return then, now
}

// LeadView is the view that a plant's pictures show first: that of what changed most surely, else leaves, if it has any.
func (d *Digest) LeadView(plant int, leaves bool) record.View {
	if p, ok := d.Plant(plant); ok {
		return p.Lead().View
	}
	if leaves {
		return record.Leaf
	}
	return record.Root
}

package trainscene

import "phototrack/internal/record"

// Limits of a close-up's enlargement: of what the program shows the network of a photo at more of its own pixels, and of pictures of a few leaves.
const leastNear, mostNear, mostFewLeaves = 1.3, 2.7, 5.5

// approach makes of the scene a close-up about some place of the plant, of a few leaves where that is asked for. What is out of focus is so by more
// pixels.
func (o *composition) approach(d dice, fewLeaves bool) {
	most := float32(mostNear)
	if fewLeaves {
		most = mostFewLeaves
	}
	times := d.log(leastNear, most)
	w, h := float32(o.cam.w), float32(o.cam.h)
	side := o.radius / 2
	x, y, inv := o.cam.see(o.mid.add(vec{d.near(0, side), d.near(0, side), 0}))
	if inv == 0 {
		return
	}
	// left and top of the part, in px of the whole
	left := clamp(x-w/(2*times), 0, w-w/times)
	top := clamp(y-h/(2*times), 0, h-h/times)
	o.cam.cx, o.cam.cy, o.cam.f = (o.cam.cx-left)*times, (o.cam.cy-top)*times, o.cam.f*times
	moved := func(poly []record.Point) (q []record.Point) {
		for _, p := range poly {
			q = append(q, record.Point{X: (p.X - float64(left)) * float64(times), Y: (p.Y - float64(top)) * float64(times)})
		}
		return
	}
	if o.card != nil {
		o.card = moved(o.card)
	}
	for i, t := range o.tags {
		o.tags[i] = moved(t)
	}
	for i := range o.layers {
		o.layers[i].blurPx *= times
	}
	o.enlargeBackdrop(left, top, times)
}

// enlargeBackdrop shows the part of the backdrop that begins at left, top.
func (o *composition) enlargeBackdrop(left, top, times float32) {
	if o.backdrop == nil {
		return
	}
	w, h := o.cam.w, o.cam.h
	pic, class := make([]rgb, w*h), make([]uint8, w*h)
	for y := range h {
		v := clamp(top+(float32(y)+0.5)/times-0.5, 0, float32(h-1))
		y0 := min(h-2, int(v))
		for x := range w {
			u := clamp(left+(float32(x)+0.5)/times-0.5, 0, float32(w-1))
			x0 := min(w-2, int(u))
			i, fu, fv := y0*w+x0, u-float32(x0), v-float32(y0)
			a := o.backdrop[i].mul(1 - fu).add(o.backdrop[i+1].mul(fu))
			b := o.backdrop[i+w].mul(1 - fu).add(o.backdrop[i+w+1].mul(fu))
			pic[y*w+x] = a.mul(1 - fv).add(b.mul(fv))
			class[y*w+x] = o.behind[int(v+0.5)*w+int(u+0.5)]
		}
	}
	o.backdrop, o.behind = pic, class
	o.blurBack *= times
}

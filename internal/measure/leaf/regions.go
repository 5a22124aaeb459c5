package leaf

import (
	"phototrack/internal/colour"
	"phototrack/internal/raster"
	"phototrack/internal/regions"
)

// Regions says of each photo pixel what it is: a class code of package regions, or regions.InDoubt. The photo may lack card and
// tag; its colours are then those that the camera gave, and all leaves count. The error is the network's.
func Regions(in Input, s Settings) (raster.Mask, error) {
	fd, err := find(&in, &s)
	if err != nil {
		return raster.Mask{}, err
	}
	return fd.picture(in.Img.W, in.Img.H), nil
}

// picture is the classes at the photo's size: the outline as it was refined, what is in doubt as the network's places.
func (r *found) picture(w, h int) raster.Mask {
	out := raster.NewMask(w, h)
	places := make([]uint8, len(r.seen.Class))
	for i, c := range r.seen.Class {
		if c == regions.Leaf { // the refined outline says where leaf is; what it leaves out is the likeliest of the others
			c = r.likeliestOther(i)
		}
		places[i] = uint8(c)
	}
	for i, v := range r.doubt.Mask {
		if v != 0 {
			places[i] = regions.InDoubt
		}
	}
	for y := range h {
		row := places[y*r.seen.H/h*r.seen.W:][:r.seen.W]
		fine := r.f.mask[min(r.f.h-1, y/r.f.k)*r.f.w:][:r.f.w]
		for x := range w {
			c := row[x*r.seen.W/w]
			if c != regions.InDoubt && fine[min(r.f.w-1, x/r.f.k)] != 0 {
				c = uint8(regions.Leaf)
			}
			out.Pix[y*w+x] = c
		}
	}
	return out
}

// likeliestOther is the likeliest class of a place but leaf.
func (r *found) likeliestOther(i int) regions.Class {
	c := regions.Rest
	for k := range r.seen.P {
		if k := regions.Class(k); k != regions.Leaf && r.seen.P[k][i] > r.seen.P[c][i] {
			c = k
		}
	}
	return c
}

// SRGB is the colour correction of a photo without a card: its values are taken to be sRGB.
func SRGB() (c Colour) {
	for i := range 3 {
		for v := range 256 {
			c.Tone[i][v] = float32(colour.LinearOf8[v])
		}
		c.Mix[i][i] = 1
	}
	return
}

// Judged is how much leaf was found and how sure that is, in pixels of the photo.
type Judged struct {
	AreaPx               float64
	DoubtPx              float64 // standard uncertainty of the area by what may have been judged wrongly
	BernoulliPx, ApartPx float64 // its two parts
}

// Judge finds the leaves and says how sure it is, without measuring them: for trying the doubt on scenes whose truth is known.
func Judge(in Input, s Settings) (Judged, error) {
	fd, err := find(&in, &s)
	if err != nil {
		return Judged{}, err
	}
	place := float64(in.Img.W) / float64(fd.seen.W) * float64(in.Img.H) / float64(fd.seen.H)
	j := Judged{BernoulliPx: fd.doubt.Bernoulli * place, ApartPx: fd.doubt.Apart * place, DoubtPx: fd.doubtMM2(&in) * in.ScalePxPerMM * in.ScalePxPerMM}
	for _, v := range fd.f.mask {
		if v != 0 {
			j.AreaPx += float64(fd.f.k * fd.f.k)
		}
	}
	return j, nil
}

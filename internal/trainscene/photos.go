package trainscene

import (
	"image"
	_ "image/jpeg" // the photographs are JPEG files
	"image/png"
	"os"
	"path/filepath"
	"sort"
	"strings"
)

// Photos are free photographs: with labels, and cut-outs. They serve as samples of their own, as surroundings, and as textures.
type Photos struct {
	pics []picture
	cuts []cutout
}

type picture struct {
	w, h  int
	pix   []uint8 // red, green, blue
	class []uint8
	bare  bool // nothing grows in it
}

type cutout struct {
	w, h  int
	pix   []uint8 // red, green, blue, alpha
	class uint8
}

func (p *Photos) some() bool { return p != nil && len(p.pics) > 0 }

// labelled is a photograph with the classes of its label.
func labelled(img, label image.Image) picture {
	b := img.Bounds()
	q := picture{w: b.Dx(), h: b.Dy(), bare: true}
	q.pix, q.class = make([]uint8, 3*q.w*q.h), make([]uint8, q.w*q.h)
	for y := range q.h {
		for x := range q.w {
			r, g, bl, _ := img.At(b.Min.X+x, b.Min.Y+y).RGBA()
			i := y*q.w + x
			q.pix[3*i], q.pix[3*i+1], q.pix[3*i+2] = uint8(r>>8), uint8(g>>8), uint8(bl>>8)
			q.class[i] = labelAt(label, x, y)
			if c := q.class[i]; c == leaf || c == part || c == other {
				q.bare = false
			}
		}
	}
	return q
}

// ReadPhotos reads NAME.jpg with NAME_label.png, and in the folder cutouts KIND_NAME.png where KIND is leaf, part or rest.
func ReadPhotos(dir string) (*Photos, error) {
	p := &Photos{}
	names, _ := filepath.Glob(filepath.Join(dir, "*.jpg"))
	sort.Strings(names)
	for _, n := range names {
		img, err := open(n)
		if err != nil {
			return nil, err
		}
		lab, err := open(strings.TrimSuffix(n, ".jpg") + "_label.png")
		if err != nil {
			continue
		}
		p.pics = append(p.pics, labelled(img, lab))
	}
	cuts, _ := filepath.Glob(filepath.Join(dir, "cutouts", "*.png"))
	sort.Strings(cuts)
	kinds := map[string]uint8{"leaf": leaf, "part": part, "rest": rest, "pot": pot}
	for _, n := range cuts {
		kind, _, _ := strings.Cut(filepath.Base(n), "_")
		class, ok := kinds[kind]
		if !ok {
			continue
		}
		img, err := open(n)
		if err != nil {
			return nil, err
		}
		b := img.Bounds()
		c := cutout{w: b.Dx(), h: b.Dy(), class: class}
		rgba := image.NewNRGBA(image.Rect(0, 0, c.w, c.h))
		for y := range c.h {
			for x := range c.w {
				rgba.Set(x, y, img.At(b.Min.X+x, b.Min.Y+y))
			}
		}
		c.pix = rgba.Pix
		p.cuts = append(p.cuts, c)
	}
	return p, nil
}

func labelAt(img image.Image, x, y int) uint8 {
	b := img.Bounds()
	switch m := img.(type) {
	case *image.Gray:
		return m.GrayAt(b.Min.X+x, b.Min.Y+y).Y
	case *image.Paletted:
		return m.ColorIndexAt(b.Min.X+x, b.Min.Y+y)
	}
	r, _, _, _ := img.At(b.Min.X+x, b.Min.Y+y).RGBA()
	return uint8(r >> 8)
}

func open(name string) (image.Image, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if strings.HasSuffix(name, ".png") {
		return png.Decode(f)
	}
	img, _, err := image.Decode(f)
	return img, err
}

// at is the colour of a place, in px between 0 and the size, in linear light.
func (p *picture) at(x, y float32) rgb {
	x, y = clamp(x, 0, float32(p.w)-1.001), clamp(y, 0, float32(p.h)-1.001)
	ix, iy := int(x), int(y)
	tx, ty := x-float32(ix), y-float32(iy)
	get := func(i, j int) rgb {
		o := 3 * (min(p.h-1, j)*p.w + min(p.w-1, i))
		return linear8([3]uint8{p.pix[o], p.pix[o+1], p.pix[o+2]})
	}
	return mix(mix(get(ix, iy), get(ix+1, iy), tx), mix(get(ix, iy+1), get(ix+1, iy+1), tx), ty)
}

func (p *picture) classAt(x, y float32) uint8 {
	return p.class[min(p.h-1, max(0, int(y+0.5)))*p.w+min(p.w-1, max(0, int(x+0.5)))]
}

// window draws a part of the picture of the shape w x h, as a scale and an offset.
func (p *picture) window(d dice, w, h int) (scale, x0, y0 float32) {
	fit := min(float32(p.w)/float32(w), float32(p.h)/float32(h))
	scale = fit * d.in(0.45, 1)
	return scale, d.in(0, float32(p.w)-scale*float32(w)), d.in(0, float32(p.h)-scale*float32(h))
}

// sample is a part of a photograph as a sample of its own, without card and tag.
func (p *Photos) sample(d dice, w, h int) Sample {
	q := &p.pics[d.IntN(len(p.pics))]
	for range 4 { // of those with plants rather
		if !q.bare {
			break
		}
		q = &p.pics[d.IntN(len(p.pics))]
	}
	scale, x0, y0 := q.window(d, w, h)
	mirror := d.chance(0.5)
	cv := &canvas{w: w, h: h, c: make([]rgb, w*h), class: make([]uint8, w*h)}
	tint := rgb{d.about(1, 0.1), d.about(1, 0.05), d.about(1, 0.12)}.mul(d.about(0.95, 0.25))
	for y := range h {
		for x := range w {
			sx := x
			if mirror {
				sx = w - 1 - x
			}
			u, v := x0+scale*float32(sx), y0+scale*float32(y)
			cv.c[y*w+x] = q.at(u, v).times(tint)
			cv.class[y*w+x] = q.classAt(u, v)
		}
	}
	s := d.sensor()
	s.exposure = rgb{1, 1, 1}
	img := s.develop(cv, d)
	o := Sample{Photo: img, Gain: [3]float32{1, 1, 1}}
	o.finish(cv.class)
	return o
}

// behind is a photograph as what is seen behind the scene: all that grows there is some other plant.
func (p *Photos) behind(d dice, w, h int) (c []rgb, class []uint8) {
	q := &p.pics[d.IntN(len(p.pics))]
	scale, x0, y0 := q.window(d, w, h)
	c, class = make([]rgb, w*h), make([]uint8, w*h)
	gain := d.about(0.9, 0.3)
	for y := range h {
		for x := range w {
			u, v := x0+scale*float32(x), y0+scale*float32(y)
			i := y*w + x
			c[i] = q.at(u, v).mul(gain)
			switch k := q.classAt(u, v); k {
			case leaf, part:
				class[i] = other
			case pot:
				class[i] = rest
			default:
				class[i] = k
			}
		}
	}
	return
}

// texture is a photograph without plants as a material of something broad.
func (p *Photos) texture(d dice) material {
	for range 12 {
		q := &p.pics[d.IntN(len(p.pics))]
		if !q.bare {
			continue
		}
		mm := d.in(250, 1100) / float32(min(q.w, q.h)) // mm a px
		w, h := float32(q.w), float32(q.h)
		return func(u, v float32, at vec) look {
			return look{albedo: q.at(tile(u/mm, w), tile(v/mm, h)), rough: 1}
		}
	}
	return d.surface()
}

// tile mirrors a coordinate at the ends, so that there is no seam.
func tile(x, n float32) float32 {
	x = abs(x)
	k := floor(x / n)
	x -= k * n
	if int(k)&1 == 1 {
		x = n - x
	}
	return x
}

// stand is a cut-out as an upright sheet of that height, its foot at the origin.
func (c *cutout) stand(height float32, class uint8) *mesh {
	w := height * float32(c.w) / float32(c.h)
	m := rectangle{vec{-w / 2, height, 0}, vec{w}, vec{0, -height}}.mesh(2, 2, func(u, v float32, at vec) look {
		x, y := min(c.w-1, max(0, int(u*float32(c.w)))), min(c.h-1, max(0, int(v*float32(c.h))))
		o := 4 * (y*c.w + x)
		l := look{albedo: linear8([3]uint8{c.pix[o], c.pix[o+1], c.pix[o+2]}), rough: 1, through: 0.3}
		l.gone = c.pix[o+3] < 128
		return l
	}, class)
	m.holed, m.thin, m.dark = true, true, true
	return m
}

package plate

import (
	"image"
	"image/color"
	stddraw "image/draw"
	"image/gif"
	"io"
	"time"

	"github.com/disintegration/imaging"
)

// Motion is how a moving picture plays.
type Motion struct {
	WidthPx int           // of the picture; 640 where zero
	Hold    time.Duration // per session; 1.2 s where zero, the last one twice as long
	Title   string        // stands in the corner: "12 Clivia A"
}

// Animate writes one plant's sessions as a GIF that loops: all aligned, same scale and colour, the date burnt in. GIF is
// what every chat program plays. One palette serves all frames, so that colours do not jump between them.
func Animate(w io.Writer, frames []Frame, m Motion) error {
	if m.WidthPx <= 0 {
		m.WidthPx = 640
	}
	if m.Hold <= 0 {
		m.Hold = 1200 * time.Millisecond
	}
	pics, err := stills(frames, m)
	if err != nil {
		return err
	}
	out := &gif.GIF{}
	pal := palette(pics, 256)
	for i, p := range pics {
		q := image.NewPaletted(p.Bounds(), pal)
		stddraw.FloydSteinberg.Draw(q, p.Bounds(), p, image.Point{})
		hold := int(m.Hold / (10 * time.Millisecond))
		if i == len(pics)-1 {
			hold *= 2
		}
		out.Image = append(out.Image, q)
		out.Delay = append(out.Delay, hold)
	}
	return gif.EncodeAll(w, out)
}

// stills draws the frames of a moving picture.
func stills(frames []Frame, m Motion) ([]*image.NRGBA, error) {
	s := Spec{Preset: Preset{W: m.WidthPx, H: m.WidthPx * 3 / 4, DPI: 96}}
	for _, f := range frames {
		if f.Image != nil && !f.Image.Bounds().Empty() {
			s.Rows = append(s.Rows, Row{Frames: []Frame{f}})
		}
	}
	if len(s.Rows) == 0 {
		return nil, ErrNothing
	}
	fs := s.frames()
	var need Box
	for _, f := range fs {
		need = need.union(f.reach())
	}
	l := layout{unit: float64(m.WidthPx) / 75}
	l.win, l.scale = fitted(fs, need, s.Preset.W, s.Preset.H)
	l.centre = Point{(l.win.X0 + l.win.X1) / 2, (l.win.Y0 + l.win.Y1) / 2}
	l.panelW, l.panelH = int((l.win.X1-l.win.X0)*l.scale), int((l.win.Y1-l.win.Y0)*l.scale)
	l.panelW -= l.panelW % 2
	l.barMM = barLength(float64(l.panelW) / l.scale)
	strip := int(4.4*l.unit) + int(4.4*l.unit+float64(l.panelH))%2 // an even height: programs that make films of it want one
	var out []*image.NRGBA
	for _, f := range fs {
		r := newRaster(l.panelW, l.panelH+strip, paperInk)
		drawPanel(r, l, f, 0, 0)
		burn(r, l, f, m.Title)
		if r.err != nil {
			return nil, r.err
		}
		out = append(out, r.m)
	}
	return out, nil
}

// burn writes date, title and scale bar on the strip below the picture, where they hide nothing of the plant.
func burn(r *raster, l layout, f *Frame, title string) {
	u := l.unit
	base := float64(l.panelH) + 2.9*u
	end := float64(l.panelW) - 1.2*u
	room := end - 1.2*u - drawBar(r, l, end, base)
	date := cut(r, 2.4*u, sansBold, dayThatFits(r, 2.4*u, f.Date, room), room)
	r.text(1.2*u, base, 2.4*u, sansBold, darkInk, left, date)
	if room -= r.width(2.4*u, sansBold, date) + 2.5*u; title != "" && room > 6*u {
		r.text(1.2*u+r.width(2.4*u, sansBold, date)+1.5*u, base, 2.2*u, serif, quietInk, left, cut(r, 2.2*u, serif, title, room))
	}
}

// palette chooses the colours of all frames together by median cut (Heckbert 1982) on a sample of their pixels. Black
// and the paper's colour are kept for the texts.
func palette(pics []*image.NRGBA, n int) color.Palette {
	var px [][3]uint8
	for _, p := range pics {
		small := imaging.Resize(p, 160, 0, imaging.Box)
		for i := 0; i+3 < len(small.Pix); i += 4 {
			px = append(px, [3]uint8{small.Pix[i], small.Pix[i+1], small.Pix[i+2]})
		}
	}
	out := color.Palette{darkInk, paperInk}
	for _, b := range medianCut(px, n-len(out)) {
		var sum [3]int
		for _, p := range b {
			for c := range 3 {
				sum[c] += int(p[c])
			}
		}
		k := len(b)
		out = append(out, color.NRGBA{uint8(sum[0] / k), uint8(sum[1] / k), uint8(sum[2] / k), 255})
	}
	return out
}

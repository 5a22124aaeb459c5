package plate

import (
	"image"
	"image/color"
	stddraw "image/draw"
	"image/gif"
	"io"
	"math"
	"slices"
	"time"

	"github.com/disintegration/imaging"
)

// Motion is how a moving picture plays.
type Motion struct {
	WidthPx int           // of one plant's picture; where zero 640, and 480 for plants side by side
	Hold    time.Duration // per session; 1.2 s where zero, the last one twice as long
}

// Animate writes plants' sessions as a GIF that loops: all aligned, same scale and colour, the date burnt in; several plants
// side by side, in step. GIF is what every chat program plays. One palette serves all frames, so that colours do not jump
// between them.
func Animate(w io.Writer, rows []Row, m Motion) error {
	if m.WidthPx <= 0 {
		m.WidthPx = 640
		if len(rows) > 1 {
			m.WidthPx = 480
		}
	}
	if m.Hold <= 0 {
		m.Hold = 1200 * time.Millisecond
	}
	pics, err := stills(rows, m)
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
func stills(rows []Row, m Motion) ([]*image.NRGBA, error) {
	s := Spec{Preset: Preset{W: m.WidthPx, H: m.WidthPx * 3 / 4, DPI: 96}}
	for _, row := range rows {
		shown := Row{Label: row.Label}
		for _, f := range row.Frames {
			if f.Image != nil && !f.Image.Bounds().Empty() {
				shown.Frames = append(shown.Frames, f)
			}
		}
		if len(shown.Frames) > 0 {
			s.Rows = append(s.Rows, shown)
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
	gap := 2 * int(0.5*l.unit)
	var out []*image.NRGBA
	for _, step := range steps(s.Rows) {
		r := newRaster(len(step)*(l.panelW+gap)-gap, l.panelH+strip, paperInk)
		for i, f := range step {
			x := i * (l.panelW + gap)
			slot{on: r, l: &l, x: x}.panel(f)
			burn(r, l, f, x, s.Rows[i].Label)
		}
		if r.err != nil {
			return nil, r.err
		}
		out = append(out, r.m)
	}
	return out, nil
}

// roundDays: photos of several plants that were taken within so many days are of one round, and shown together.
const roundDays = 10

// steps are what is seen at one time: for each round of photos each plant's latest frame so far, or its first where it has none
// yet.
func steps(rows []Row) [][]*Frame {
	var days []string
	for _, r := range rows {
		for _, f := range r.Frames {
			days = append(days, f.Date)
		}
	}
	slices.Sort(days)
	days = slices.Compact(days)
	var ends []string // of rounds
	for i := 0; i < len(days); {
		first, j := days[i], i
		for len(rows) > 1 && j+1 < len(days) && daysBetween(first, days[j+1]) <= roundDays {
			j++
		}
		ends = append(ends, days[j])
		i = j + 1
	}
	out := make([][]*Frame, len(ends))
	for i, end := range ends {
		for k := range rows {
			shown := &rows[k].Frames[0]
			for n := range rows[k].Frames {
				if f := &rows[k].Frames[n]; f.Date <= end && f.Date >= shown.Date {
					shown = f
				}
			}
			out[i] = append(out[i], shown)
		}
	}
	return out
}

// daysBetween two dates, YYYY-MM-DD; what is no date lies far from any.
func daysBetween(from, to string) float64 {
	a, err := time.Parse(time.DateOnly, from)
	b, err2 := time.Parse(time.DateOnly, to)
	if err != nil || err2 != nil {
		return math.Inf(1)
	}
	return b.Sub(a).Hours() / 24
}

// leastTitle is the room, in units of the layout, below which a title is left out (chosen by eye).
const leastTitle = 6

// burn writes date, title and scale bar on the strip below the picture, where they hide nothing of the plant.
func burn(r *raster, l layout, f *Frame, x int, title string) {
	u, start := l.unit, float64(x)+1.2*l.unit
	base := float64(l.panelH) + 2.9*u
	end := float64(x+l.panelW) - 1.2*u
	room := end - start - drawBar(r, l, end, base)
	date := cut(r, 2.4*u, sansBold, dayThatFits(r, 2.4*u, f.Date, room), room)
	r.text(start, base, lettering{2.4 * u, sansBold, darkInk, left}, date)
	if room -= r.width(2.4*u, sansBold, date) + 2.5*u; title != "" && room > leastTitle*u {
		r.text(start+r.width(2.4*u, sansBold, date)+1.5*u, base, lettering{2.2 * u, serif, quietInk, left}, cut(r, 2.2*u, serif, title, room))
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

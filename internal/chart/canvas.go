package chart

import (
	"fmt"
	"html"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// ink is a colour that is a name: the page's style sheet says what it looks like, by day, by night and on paper.
type ink string

// RGBA meets color.Color; the value is never drawn, it only has to be opaque so that nothing is skipped as invisible.
func (ink) RGBA() (r, g, b, a uint32) { return 0, 0, 0, 0xffff }

// canvas is a drawing surface for gonum/plot that writes small inline SVG whose colours are classes. The library's own
// SVG writer fixes colours and fonts in every element, which a page with a dark mode and hundreds of charts cannot use.
type canvas struct {
	w, h  float64 // px; one point of the library is one px here
	out   strings.Builder
	state []state
	open  string // attributes of the path being collected: strokes of one style in a row become one element
	d     strings.Builder
	op    byte   // last command of d, to leave out repetitions
	at0   [2]int // where the current part of d began, tenths of a px
	last  [2]int // position reached, tenths of a px
	moved bool   // there is one
}

type state struct {
	ink   string
	width float64
	dash  string
	a, b  float64 // rotation: x' = a x - b y + e, y' = b x + a y + f
	e, f  float64
}

func newCanvas(w, h float64) *canvas {
	c := &canvas{w: w, h: h, state: []state{{a: 1, width: 1}}}
	return c
}

func (c *canvas) top() *state { return &c.state[len(c.state)-1] }

// Size gives the surface's size.
func (c *canvas) Size() (vg.Length, vg.Length) { return vg.Length(c.w), vg.Length(c.h) }

// SetLineWidth sets the width of strokes.
func (c *canvas) SetLineWidth(w vg.Length) { c.top().width = w.Points() }

// SetLineDash sets the dashes of strokes; the offset is not needed here.
func (c *canvas) SetLineDash(d []vg.Length, _ vg.Length) {
	parts := make([]string, len(d))
	for i, l := range d {
		parts[i] = num(l.Points())
	}
	c.top().dash = strings.Join(parts, " ")
}

// SetColor sets the colour of what follows; a colour without a name becomes the ink of the text.
func (c *canvas) SetColor(col color.Color) {
	if k, ok := col.(ink); ok {
		c.top().ink = string(k)
		return
	}
	c.top().ink = "ink"
}

// Rotate turns what follows by an angle in radians, counterclockwise.
func (c *canvas) Rotate(rad float64) {
	s := c.top()
	sin, cos := math.Sincos(rad)
	s.a, s.b = s.a*cos-s.b*sin, s.a*sin+s.b*cos
}

// Translate shifts what follows.
func (c *canvas) Translate(p vg.Point) {
	s := c.top()
	x, y := p.X.Points(), p.Y.Points()
	s.e += s.a*x - s.b*y
	s.f += s.b*x + s.a*y
}

// Scale is not used by the plots drawn here; equal factors are honoured.
func (c *canvas) Scale(x, _ float64) {
	s := c.top()
	s.a *= x
	s.b *= x
}

// Push keeps the state, Pop returns to it.
func (c *canvas) Push() { c.state = append(c.state, *c.top()) }

// Pop returns to the state kept last.
func (c *canvas) Pop() { c.state = c.state[:len(c.state)-1] }

// at turns a point of the library (y up) into SVG's (y down).
func (c *canvas) at(p vg.Point) (x, y float64) {
	s := c.top()
	px, py := p.X.Points(), p.Y.Points()
	return s.a*px - s.b*py + s.e, c.h - (s.b*px + s.a*py + s.f)
}

// Stroke draws a path's line.
func (c *canvas) Stroke(p vg.Path) {
	s := c.top()
	if s.width <= 0 || len(p) == 0 {
		return
	}
	attr := fmt.Sprintf(`class="s %s" stroke-width="%s"`, s.ink, num(s.width))
	if s.dash != "" {
		attr += ` stroke-dasharray="` + s.dash + `"`
	}
	c.path(attr, p)
}

// Fill draws a path's inside.
func (c *canvas) Fill(p vg.Path) {
	if len(p) > 0 {
		c.path(`class="f `+c.top().ink+`"`, p)
	}
}

func (c *canvas) path(attr string, p vg.Path) {
	if attr != c.open {
		c.flush()
		c.open = attr
	}
	for _, k := range p {
		x, y := c.at(k.Pos)
		switch k.Type {
		case vg.MoveComp:
			c.step('m', x, y)
		case vg.CloseComp:
			c.d.WriteByte('z')
			c.op, c.last = 'z', c.at0
		case vg.ArcComp:
			c.arc(k)
		default:
			c.step('l', x, y)
		}
	}
}

// step moves or draws to a position. Positions are written relative to the one before, which takes half the room in a
// chart of many points; they are rounded before they are subtracted, so that nothing adds up.
func (c *canvas) step(op byte, x, y float64) {
	to := [2]int{tenths(x), tenths(y)}
	if !c.moved {
		op = 'm'
	}
	if op == 'm' {
		c.at0 = to
	}
	if c.moved && to == c.last && c.op != 'z' {
		return
	}
	if op != c.op || op == 'm' {
		if !(op == 'l' && c.op == 'm') { // pairs after a move are lines
			c.d.WriteByte(op)
		} else if to[0] >= c.last[0] {
			c.d.WriteByte(' ')
		}
		c.op = op
	} else if to[0] >= c.last[0] {
		c.d.WriteByte(' ')
	}
	c.pair(to)
}

// pair writes the way to a position, and is there.
func (c *canvas) pair(to [2]int) {
	c.d.WriteString(short(to[0] - c.last[0]))
	if to[1] >= c.last[1] {
		c.d.WriteByte(' ')
	}
	c.d.WriteString(short(to[1] - c.last[1]))
	c.last, c.moved = to, true
}

// arc writes an arc; a whole circle as two halves, since SVG draws nothing where an arc's ends meet.
func (c *canvas) arc(k vg.PathComp) {
	r := k.Radius.Points()
	end := func(t float64) (float64, float64) {
		return c.at(vg.Point{X: k.Pos.X + vg.Length(r*math.Cos(t)), Y: k.Pos.Y + vg.Length(r*math.Sin(t))})
	}
	steps := 1
	if math.Abs(k.Angle) > math.Pi {
		steps = 2
	}
	x, y := end(k.Start)
	op := byte('l')
	if c.d.Len() == 0 || c.op == 'z' || steps == 2 {
		op = 'm'
	}
	c.step(op, x, y)
	sweep := 0 // y points down in SVG: counterclockwise is 0
	if k.Angle < 0 {
		sweep = 1
	}
	for i := 1; i <= steps; i++ {
		x, y = end(k.Start + k.Angle*float64(i)/float64(steps))
		fmt.Fprintf(&c.d, "a%s %s 0 0 %d ", num(r), num(r), sweep)
		c.pair([2]int{tenths(x), tenths(y)})
		c.op = 'a'
	}
}

func (c *canvas) flush() {
	if c.d.Len() > 0 {
		fmt.Fprintf(&c.out, `<path %s d="%s"/>`, c.open, c.d.String())
	}
	c.d.Reset()
	c.open, c.op, c.last, c.at0, c.moved = "", 0, [2]int{}, [2]int{}, false
}

// FillString writes text; its font is the page's, only the size is the plot's.
func (c *canvas) FillString(f font.Face, p vg.Point, s string) {
	c.flush()
	x, y := c.at(p)
	turn := ""
	if st := c.top(); st.b != 0 {
		turn = fmt.Sprintf(` transform="rotate(%s %s %s)"`, num(-math.Atan2(st.b, st.a)*180/math.Pi), num(x), num(y))
	}
	fmt.Fprintf(&c.out, `<text class="f %s" x="%s" y="%s" font-size="%s"%s>%s</text>`,
		c.top().ink, num(x), num(y), num(f.Font.Size.Points()), turn, html.EscapeString(s))
}

// DrawImage is part of the library's surface; charts hold no pictures.
func (c *canvas) DrawImage(vg.Rectangle, image.Image) {}

// raw adds elements of our own between the library's.
func (c *canvas) raw(s string) { c.flush(); c.out.WriteString(s) }

// body is all that was drawn.
func (c *canvas) body() string { c.flush(); return c.out.String() }

func tenths(px float64) int { return int(math.Round(10 * px)) }

// short prints tenths of a px.
func short(t int) string {
	s := strconv.Itoa(t)
	sign := ""
	if t < 0 {
		sign, s = "-", s[1:]
	}
	whole, part := s[:len(s)-1], s[len(s)-1:]
	switch {
	case part == "0" && whole == "":
		return "0"
	case part == "0":
		return sign + whole
	}
	return sign + whole + "." + part
}

// num prints px to a tenth, which is finer than a screen shows.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	s = strings.TrimSuffix(s, ".0")
	if s == "-0" {
		return "0"
	}
	return s
}

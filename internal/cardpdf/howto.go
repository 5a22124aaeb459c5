package cardpdf

import "phototrack/internal/card"

// Two bookmarks, one for each side of the card, made to be kept with it.
const (
	bookmarkWidthMM  = 48.0
	bookmarkHeightMM = 146.0
	bookmarkGapMM    = 2.0
)

var (
	leafGreen = colour{60, 102, 50}
	paleLeaf  = colour{142, 180, 88}
	clay      = colour{196, 140, 104}
	wallGrey  = colour{238, 238, 234}
	glass     = colour{224, 234, 238}
	rootBrown = colour{110, 76, 50}
)

// bookmark is what one bookmark says and shows.
type bookmark struct {
	title, side string
	band        colour
	picture     func(canvas)
	caption     string
	rules       []string
}

func bookmarks() [2]bookmark {
	return [2]bookmark{
		{"Leaves", "side L", leafGreen, canvas.leafPicture, "from the front: card in the leaf plane", []string{
			"Photograph before watering.",
			"Side L to the camera, held or propped in the plane of the leaves, beside them.",
			"Camera square to the card, about 60 cm off.",
			"The whole card, the plant and one tag in the frame; nothing in front of the card.",
			"A plain backdrop, not green.",
			"Soft even light: no flash, no harsh shadow, no sun on the card.",
			"Same place, same way, every month.",
		}},
		{"Roots", "side R", rootBrown, canvas.rootPicture, "from above: card level with the pot’s axis", []string{
			"Photograph before watering: a dry wall shows the roots.",
			"Side R to the camera, beside the pot, its face level with the pot’s axis.",
			"Camera square to the card, about 60 cm off, pot and card side by side.",
			"The whole card, the whole pot and one tag in the frame.",
			"A plain backdrop; wipe the wall outside.",
			"Soft light from the sides: no flash, no lamp mirrored in the wall, no harsh shadow.",
			"Same side of the pot every month: mark it.",
		}},
	}
}

func (d *document) howToPage() {
	c, w, h := d.addPage(false, "How to shoot")
	wide := 2*bookmarkWidthMM + bookmarkGapMM
	x, y := (w-wide)/2, (h-bookmarkHeightMM)/2
	if !d.small() {
		x, y = (w-scenesWideMM)/2, 43.0
		c.textColour(ink)
		c.text(bold.at(20), x, y-20, "How to shoot")
		c.textColour(faint)
		c.paragraph(regular.at(10), x, y-12, scenesWideMM, "Cut out these two bookmarks and keep them with the card.")
		c.at(x, y+bookmarkHeightMM+12).scenes()
		c.at(x+wide+8, y).whatFor(scenesWideMM - wide - 8)
	}
	for i, b := range bookmarks() {
		c.at(x+float64(i)*(bookmarkWidthMM+bookmarkGapMM), y).bookmark(b)
	}
}

// Sizes of the row of photos that do and do not do.
const (
	sceneMM       = 40.0
	sceneGapMM    = 6.0
	scenesWideMM  = 4*sceneMM + 3*sceneGapMM
	sceneRuleDrop = 4.5 // of the words below a scene, mm
)

// scenes are a photo that does and three that do not, side by side.
func (c canvas) scenes() {
	for i, k := range []struct {
		title, words string
		draw         func(canvas)
	}{
		{"Good", "The whole plant, the whole card and the tag; even light.", canvas.leafPicture},
		{"Not so: card cut off", "Step back, or bring the card nearer: all six black squares must show.", func(c canvas) { c.at(11, 0).leafPicture() }},
		{"Not so: leaf over the card", "Move leaves and fingers off the card.", func(c canvas) {
			c.leafPicture()
			c.leaf(blade{29, 15, 9, 2.6, 32}, leafGreen)
		}},
		{"Not so: hard shadow", "Turn away from the lamp or the sun until the light is even; no flash.", func(c canvas) {
			c.leafPicture()
			c.pdf.SetAlpha(0.62, "Normal")
			c.fillBlack()
			c.polygon([]card.MM{{X: 18, Y: 0}, {X: 40, Y: 0}, {X: 40, Y: 40}, {X: 30, Y: 40}})
			c.pdf.SetAlpha(1, "Normal")
		}},
	} {
		s := c.at(float64(i)*(sceneMM+sceneGapMM), 0)
		s.pdf.ClipRect(s.x, s.y, sceneMM, sceneMM, false)
		s.fillRGB(wallGrey)
		s.rect(0, 0, sceneMM, sceneMM, "F")
		k.draw(s)
		s.pdf.ClipEnd()
		s.stroke(faint, 0.2)
		s.rect(0, 0, sceneMM, sceneMM, "D")
		s.textColour(ink)
		s.text(bold.at(8.5), 0, sceneMM+sceneRuleDrop, k.title)
		s.textColour(faint)
		s.paragraph(regular.at(8), 0, sceneMM+2*sceneRuleDrop, sceneMM, k.words)
	}
}

// whatFor says beside the bookmarks what happens with the photos.
func (c canvas) whatFor(wideMM float64) {
	y := 5.0
	for _, k := range [][2]string{
		{"Every month", "Go round with the card and two photos of each plant, the camera moved in between."},
		{"Then", "Drop the photos on the program’s page, or copy them into the inbox. Each that will not do is named, with the reason and what to do: take it again at once."},
		{"The inbox", "may be emptied when its photos are measured: each is kept as it came. Nothing in the inbox is changed by the program."},
		{"Files", "JPEG, PNG, TIFF, WebP and HEIC as the phone or camera took them. Raw files have to be developed to one of these first."},
	} {
		c.textColour(ink)
		c.text(bold.at(10), 0, y, k[0])
		c.textColour(faint)
		y = c.paragraph(regular.at(9), 0, y+5, wideMM, k[1]) + 7
	}
}

func (c canvas) bookmark(b bookmark) {
	const marginMM, bandMM, pictureMM = 4.0, 13.0, 40.0
	c.stroke(hairline, 0.1)
	c.rect(0, 0, bookmarkWidthMM, bookmarkHeightMM, "D")
	c.fillRGB(b.band)
	c.rect(0, 0, bookmarkWidthMM, bandMM, "F")
	c.textColour(white)
	c.text(bold.at(15), marginMM, 8.8, b.title)
	c.textRight(regular.at(10), bookmarkWidthMM-marginMM, 8.8, b.side)

	b.picture(c.at(marginMM, bandMM+3))
	c.textColour(faint)
	c.textCentred(regular.at(6), bookmarkWidthMM/2, bandMM+pictureMM+6.5, b.caption)

	y := bandMM + pictureMM + 13
	for _, s := range b.rules {
		c.fillRGB(b.band)
		c.rect(marginMM, y-1.8, 1.5, 1.5, "F")
		c.textColour(ink)
		y = c.paragraph(regular.at(8.3), marginMM+3.2, y, bookmarkWidthMM-2*marginMM-3.2+1, s) + 1.4
	}
}

// leafPicture is a 40 x 40 mm drawing from the front: plant, tag, card beside the leaves, plain wall.
func (c canvas) leafPicture() {
	c.fillRGB(wallGrey)
	c.rect(0, 0, 40, 40, "F")
	c.fillRGB(colour{214, 210, 200})
	c.rect(0, 34, 40, 6, "F")

	c.stroke(leafGreen, 0.6)
	c.line(13, 28, 13, 12)
	c.leaf(blade{6.9, 18, 7.5, 3.2, 25}, leafGreen)
	c.leaf(blade{18.6, 16, 6.2, 2.9, -25}, leafGreen)
	c.leaf(blade{13, 8.5, 3, 6, 0}, paleLeaf)

	c.fillRGB(clay)
	c.polygon([]card.MM{{X: 7, Y: 26}, {X: 19, Y: 26}, {X: 17.5, Y: 37}, {X: 8.5, Y: 37}})
	c.miniTag(11, 28.5)
	c.miniCard(26.8, 11)
	c.stroke(faint, 0.2)
	c.line(32.8, 19.2, 32.8, 37) // the stick that holds the card
}

// rootPicture is a 40 x 40 mm drawing from above: pot and axis, card edge-on, camera facing it squarely.
func (c canvas) rootPicture() {
	c.fillRGB(wallGrey)
	c.rect(0, 0, 40, 40, "F")
	c.stroke(colour{150, 170, 180}, 0.5)
	c.fillRGB(glass)
	c.pdf.Circle(c.x+12, c.y+12, 8.5, "FD")
	c.fillRGB(rootBrown)
	c.pdf.Circle(c.x+12, c.y+12, 6.6, "F")

	// The line on which both the axis and the card's face lie.
	c.pdf.SetDashPattern([]float64{0.8, 0.8}, 0)
	c.stroke(faint, 0.2)
	c.line(1.5, 12, 38.5, 12)
	c.line(22.5, 32, 22.5, 12)
	c.pdf.SetDashPattern([]float64{}, 0)
	c.stroke(white, 0.35)
	c.line(10.8, 12, 13.2, 12)
	c.line(12, 10.8, 12, 13.2)
	c.fillRGB(black)
	c.rect(24, 11.2, 13.5, 0.8, "F")
	c.stroke(ink, 0.2)
	c.line(22.5, 14, 24.5, 14) // the right angle
	c.line(24.5, 14, 24.5, 12)

	c.fillRGB(ink)
	c.rect(18, 33, 9, 4.5, "F")
	c.rect(21, 31.6, 3, 1.6, "F")
	c.textColour(ink)
	c.text(regular.at(5.5), 31.2, 15, "side R")
	c.text(regular.at(5.5), 2, 24.5, "pot and axis")
	c.text(regular.at(5.5), 28.4, 36.2, "camera")
}

// blade is a leaf of the drawings, an ellipse: its middle, its half axes, mm, and how far it is turned to the left.
type blade struct{ x, y, rx, ry, deg float64 }

func (c canvas) leaf(b blade, k colour) {
	c.fillRGB(k)
	c.pdf.Ellipse(c.x+b.x, c.y+b.y, b.rx, b.ry, b.deg, "F")
}

func (c canvas) polygon(points []card.MM) {
	for i, p := range points {
		if i == 0 {
			c.pdf.MoveTo(c.x+p.X, c.y+p.Y)
			continue
		}
		c.pdf.LineTo(c.x+p.X, c.y+p.Y)
	}
	c.pdf.ClosePath()
	c.pdf.DrawPath("F")
}

// miniCard is the card drawn as an icon. Plain squares stand for its markers, so that no photo of the
// bookmark can be taken for one of the card.
func (c canvas) miniCard(x, y float64) {
	const scale = 12.0 / card.WidthMM
	c.fillRGB(white)
	c.stroke(faint, 0.15)
	c.rect(x, y, card.WidthMM*scale, card.HeightMM*scale, "FD")
	c.fillBlack()
	for _, id := range card.MarkerIDs(card.SideLeaf) {
		q, _, _ := card.MarkerCornersMM(id)
		c.rect(x+q[0][0]*scale, y+q[0][1]*scale, card.MarkerMM*scale, card.MarkerMM*scale, "F")
	}
	for _, p := range card.Patches() {
		q := p.TopLeftMM()
		c.fillRGB(p.SRGB)
		c.rect(x+q.X*scale, y+q.Y*scale, card.PatchSideMM*scale, card.PatchSideMM*scale, "F")
	}
}

func (c canvas) miniTag(x, y float64) {
	const scale = 4.0 / card.TagWidthMM
	c.fillRGB(white)
	c.rect(x, y, card.TagWidthMM*scale, card.TagHeightMM*scale, "F")
	c.fillBlack()
	c.rect(x+card.TagMarkerXMM*scale, y+card.TagMarkerYMM*scale, card.TagMarkerMM*scale, card.TagMarkerMM*scale, "F")
}

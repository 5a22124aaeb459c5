package card

// Colour patches: two rows of twelve squares between the marker rows.
const (
	// PatchSideMM is the printed width of a patch.
	PatchSideMM = 11.0
	// PatchPitchMM is the distance between the left edges of neighbouring patches.
	PatchPitchMM = 11.5
	// PatchesPerRow is the number of patches in each row.
	PatchesPerRow = 12

	patchFirstXMM = 5.0
	patchRowAYMM  = 33.0
	patchRowBYMM  = 44.5
)

// Patch is one printed colour patch.
type Patch struct {
	Name string
	Row  string   // "A" (neutrals and primaries) or "B" (plant colours)
	K    int      // 0..11 from the left
	SRGB [3]uint8 // nominal colour, sRGB (IEC 61966-2-1)
}

// Neutral reports whether the patch is nominally grey.
func (p Patch) Neutral() bool { return p.SRGB[0] == p.SRGB[1] && p.SRGB[1] == p.SRGB[2] }

// TopLeftMM is the patch's top-left corner.
func (p Patch) TopLeftMM() MM {
	y := patchRowAYMM
	if p.Row == "B" {
		y = patchRowBYMM
	}
	return MM{patchFirstXMM + PatchPitchMM*float64(p.K), y}
}

// CentreMM is the patch's centre.
func (p Patch) CentreMM() MM {
	q := p.TopLeftMM()
	return MM{q.X + PatchSideMM/2, q.Y + PatchSideMM/2}
}

type namedColour struct {
	name string
	srgb [3]uint8
}

var patchRows = [2][PatchesPerRow]namedColour{
	{
		{"neutral 1", [3]uint8{242, 242, 242}},
		{"neutral 2", [3]uint8{214, 214, 214}},
		{"neutral 3", [3]uint8{184, 184, 184}},
		{"neutral 4", [3]uint8{154, 154, 154}},
		{"neutral 5", [3]uint8{124, 124, 124}},
		{"neutral 6", [3]uint8{94, 94, 94}},
		{"neutral 7", [3]uint8{64, 64, 64}},
		{"neutral 8", [3]uint8{34, 34, 34}},
		{"red", [3]uint8{180, 56, 50}},
		{"yellow", [3]uint8{228, 194, 40}},
		{"blue", [3]uint8{50, 70, 150}},
		{"magenta", [3]uint8{178, 70, 134}},
	},
	{
		{"deep green", [3]uint8{38, 64, 36}},
		{"leaf green", [3]uint8{60, 102, 50}},
		{"mid green", [3]uint8{92, 140, 66}},
		{"light green", [3]uint8{142, 180, 88}},
		{"yellow-green", [3]uint8{178, 192, 72}},
		{"pale yellow", [3]uint8{222, 208, 120}},
		{"silver green", [3]uint8{178, 190, 164}},
		{"blue-green", [3]uint8{70, 112, 98}},
		{"tan", [3]uint8{168, 126, 84}},
		{"brown", [3]uint8{110, 76, 50}},
		{"red-purple", [3]uint8{94, 42, 58}},
		{"dull purple", [3]uint8{98, 64, 94}},
	},
}

// Patches gives all 24 patches: row A from left to right, then row B. The slice is the caller's own.
func Patches() []Patch {
	out := make([]Patch, 0, 2*PatchesPerRow)
	for r, row := range patchRows {
		for k, c := range row {
			out = append(out, Patch{Name: c.name, Row: string("AB"[r]), K: k, SRGB: c.srgb})
		}
	}
	return out
}

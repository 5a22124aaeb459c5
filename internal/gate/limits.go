package gate

// The numbers behind the table: what is tested is what its rows print, and why each lies there stands in the row.
const (
	DefaultMegapixels = 200  // larger photos are refused unopened; the settings may say otherwise, as for the next three
	DefaultFileMB     = 400  // so are larger files
	DefaultSeconds    = 60   // of processor time that one photo may take
	DefaultMemoryMB   = 4000 // of memory that one photo may take
	FirstYear         = 1995 // before it no camera for the public wrote a date: Exif 1.0 is of October 1995 (JEIDA; from memory)
)

// Limits of the card.
const (
	MinScalePxPerMM     = 1.5  // hard: a 3 mm marker cell must be 4 to 5 px wide to be read and located
	MaxTiltDeg          = 45.0 // hard
	WarnTiltDeg         = 37.0
	MinMarkers          = 2
	WarnMarkers         = 4
	MaxEdgeSpreadMM     = 1.0 // 10 to 90 % edge width at the markers
	WarnEdgeSpreadMM    = 0.8
	FloorEdgeSpreadPx   = 2.5 // below this many px a spread is the camera's own sharpness, never "blurred"
	UnsharpEdgePx       = 4.0 // no sharp photo has edges so wide (1 to 2 px), every badly shaken one has (see package calib)
	UnsharpEdgeMM       = 1.5 // half a cell of a marker: the next cell reaches into the edge, whose width is then no longer seen
	MinWhite            = 30  // camera value of white paper, of 255
	MinPatches          = 14  // of 24, that a correction can rest on
	WarnClippedPatches  = 2   // of 24
	MaxClippedPatches   = 8   // of 24
	MaxColourMedian     = 6.0 // CIEDE2000, leave-one-out
	WarnColourMedian    = 3.0
	MaxGradientPer100MM = 0.60
	WarnBendMM          = 0.8
)

// Limits of leaves and roots.
const (
	MinLeafMM2     = 100.0 // less is no plant
	MaxFrameShare  = 0.03  // of the outline that may run along the frame's edge
	WarnDoubtShare = 0.05  // of the leaf area or root length that may have been judged wrongly
	MaxDoubtShare  = 0.25
)

// Limits of the pot and its wall.
const (
	MaxCutShare       = 0.03 // of the wall outside the photo
	MinSeenShare      = 0.15 // of the wall seen: less shows nothing
	WarnSeenShare     = 0.70
	WarnBareSeenShare = 0.90 // where no root is plain: a label or a band of glare may hide all there is
	MinContrastL      = 1.6  // CIELAB: a wall of one colour differs from its surroundings by noise and shading only
	WarnContrastL     = 3.0  // the same, where no root is plain: walls seen clearly differ by 4 and more, behind thick mist by 2 to 2.6
	MaxCalmShare      = 0.4  // of the wall without light and shade; media have 2 to 15 %
	MinWaterLineShare = 0.60 // of the wall's width that a level line runs across
)

// What the card has (package card); here so that rows can say "of".
const (
	cardMarkers = 6
	cardPatches = 24
)

package collection

import (
	"phototrack/internal/caption"
	"phototrack/internal/gate"
)

// Settings is settings.toml: all that can be tuned. The tags are the one source for the file that Init writes and for
// the checks on reading: toml the key, doc the line of explanation, min and max the range.
type Settings struct {
	Measurement MeasurementSettings `toml:"measurement" doc:"What goes into every measured number. A change here measures all photos anew."`
	Parts       PartSettings        `toml:"parts" doc:"Lines drawn on parts of plants. A change here measures anew the photos that have such lines."`
	Classes     ClassSettings       `toml:"classes" doc:"The colour classes of leaves, by hue angle in CIELAB (D65). A change here measures all leaf photos anew."`
	Change      ChangeSettings      `toml:"change" doc:"What counts as a change. Nothing is measured anew."`
	Report      ReportSettings      `toml:"report" doc:"How reports look. Nothing is measured anew."`
	Plates      PlateSettings       `toml:"plates" doc:"The words on plates: templates, one line each; \"\" leaves a line away. Nothing is measured anew."`
	Run         RunSettings         `toml:"run" doc:"How the work is done. The numbers do not depend on it."`
}

// MeasurementSettings are the declared sizes and limits behind a measurement.
type MeasurementSettings struct {
	OffsetMM        float64 `toml:"offset_mm" min:"-300" max:"300" doc:"mm that the leaves lie before the card's face, towards the camera; 0 if the card is held among the leaves"`
	DepthCommonMM   float64 `toml:"depth_common_mm" min:"0" max:"200" doc:"how well that is known, plus or minus mm, the same in all photos of a plant; cancels in a change"`
	DepthShotMM     float64 `toml:"depth_shot_mm" min:"0" max:"200" doc:"how much it varies from shot to shot, plus or minus mm; does not cancel in a change"`
	SlopeDeg        float64 `toml:"slope_deg" min:"0" max:"45" doc:"how far leaves slope out of the card's plane, plus or minus degrees"`
	UnmeasuredPrint float64 `toml:"unmeasured_print" min:"0" max:"0.1" doc:"relative standard uncertainty of the card's scale while cards.csv holds no ruler reading; 0.01 is 1 %"`
	MinSpeckMM2     float64 `toml:"min_speck_mm2" min:"0" max:"1000" doc:"pieces of leaf smaller than this many mm2 are left out"`
	MinHoleMM2      float64 `toml:"min_hole_mm2" min:"0" max:"1000" doc:"holes in leaves smaller than this many mm2 are filled"`
}

// PartSettings are the declared sizes behind what is measured along lines.
type PartSettings struct {
	DepthMM     float64 `toml:"depth_mm" min:"0" max:"300" doc:"how far a part may lie before or behind the card's plane, plus or minus mm, the same in all photos; cancels in a change"`
	DepthShotMM float64 `toml:"depth_shot_mm" min:"0" max:"200" doc:"how much that varies from shot to shot, plus or minus mm; does not cancel in a change"`
	SlopeDeg    float64 `toml:"slope_deg" min:"0" max:"45" doc:"how far a part may lean out of the card's plane, plus or minus degrees"`
	CardUpDeg   float64 `toml:"card_upright_deg" min:"0" max:"20" doc:"how far the card may stand out of upright, plus or minus degrees; it goes into angles"`
}

// ClassSettings is the class table: brown from BrownFromDeg up to YellowFromDeg, yellow up to GreenFromDeg, green up
// to PurpleFromDeg, purple the rest of the circle.
type ClassSettings struct {
	BrownFromDeg  float64 `toml:"brown_from_deg" min:"0" max:"360" doc:"hue angle, degrees: brown begins here (dead tissue is reddish to yellowish brown)"`
	YellowFromDeg float64 `toml:"yellow_from_deg" min:"0" max:"360" doc:"yellow begins here (chlorophyll gone, carotenoids left)"`
	GreenFromDeg  float64 `toml:"green_from_deg" min:"0" max:"360" doc:"green begins here"`
	PurpleFromDeg float64 `toml:"purple_from_deg" min:"0" max:"360" doc:"purple begins here and goes round to brown (anthocyanins)"`
	MinChroma     float64 `toml:"min_chroma" min:"0" max:"40" doc:"pixels of less chroma than this have no sure hue and are not judged"`
}

// ChangeSettings say what counts as a change.
type ChangeSettings struct {
	NoiseArea       float64 `toml:"noise_area" min:"0.0001" max:"0.5" doc:"relative noise of leaf area between days, taken until the collection has data of its own; 0.007 is 0.7 %"`
	NoiseRootLength float64 `toml:"noise_root_length" min:"0.0001" max:"1" doc:"the same for root length; 0.08 is 8 %"`
	NoiseShare      float64 `toml:"noise_share" min:"0.0001" max:"0.5" doc:"the same for shares, absolute; 0.01 is one point"`
	NoisePartLength float64 `toml:"noise_part_length" min:"0.0001" max:"0.5" doc:"relative noise of a part's length between days beyond its budget; 0.005 is 0.5 %"`
	NoisePartWidth  float64 `toml:"noise_part_width_mm" min:"0.001" max:"10" doc:"the same of a part's width, mm: the line is not drawn at quite the same place again"`
	NoisePartDeg    float64 `toml:"noise_part_deg" min:"0.01" max:"30" doc:"the same of bends and angles, degrees"`
	FalseDiscovery  float64 `toml:"false_discovery" min:"0.001" max:"0.5" doc:"of the changes listed first in a report, at most this share may be chance"`
	Baseline        string  `toml:"baseline" doc:"the session that the baseline comparison starts from: first, or a date such as 2026-03-01 (the first session on or after it)"`
	EventMonths     int     `toml:"event_window_months" min:"1" max:"24" doc:"months after an event that count as its effect"`
	QuietMonths     int     `toml:"event_quiet_months" min:"0" max:"24" doc:"months before an event in which a comparison plant had no such event"`
}

// ReportSettings say how reports look.
type ReportSettings struct {
	Title     string `toml:"title" doc:"the name on the first page; empty takes the folder's name"`
	PicturePx int    `toml:"picture_px" min:"200" max:"4000" doc:"longer side of the photos in the report, pixels"`
	Quality   int    `toml:"jpeg_quality" min:"40" max:"100" doc:"JPEG quality of those photos"`
}

// PlateSettings are the templates of a plate's words, see package caption.
type PlateSettings struct {
	Title   string `toml:"title" doc:"the large line at the top"`
	Caption string `toml:"caption" doc:"the line under it"`
	Foot    string `toml:"foot" doc:"the small line at the foot"`
}

// RunSettings say how the work is done.
type RunSettings struct {
	Workers       int  `toml:"workers" min:"0" max:"256" doc:"photos measured at once; 0 takes the number of processors, fewer where memory is short"`
	TimeLimitS    int  `toml:"time_limit_s" min:"5" max:"3600" doc:"seconds of processor time that one photo may take; other work of the computer does not count"`
	MemoryLimitMB int  `toml:"memory_limit_mb" min:"500" max:"100000" doc:"megabytes of memory that one photo may take; a photo of 12 megapixels takes about 300"`
	MaxMegapixels int  `toml:"max_megapixels" min:"1" max:"1000" doc:"larger photos are refused unopened"`
	MaxFileMB     int  `toml:"max_file_mb" min:"1" max:"4000" doc:"larger files are refused unopened"`
	KeepOriginals bool `toml:"keep_originals" doc:"keep a copy of each measured original under photos/"`
	LinkOriginals bool `toml:"link_originals" doc:"make these copies hard links where the disk can: they take no space, but an edit of the photo in place changes the kept original with it"`
}

// DefaultSettings are the values of a new collection.
func DefaultSettings() Settings {
	return Settings{
		Measurement: MeasurementSettings{DepthCommonMM: 8, DepthShotMM: 5, SlopeDeg: 10, UnmeasuredPrint: 0.01,
			MinSpeckMM2: 25, MinHoleMM2: 4},
		Parts:   PartSettings{DepthMM: 15, DepthShotMM: 5, SlopeDeg: 10, CardUpDeg: 3},
		Classes: ClassSettings{BrownFromDeg: 30, YellowFromDeg: 80, GreenFromDeg: 108, PurpleFromDeg: 270, MinChroma: 6},
		Change: ChangeSettings{NoiseArea: 0.007, NoiseRootLength: 0.08, NoiseShare: 0.01, NoisePartLength: 0.005, NoisePartWidth: 0.15, NoisePartDeg: 1.5, FalseDiscovery: 0.10, Baseline: "first",
			EventMonths: 6, QuietMonths: 3},
		Report: ReportSettings{PicturePx: 1200, Quality: 82},
		Plates: PlateSettings(caption.Defaults()),
		Run:    RunSettings{TimeLimitS: gate.DefaultSeconds, MemoryLimitMB: gate.DefaultMemoryMB, MaxMegapixels: gate.DefaultMegapixels, MaxFileMB: gate.DefaultFileMB, KeepOriginals: true},
	}
}

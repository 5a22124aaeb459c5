package reftest

import (
	"testing"
	"time"
)

// Truth is what is exactly known of one photo of the rendered series.
type Truth struct {
	File   string `json:"file"`
	Side   string `json:"side"` // L leaves, R roots
	Tag    int    `json:"tag"`
	Date   string `json:"date"`     // RFC 3339
	WH     [2]int `json:"image_wh"` // as displayed
	Mask   string `json:"mask"`     // beside the photos
	Camera struct{ Fx, Fy, Cx, Cy float64 }
	Card   struct {
		R [3][3]float64 `json:"R"`
		T [3]float64    `json:"t_mm"`
	} `json:"card"`
	Leaf struct {
		Total float64            `json:"visible_area_total_mm2"`
		Share map[string]float64 `json:"visible_share"`
	} `json:"leaf"`
	Root struct {
		ByAzimuth []float64 `json:"visible_length_by_azimuth_10deg_mm"`
		Tips      float64   `json:"visible_tips"`
		Diameter  float64   `json:"mean_diameter_mm"`
	} `json:"root"`
}

// Taken is when the photo was taken.
func (f *Truth) Taken(t testing.TB) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, f.Date)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// CardToPx is the homography from the card's mm to the photo's px, row by row: the camera's matrix times the first two
// columns of the card's rotation and its place.
func (f *Truth) CardToPx() []float64 {
	k := [3][3]float64{{f.Camera.Fx, 0, f.Camera.Cx}, {0, f.Camera.Fy, f.Camera.Cy}, {0, 0, 1}}
	h := make([]float64, 9)
	for i := range 3 {
		for j := range 3 {
			m := [3]float64{f.Card.R[0][j], f.Card.R[1][j], f.Card.R[2][j]}
			if j == 2 {
				m = f.Card.T
			}
			h[3*i+j] = k[i][0]*m[0] + k[i][1]*m[1] + k[i][2]*m[2]
		}
	}
	return h
}

// Series gives the folder of the rendered series (six plants, monthly) and what is known of each photo.
func Series(t testing.TB) (dir string, files []Truth) {
	t.Helper()
	var all struct{ Files []Truth }
	JSON(t, &all, "scenes", "series", "truth.json")
	return Path(t, "scenes", "series"), all.Files
}

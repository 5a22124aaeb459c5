package root

import (
	"phototrack/internal/raster"
	"phototrack/internal/wall"
)

func guessPot(img raster.BGR, cam wall.Camera, offset float64, blocked [][][2]float64) (potFit, bool) {
	return potFit{}, false
}

package root

import "phototrack/internal/raster"

// grown is m widened by r px.
func dilated(m raster.Mask, r float64) raster.Mask { return raster.Pack(m).Dilated(r).Mask() }

// opened takes away what is narrower than 2 r px; the border counts as inside.
func opened(m raster.Mask, r float64) raster.Mask {
	return raster.Pack(m).Eroded(r).Dilated(r).Mask()
}

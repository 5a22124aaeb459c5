package segnet

import (
	"bufio"
	"bytes"
	_ "embed"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// A chain of all kinds of convolutions that net.cpp knows, with random weights, and some values of ONNX Runtime's answer to it for
// pictures of four sizes (testdata/convolutions.txt names the version).
var (
	//go:embed testdata/convolutions.onnx
	chain []byte
	//go:embed testdata/convolutions.txt
	chainAnswers []byte
)

func TestConvolutionsAgainstONNXRuntime(t *testing.T) {
	for _, any := range []bool{false, true} {
		net, err := load(chain, chainPlanes, 1, any)
		require.NoError(t, err)
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
			got := answer(t, net, int(v[0]), int(v[1]))
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

// chainPlanes is how many planes the chain takes.
const chainPlanes = 5

// answer is the chain's to planes of sin(0.7 i).
func answer(t *testing.T, net *Net, w, h int) []float32 {
	l, err := net.run(w, h, wave)
	require.NoError(t, err)
	return append([]float32(nil), l.V...)
}

func wave(x []float32) {
	for i := range x {
		x[i] = float32(math.Sin(0.7 * float64(i)))
	}
}

// The program's own networks against OpenCV's dnn module, which holds every operation's picture: what is put together to steps here is
// the same.
func TestNetworksAgainstOpenCV(t *testing.T) {
	for _, f := range []struct {
		file   string
		planes int
	}{{"../leafnet/regions.onnx", 16}, {"../measure/root/walls.onnx", 15}} {
		onnx, err := os.ReadFile(f.file)
		require.NoError(t, err)
		cvNet, err := gocv.ReadNetFromONNXBytes(onnx)
		require.NoError(t, err)
		for _, any := range []bool{false, true} {
			net, err := load(onnx, f.planes, 32, any)
			require.NoError(t, err)
			for _, size := range [][2]int{{96, 64}, {32, 160}} {
				w, h := size[0], size[1]
				l, err := net.Run(w, h, wave)
				require.NoError(t, err)
				want := byOpenCV(t, &cvNet, f.planes, w, h)
				require.Len(t, want, len(l.V))
				for i, v := range want {
					if d := math.Abs(float64(v - l.V[i])); !(d < 2e-4*max(1, math.Abs(float64(v)))) {
						require.Failf(t, "differs", "%s, %d x %d, value %d: %g, not %g", f.file, w, h, i, l.V[i], v)
					}
				}
			}
			require.NoError(t, net.Close())
		}
		require.NoError(t, cvNet.Close())
	}
}

// byOpenCV is OpenCV's answer to the same planes.
func byOpenCV(t *testing.T, net *gocv.Net, planes, w, h int) []float32 {
	in := gocv.NewMatWithSizes([]int{1, planes, h, w}, gocv.MatTypeCV32F)
	defer in.Close()
	x, err := in.DataPtrFloat32()
	require.NoError(t, err)
	wave(x)
	net.SetInput(in, "")
	out := net.Forward("")
	defer out.Close()
	y, err := out.DataPtrFloat32()
	require.NoError(t, err)
	return append([]float32(nil), y...)
}

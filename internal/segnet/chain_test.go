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

	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// Networks with random weights, and some values of ONNX Runtime's answers to them for pictures of four sizes (testdata/*.txt name the
// version): a row of all kinds of convolutions that chain.cpp knows, and blocks as those of train/net.py, of more and fewer channels than
// are taken at a time, with sums, a doubling, and filters behind each other.
var (
	//go:embed testdata/convolutions.onnx
	row []byte
	//go:embed testdata/convolutions.txt
	rowAnswers []byte
	//go:embed testdata/blocks.onnx
	blocks []byte
	//go:embed testdata/blocks.txt
	blocksAnswers []byte
)

// planes is how many planes these networks take.
const planes = 5

func TestNetworksAgainstONNXRuntime(t *testing.T) {
	for _, any := range []bool{false, true} {
		againstONNXRuntime(t, any, row, rowAnswers)
		againstONNXRuntime(t, any, blocks, blocksAnswers)
	}
}

func againstONNXRuntime(t *testing.T, any bool, onnx, answers []byte) {
	t.Helper()
	forAnyProcessor(any)
	net, merged, err := read(onnx)
	forAnyProcessor(false)
	require.NoError(t, err)
	require.True(t, merged)
	sizes := 0
	lines := bufio.NewScanner(bytes.NewReader(answers))
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
		got := answer(t, &net, planes, int(v[0]), int(v[1]))
		want := v[2:]
		every := max(1, len(got)/150)
		for i, w := range want {
			require.InDelta(t, w, got[i*every], 2e-5*max(1, math.Abs(w)), "%v x %v, value %d, for any processor: %v", v[0], v[1], i, any)
		}
	}
	require.Equal(t, 4, sizes)
	require.NoError(t, net.Close())
}

// Put together to chains, the program's own networks answer to the last bit what they answer layer by layer: with OpenCV's own sums and
// doublings, and every layer's whole picture. The sizes are of all kinds: gone through as a whole and by bands, of rows that are whole
// strips and not.
func TestMergedNetworksAnswerTheSame(t *testing.T) {
	for _, f := range []struct {
		file   string
		planes int
	}{{"../leafnet/first.onnx.zst", 16}, {"../leafnet/second.onnx.zst", 16}, {"../leafnet/third.onnx.zst", 7}, {"../measure/root/walls.onnx", 15}} {
		onnx := unpacked(t, f.file)
		for _, any := range []bool{false, true} {
			forAnyProcessor(any)
			merged, done, err := read(onnx)
			require.NoError(t, err)
			require.True(t, done, f.file)
			single, err := gocv.ReadNetFromONNXBytes(onnx)
			forAnyProcessor(false)
			require.NoError(t, err)
			for _, size := range [][2]int{{96, 64}, {32, 160}, {288, 384}, {96, 64}} {
				want := answer(t, &single, f.planes, size[0], size[1])
				require.Equal(t, want, answer(t, &merged, f.planes, size[0], size[1]), "%s, %v, for any processor: %v", f.file, size, any)
			}
			require.NoError(t, merged.Close())
			require.NoError(t, single.Close())
		}
	}
}

// unpacked is a file's content, unpacked where it is packed.
func unpacked(t *testing.T, file string) []byte {
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	if !strings.HasSuffix(file, ".zst") {
		return data
	}
	r, err := zstd.NewReader(nil)
	require.NoError(t, err)
	defer r.Close()
	data, err = r.DecodeAll(data, nil)
	require.NoError(t, err)
	return data
}

// A network with layers that are not known stays as it is.
func TestOtherNetworksAreRunLayerByLayer(t *testing.T) {
	net, merged, err := read(bytes.ReplaceAll(row, []byte("Clip"), []byte("Relu")))
	require.NoError(t, err)
	require.False(t, merged)
	require.NotEmpty(t, answer(t, &net, planes, 61, 47))
	require.NoError(t, net.Close())
}

// answer is a network's to planes of sin(0.7 i).
func answer(t *testing.T, net *gocv.Net, planes, w, h int) []float32 {
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

package change

import (
	"fmt"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The same to the last digit on any number of processors.
func TestAnyNumberOfProcessors(t *testing.T) {
	in := threeYears(70)
	in.From, in.To, _ = Month("2026-07")
	before := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(before)
	want := fmt.Sprintf("%v", Analyze(in)) // as text: what is no number equals itself there
	for _, n := range []int{2, 7} {
		runtime.GOMAXPROCS(n)
		assert.True(t, want == fmt.Sprintf("%v", Analyze(in)), "%d processors", n)
	}
}

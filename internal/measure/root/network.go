package root

import (
	_ "embed"
	"fmt"
	"sync"

	"phototrack/internal/segnet"
)

// The network of the pot's wall: trained on drawn walls by train/walls_run.sh, described in docs/model-card-walls.md. It is calibrated
// already.
//
//go:embed walls.onnx
var model []byte

// network answers the planes of a wall, w by h, with logits, for each class those of the four pixels of a place. They are lent:
// they hold while take runs.
type network interface {
	Run(w, h int, fill func(planes []float32), take func(segnet.Logits) error) error
}

// sharedNetwork is the embedded network, loaded when it is first asked; one wall is judged at a time.
type sharedNetwork struct {
	model []byte
	once  sync.Once
	mu    sync.Mutex
	net   *segnet.Net
	err   error
}

var wallNetwork network = &sharedNetwork{model: model}

func (n *sharedNetwork) load() {
	if n.net, n.err = segnet.New(n.model, planeCount, gridPx/2); n.err != nil {
		n.err = fmt.Errorf("the wall's network: %w", n.err)
	}
}

// Run implements network.
func (n *sharedNetwork) Run(w, h int, fill func(planes []float32), take func(segnet.Logits) error) error {
	n.once.Do(n.load)
	if n.err != nil {
		return n.err
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	l, err := n.net.Run(w, h, fill)
	if err != nil {
		return err
	}
	defer l.Free()
	return take(l)
}

package root

import (
	_ "embed"
	"fmt"
	"sync"

	"phototrack/internal/segnet"
)

// The networks of the pot's wall: trained on drawn walls by train/walls_run.sh, described in docs/model-card-walls.md. Two
// trainings from nothing on other walls make other mistakes, so their answers are averaged. They are calibrated already.
//
//go:embed walls_a.onnx
var modelA []byte

//go:embed walls_b.onnx
var modelB []byte

// network answers the planes of a wall, w by h, with logits, for each class those of the four pixels of a place.
type network interface {
	Run(w, h int, fill func(planes []float32)) (segnet.Logits, error)
}

// sharedNetwork is the embedded networks, loaded when they are first asked; one wall is judged at a time.
type sharedNetwork struct {
	models [][]byte
	once   sync.Once
	mu     sync.Mutex
	nets   []*segnet.Net
	err    error
}

var wallNetwork network = &sharedNetwork{models: [][]byte{modelA, modelB}}

func (n *sharedNetwork) load() {
	for _, model := range n.models {
		net, err := segnet.New(model, planeCount, gridPx/2)
		if err != nil {
			n.err = fmt.Errorf("the wall's network: %w", err)
			return
		}
		n.nets = append(n.nets, net)
	}
}

// Run implements network.
func (n *sharedNetwork) Run(w, h int, fill func(planes []float32)) (segnet.Logits, error) {
	n.once.Do(n.load)
	if n.err != nil {
		return segnet.Logits{}, n.err
	}
	n.mu.Lock()
	defer n.mu.Unlock()
	var sum segnet.Logits
	for i, net := range n.nets {
		l, err := net.Run(w, h, fill)
		if err != nil {
			return segnet.Logits{}, err
		}
		if i == 0 {
			sum = l
			continue
		}
		if len(l.V) != len(sum.V) {
			return segnet.Logits{}, fmt.Errorf("%w: the networks answer differently", segnet.ErrModel)
		}
		for k, v := range l.V {
			sum.V[k] += v
		}
	}
	for k := range sum.V {
		sum.V[k] /= float32(len(n.nets))
	}
	return sum, nil
}

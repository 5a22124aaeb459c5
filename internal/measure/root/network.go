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

// sharedNetwork is the embedded network; one wall is judged at a time. It is held twice, each for the size of wall that it was asked about
// last: at another size it makes its memory anew, which took 15 of 77 ms for a wall that is looked at whole and at half the size.
type sharedNetwork struct {
	model []byte
	mu    sync.Mutex
	nets  [2]sizedNet // the one asked last first
}

// sizedNet is a network, loaded when it is first asked, and the size it was asked about last.
type sizedNet struct {
	*segnet.Net
	w, h int
}

var wallNetwork network = &sharedNetwork{model: model}

// forSize is the network that was asked about this size last, or else the one that was not asked for longer.
func (n *sharedNetwork) forSize(w, h int) (*segnet.Net, error) {
	if n.nets[0].w != w || n.nets[0].h != h {
		n.nets[0], n.nets[1] = n.nets[1], n.nets[0]
	}
	at := &n.nets[0]
	if at.Net == nil {
		net, err := segnet.New(n.model, planeCount, gridPx/2)
		if err != nil {
			return nil, fmt.Errorf("the wall's network: %w", err)
		}
		at.Net = net
	}
	at.w, at.h = w, h
	return at.Net, nil
}

// Run implements network.
func (n *sharedNetwork) Run(w, h int, fill func(planes []float32), take func(segnet.Logits) error) error {
	n.mu.Lock()
	defer n.mu.Unlock()
	net, err := n.forSize(w, h)
	if err != nil {
		return err
	}
	l, err := net.Run(w, h, fill)
	if err != nil {
		return err
	}
	defer l.Free()
	return take(l)
}

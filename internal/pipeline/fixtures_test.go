package pipeline

import (
	"bytes"
	"image"
	"image/png"
	"math/rand/v2"
	"sync"
)

// bigPNG is a picture of noise that takes a second to decode.
var bigPNG = sync.OnceValue(func() []byte {
	img := image.NewNRGBA(image.Rect(0, 0, 4000, 4000))
	rng := rand.New(rand.NewPCG(1, 2))
	for i := 0; i < len(img.Pix); i += 4 {
		v := rng.Uint32()
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = byte(v), byte(v>>8), byte(v>>16), 255
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, img); err != nil {
		panic(err)
	}
	return b.Bytes()
})

package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"
)

// faultCorpus makes damaged, hostile and merely odd files from a sample photo of each view and from the photo reader's
// own small files: the same ones every time. Large adds those that take seconds or gigabytes.
func faultCorpus(t testing.TB, large bool) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	rng := rand.New(rand.NewPCG(20, 26))
	for view, src := range map[string]string{"leaf": "012_2026-03_L.jpg", "root": "031_2026-03_R.jpg"} {
		data := smaller(t, "../../samples/photos/"+src, 2, 0)
		files[view+"_good.jpg"] = data
		faultsOf(files, view, ".jpg", data, 60, rng)
		oddPictures(t, files, view, data)
	}
	for _, name := range []string{"progressive.jpg", "cmyk.jpg", "lossy.webp", "lossless_alpha.webp", "lossy_alpha.webp", "jpeg_inside.tif", "sample.heic"} {
		data, err := os.ReadFile("../../internal/photo/testdata/" + name)
		require.NoError(t, err)
		files["small_"+name] = data
		faultsOf(files, "small_"+name[:len(name)-5], filepath.Ext(name), data, 16, rng)
	}
	wrongNames(files)
	exifFaults(files)
	hugeHeads(files)
	if large {
		files["valid_200MP_grey.jpg"] = plainJPEG(20000, 10000)
		files["valid_48MP_grey.jpg"] = plainJPEG(8000, 6000)
	}
	return files
}

// faultsOf adds truncations at n offsets, n flips of one to eight bits, and stretches of zeros, noise and repeats.
func faultsOf(files map[string][]byte, stem, ext string, data []byte, n int, rng *rand.Rand) {
	add := func(kind string, i int, b []byte) { files[fmt.Sprintf("%s_%s_%03d%s", stem, kind, i, ext)] = b }
	for i := range n {
		// Half of the cuts lie in the first kilobyte, where the headers are.
		at := rng.IntN(len(data))
		if i%2 == 0 {
			at = rng.IntN(min(len(data), 1024))
		}
		add("cut", i, bytes.Clone(data[:at]))
		flipped := bytes.Clone(data)
		for range 1 << (i % 4) {
			k := rng.IntN(len(data))
			if i%2 == 0 {
				k = rng.IntN(min(len(data), 1024))
			}
			flipped[k] ^= 1 << rng.IntN(8)
		}
		add("flip", i, flipped)
	}
	for i := range n / 8 {
		a := rng.IntN(len(data))
		z := min(len(data), a+1+rng.IntN(4096))
		zeros, noise := bytes.Clone(data), bytes.Clone(data)
		clear(zeros[a:z])
		for k := a; k < z; k++ {
			noise[k] = byte(rng.Uint32())
		}
		add("zeros", i, zeros)
		add("noise", i, noise)
		add("doubled", i, append(bytes.Clone(data[:z]), data[a:]...))
	}
}

// oddPictures are whole files that are unlike a phone's photo: other formats and depths, grey, see-through, tiny, long.
func oddPictures(t testing.TB, files map[string][]byte, view string, data []byte) {
	img, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	asPNG := func(name string, m image.Image) {
		var b bytes.Buffer
		require.NoError(t, (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, m))
		files[view+"_"+name+".png"] = b.Bytes()
	}
	deep, grey, see := image.NewNRGBA64(img.Bounds()), image.NewGray(img.Bounds()), image.NewNRGBA(img.Bounds())
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			c := img.At(x, y)
			r, g, b, _ := c.RGBA()
			deep.SetNRGBA64(x, y, color.NRGBA64{R: uint16(r), G: uint16(g), B: uint16(b), A: 0xffff})
			grey.Set(x, y, c)
			see.SetNRGBA(x, y, color.NRGBA{R: uint8(r >> 8), G: uint8(g >> 8), B: uint8(b >> 8), A: uint8(x)})
		}
	}
	asPNG("16bit", deep)
	asPNG("grey", grey)
	asPNG("see_through", see)
	asPNG("1px", imaging.Resize(img, 1, 1, imaging.Box))
	asPNG("1px_wide", imaging.Resize(img, 1, 600, imaging.Box))
	asPNG("1px_high", imaging.Resize(img, 800, 1, imaging.Box))
	asPNG("63px", imaging.Resize(img, 63, 63, imaging.Box))
	asPNG("64px", imaging.Resize(img, 64, 64, imaging.Box))
	asPNG("black", image.NewNRGBA(image.Rect(0, 0, 640, 480)))
	asPNG("upside_down", imaging.FlipV(img))
	asPNG("mirrored", imaging.FlipH(img))
	var b bytes.Buffer
	require.NoError(t, tiff.Encode(&b, img, &tiff.Options{Compression: tiff.Deflate}))
	files[view+"_deflate.tif"] = b.Bytes()
}

// wrongNames are files under another kind's extension, and things that are no pictures.
func wrongNames(files map[string][]byte) {
	good := files["leaf_good.jpg"]
	files["jpeg_called.png"], files["jpeg_called.heic"], files["jpeg_called.tif"] = append(bytes.Clone(good), 0), append(bytes.Clone(good), 0, 0), append(bytes.Clone(good), 0, 0, 0)
	files["png_called.jpg"] = append(bytes.Clone(files["leaf_grey.png"]), 0)
	files["webp_called.jpg"] = append(bytes.Clone(files["small_lossy.webp"]), 0, 0)
	files["text.jpg"] = []byte("a letter to the greenhouse club\n")
	files["page.jpg"] = []byte("<html><body>404 not found</body></html>")
	files["zip.jpg"] = append([]byte("PK\x03\x04"), make([]byte, 5000)...)
	files["program.heic"] = append([]byte("\x7fELF\x02\x01\x01"), make([]byte, 3000)...)
	files["empty.jpg"] = nil
	files["zeros.png"] = make([]byte, 70000)
	files["one_byte.webp"] = []byte{0xff}
	files["swapped_heads.jpg"] = append(bytes.Clone(files["leaf_grey.png"][:64]), good[64:]...)
	files["swapped_heads.png"] = append(bytes.Clone(good[:64]), files["leaf_grey.png"][64:]...)
	files["root_head_leaf_body.jpg"] = append(bytes.Clone(files["root_good.jpg"][:700]), good[700:]...)
	files["name \x1b[31m\"quote\", =1+1.jpg"] = []byte("a name that tries the terminal and the spreadsheet")
}

// exifFaults put directories that lead nowhere, or in a circle, before a good picture.
func exifFaults(files map[string][]byte) {
	good := files["leaf_good.jpg"]
	at := 2 // after the start marker
	with := func(name string, exif []byte) {
		seg := append([]byte("Exif\x00\x00"), exif...)
		out := append(bytes.Clone(good[:at]), 0xff, 0xe1, byte((len(seg)+2)>>8), byte(len(seg)+2))
		files["exif_"+name+".jpg"] = append(append(out, seg...), good[at:]...)
	}
	le := binary.LittleEndian
	dir := func(next uint32, entries ...[3]uint32) []byte { // tag and type, count, value
		b := le.AppendUint16(nil, uint16(len(entries)))
		for _, e := range entries {
			b = le.AppendUint32(le.AppendUint32(le.AppendUint32(b, e[0]), e[1]), e[2])
		}
		return le.AppendUint32(b, next)
	}
	head := []byte("II*\x00\x08\x00\x00\x00")
	long := func(tag uint32) uint32 { return tag | 4<<16 }
	with("next_is_itself", append(bytes.Clone(head), dir(8)...))
	with("sub_is_itself", append(bytes.Clone(head), dir(0, [3]uint32{long(0x8769), 1, 8})...))
	with("gps_is_itself", append(bytes.Clone(head), dir(0, [3]uint32{long(0x8825), 1, 8}, [3]uint32{long(0x8769), 1, 8})...))
	a := dir(26+18, [3]uint32{long(0x8769), 1, 26})
	with("two_in_a_circle", append(append(bytes.Clone(head), a...), dir(8, [3]uint32{long(0x8769), 1, 8})...))
	with("beyond_the_end", append(bytes.Clone(head), dir(0xfffffff0, [3]uint32{long(0x8769), 1, 0x7fffffff})...))
	with("four_thousand_million_values", append(bytes.Clone(head), dir(0, [3]uint32{0x9003 | 2<<16, 0xffffffff, 8})...))
	with("no_such_type", append(bytes.Clone(head), dir(0, [3]uint32{0x9003 | 99<<16, 20, 8})...))
	with("orientation_9", append(bytes.Clone(head), dir(0, [3]uint32{0x0112 | 3<<16, 1, 9})...))
	with("count_without_entries", append(bytes.Clone(head), 0xff, 0xff))
	with("head_only", head)
	with("empty", nil)
	var deepDirs []byte
	for i := range 200 {
		deepDirs = append(deepDirs, dir(0, [3]uint32{long(0x8769), 1, uint32(8 + 18*(i+1))})...)
	}
	with("two_hundred_deep", append(bytes.Clone(head), deepDirs...))
}

// hugeHeads claim sizes that nothing of the kind has.
func hugeHeads(files map[string][]byte) {
	pngOf := func(w, h uint32, bits byte) []byte {
		ihdr := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
		ihdr = append(ihdr, bits, 6, 0, 0, 0)
		out := []byte("\x89PNG\r\n\x1a\n")
		for _, c := range []struct {
			kind string
			data []byte
		}{{"IHDR", ihdr}, {"IDAT", []byte{0x78, 0x9c}}, {"IEND", nil}} {
			body := append([]byte(c.kind), c.data...)
			out = binary.BigEndian.AppendUint32(out, uint32(len(c.data)))
			out = binary.BigEndian.AppendUint32(append(out, body...), crc32.ChecksumIEEE(body))
		}
		return out
	}
	for _, s := range [][2]uint32{{20000, 10000}, {14142, 14142}, {60000, 60000}, {1 << 31, 1}, {1<<31 - 1, 1<<31 - 1}, {0, 10}, {1, 200000000}} {
		files[fmt.Sprintf("png_says_%dx%d.png", s[0], s[1])] = pngOf(s[0], s[1], 8)
		files[fmt.Sprintf("png16_says_%dx%d.png", s[0], s[1])] = pngOf(s[0], s[1], 16)
	}
	good := files["leaf_good.jpg"]
	i := bytes.Index(good, []byte{0xff, 0xc0})
	for _, s := range [][2]int{{20000, 10000}, {65535, 65535}, {65535, 3000}, {0, 600}, {800, 0}, {1, 1}, {801, 600}, {800, 6000}} {
		b := bytes.Clone(good)
		binary.BigEndian.PutUint16(b[i+5:], uint16(s[1]))
		binary.BigEndian.PutUint16(b[i+7:], uint16(s[0]))
		files[fmt.Sprintf("jpeg_says_%dx%d.jpg", s[0], s[1])] = b
	}
}

// plainJPEG is a valid grey JPEG of one shade: small as a file, large as a picture.
func plainJPEG(w, h int) []byte {
	img := image.NewGray(image.Rect(0, 0, w, h))
	for i := range img.Pix {
		img.Pix[i] = 128
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		panic(err)
	}
	return b.Bytes()
}

// smaller is a JPEG at so many times less width and height with the original's EXIF data, and with a comment that gives each
// copy a content of its own.
func smaller(t testing.TB, path string, times, copyNo int) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	img, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, imaging.Resize(img, img.Bounds().Dx()/times, 0, imaging.Box), &jpeg.Options{Quality: 92}))
	return withHead(t, data, b.Bytes(), copyNo)
}

// withHead puts the EXIF segment of one JPEG, and a comment with a number, at the head of another.
func withHead(t testing.TB, from, to []byte, copyNo int) []byte {
	t.Helper()
	out := []byte{0xff, 0xd8}
	for i := 2; i+4 <= len(from) && from[i] == 0xff && from[i+1] != 0xda; {
		n := 2 + int(from[i+2])<<8 + int(from[i+3])
		if from[i+1] == 0xe1 {
			out = append(out, from[i:i+n]...)
		}
		i += n
	}
	text := fmt.Sprintf("copy %d", copyNo)
	out = append(out, 0xff, 0xfe, 0, byte(len(text)+2))
	return append(append(out, text...), to[2:]...)
}

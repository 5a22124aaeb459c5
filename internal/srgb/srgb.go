// Package srgb makes the ICC profile of sRGB (IEC 61966-2-1) that is embedded in plates and PDF files. It is built from
// published numbers, free of any licence, and its bytes are always the same.
package srgb

import (
	"bytes"
	"encoding/binary"
	"math"
	"sync"
)

// sRGB as an ICC version 2 display profile (ICC.1:2001-04): three colourants, one tone curve.
var (
	// The primaries' XYZ adapted to D50 by the Bradford transform, as in the sRGB profiles that the
	// International Color Consortium publishes; rows are red, green, blue.
	srgbColourants = [3][3]float64{
		{0.43607, 0.22249, 0.01392},
		{0.38515, 0.71687, 0.09708},
		{0.14307, 0.06061, 0.71410},
	}
	d50 = [3]float64{0.9642, 1.0, 0.8249} // the profile connection space's white, ICC.1 annex A
)

const curvePoints = 1024

type iccTag struct {
	name string
	data []byte
}

// Name is how the profile describes itself.
const Name = "sRGB IEC61966-2.1"

// Profile gives the profile's bytes.
func Profile() []byte { return bytes.Clone(profile()) }

var profile = sync.OnceValue(build)

func build() []byte {
	tags := []iccTag{
		{"desc", iccDescription(Name)},
		{"cprt", append([]byte("text\x00\x00\x00\x00"), "Public domain\x00"...)},
		{"wtpt", iccXYZ(d50)},
		{"rXYZ", iccXYZ(srgbColourants[0])},
		{"gXYZ", iccXYZ(srgbColourants[1])},
		{"bXYZ", iccXYZ(srgbColourants[2])},
	}
	const headerLen, tagLen, curves = 128, 12, 3
	var body, table bytes.Buffer
	start := headerLen + 4 + tagLen*(len(tags)+curves)
	entry := func(name string, at, n int) {
		table.WriteString(name)
		_ = binary.Write(&table, binary.BigEndian, [2]uint32{uint32(start + at), uint32(n)})
	}
	_ = binary.Write(&table, binary.BigEndian, uint32(len(tags)+curves))
	for _, t := range tags {
		entry(t.name, body.Len(), len(t.data))
		body.Write(t.data)
		body.Write(make([]byte, (4-len(t.data)%4)%4)) // tags begin on four-byte boundaries
	}
	curve, at := iccCurve(), body.Len()
	body.Write(curve)
	for _, name := range []string{"rTRC", "gTRC", "bTRC"} {
		entry(name, at, len(curve))
	}
	return append(append(iccHeader(start+body.Len()), table.Bytes()...), body.Bytes()...)
}

func iccHeader(size int) []byte {
	h := make([]byte, 128)
	binary.BigEndian.PutUint32(h, uint32(size))
	h[8], h[9] = 2, 0x10 // version 2.1
	copy(h[12:], "mntrRGB XYZ ")
	binary.BigEndian.PutUint16(h[24:], 2026) // creation date: fixed, so that the bytes are
	h[27], h[29] = 1, 1
	copy(h[36:], "acsp")
	copy(h[68:], iccXYZ(d50)[8:])
	return h
}

func iccXYZ(v [3]float64) []byte {
	b := []byte("XYZ \x00\x00\x00\x00")
	for _, x := range v {
		b = binary.BigEndian.AppendUint32(b, uint32(math.Round(x*65536))) // s15Fixed16
	}
	return b
}

// encodedKnee is where the straight piece at black ends (IEC 61966-2-1).
const encodedKnee = 0.04045

// iccCurve is the sRGB transfer function (IEC 61966-2-1), encoded to linear, at even steps.
func iccCurve() []byte {
	b := binary.BigEndian.AppendUint32([]byte("curv\x00\x00\x00\x00"), curvePoints)
	for i := 0; i < curvePoints; i++ {
		v := float64(i) / (curvePoints - 1)
		if v <= encodedKnee {
			v /= 12.92
		} else {
			v = math.Pow((v+0.055)/1.055, 2.4)
		}
		b = binary.BigEndian.AppendUint16(b, uint16(math.Round(v*65535)))
	}
	return b
}

// iccDescription is a textDescriptionType with the ASCII part only; the Unicode and ScriptCode parts
// are present and empty, as version 2 asks.
func iccDescription(s string) []byte {
	b := binary.BigEndian.AppendUint32([]byte("desc\x00\x00\x00\x00"), uint32(len(s)+1))
	b = append(append(b, s...), 0)
	return append(b, make([]byte, 4+4+2+1+67)...)
}

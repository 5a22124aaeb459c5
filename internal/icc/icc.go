// Package icc brings 8-bit pixels from the colour space of an embedded ICC profile to sRGB (IEC 61966-2-1), by Little
// CMS. The intent is relative colorimetric: white stays white, colours that sRGB cannot show are clipped and counted.
package icc

/*
#cgo pkg-config: lcms2
#include <stdlib.h>
#include <lcms2.h>

// Classes of profile that describe where an image's numbers stand; links, abstract and named-colour profiles do not.
static int pt_icc_usable(cmsHPROFILE p) {
	cmsProfileClassSignature c = cmsGetDeviceClass(p);
	return c == cmsSigInputClass || c == cmsSigDisplayClass || c == cmsSigColorSpaceClass || c == cmsSigOutputClass;
}

static cmsHPROFILE pt_icc_rgb(double rx, double ry, double gx, double gy, double bx, double by, int srgbCurve, double gamma) {
	cmsCIExyY white = {0.3127, 0.3290, 1.0};
	cmsCIExyYTRIPLE prim = {{rx, ry, 1.0}, {gx, gy, 1.0}, {bx, by, 1.0}};
	double srgb[5] = {2.4, 1.0 / 1.055, 0.055 / 1.055, 1.0 / 12.92, 0.04045};
	cmsToneCurve *c = srgbCurve ? cmsBuildParametricToneCurve(NULL, 4, srgb) : cmsBuildGamma(NULL, gamma);
	if (c == NULL) return NULL;
	cmsToneCurve *three[3] = {c, c, c};
	cmsHPROFILE p = cmsCreateRGBProfile(&white, &prim, three);
	cmsFreeToneCurve(c);
	return p;
}

static cmsHTRANSFORM pt_icc_transform(cmsHPROFILE from, cmsUInt32Number in, cmsUInt32Number out, cmsUInt32Number flags) {
	cmsHPROFILE to = cmsCreate_sRGBProfile();
	if (to == NULL) return NULL;
	cmsHTRANSFORM t = cmsCreateTransform(from, in, to, out, INTENT_RELATIVE_COLORIMETRIC, flags);
	cmsCloseProfile(to);
	return t;
}

static cmsHTRANSFORM pt_icc_bgr8(cmsHPROFILE p)  { return pt_icc_transform(p, TYPE_BGR_8, TYPE_BGR_8, 0); }
static cmsHTRANSFORM pt_icc_grey8(cmsHPROFILE p) { return pt_icc_transform(p, TYPE_GRAY_8, TYPE_BGR_8, 0); }
static cmsHTRANSFORM pt_icc_float(cmsHPROFILE p) { return pt_icc_transform(p, TYPE_BGR_FLT, TYPE_BGR_FLT, 0); }

// To the primaries of sRGB in linear light, unclipped.
static cmsHTRANSFORM pt_icc_linear(cmsHPROFILE from) {
	cmsHPROFILE to = pt_icc_rgb(0.64, 0.33, 0.30, 0.60, 0.15, 0.06, 0, 1.0);
	if (to == NULL) return NULL;
	cmsHTRANSFORM t = cmsCreateTransform(from, TYPE_BGR_FLT, to, TYPE_BGR_FLT, INTENT_RELATIVE_COLORIMETRIC, 0);
	cmsCloseProfile(to);
	return t;
}

static int pt_icc_space(cmsHPROFILE p) {
	switch (cmsGetColorSpace(p)) {
	case cmsSigRgbData:  return 3;
	case cmsSigGrayData: return 1;
	default:             return 0;
	}
}
*/
import "C"

import (
	"errors"
	"strings"
	"unicode"
	"unsafe"
)

// ErrProfile says that a profile is damaged or does not describe the colours of a picture.
var ErrProfile = errors.New("unusable colour profile")

// maxName bounds the length of a profile's own description in characters.
const maxName = 60

// Result says what was done to the pixels.
type Result struct {
	Name         string  // the profile's own description, without control characters
	Untouched    bool    // the profile behaves as sRGB does, to within one level: no pixel was changed
	ClippedShare float64 // share of sampled pixels whose colour lies outside sRGB, 0 to 1
}

// Profile is an opened profile. Close it.
type Profile struct {
	handle C.cmsHPROFILE
	name   string
	grey   bool
}

// Open reads a profile. Errors: ErrProfile.
func Open(data []byte) (*Profile, error) {
	if len(data) < 128 {
		return nil, ErrProfile
	}
	h := C.cmsOpenProfileFromMem(unsafe.Pointer(&data[0]), C.cmsUInt32Number(len(data)))
	if h == nil {
		return nil, ErrProfile
	}
	space := C.pt_icc_space(h)
	if space == 0 || C.pt_icc_usable(h) == 0 {
		C.cmsCloseProfile(h)
		return nil, ErrProfile
	}
	return &Profile{handle: h, name: nameOf(h), grey: space == 1}, nil
}

// DisplayP3 is the wide space of telephones: the primaries of SMPTE EG 432-1, white D65, the curve of sRGB.
func DisplayP3() (*Profile, error) {
	return built("Display P3", C.pt_icc_rgb(0.680, 0.320, 0.265, 0.690, 0.150, 0.060, 1, 0))
}

// AdobeRGB is Adobe RGB (1998): the primaries and the gamma of 563/256 of its published encoding, white D65.
func AdobeRGB() (*Profile, error) {
	return built("Adobe RGB (1998)", C.pt_icc_rgb(0.64, 0.33, 0.21, 0.71, 0.15, 0.06, 0, 563.0/256.0))
}

func built(name string, h C.cmsHPROFILE) (*Profile, error) {
	if h == nil {
		return nil, ErrProfile
	}
	return &Profile{handle: h, name: name}, nil
}

// Bytes is the profile as it is embedded in a picture file. Errors: ErrProfile.
func (p *Profile) Bytes() ([]byte, error) {
	var n C.cmsUInt32Number
	if C.cmsSaveProfileToMem(p.handle, nil, &n) == 0 || n == 0 {
		return nil, ErrProfile
	}
	out := make([]byte, n)
	if C.cmsSaveProfileToMem(p.handle, unsafe.Pointer(&out[0]), &n) == 0 {
		return nil, ErrProfile
	}
	return out, nil
}

// Close frees the profile.
func (p *Profile) Close() { C.cmsCloseProfile(p.handle) }

// Name is the profile's own description.
func (p *Profile) Name() string { return p.name }

// Grey says that the profile describes one channel, not three.
func (p *Profile) Grey() bool { return p.grey }

// ToSRGB converts interleaved blue, green, red pixels in place. A grey profile is applied to the green channel, which in
// a grey picture equals the others. Errors: ErrProfile; the pixels are then as they were.
func (p *Profile) ToSRGB(pix []byte) (Result, error) { return p.convert(pix, fastFrom) }

// convert takes the profile apart for pictures of at least so many pixels.
func (p *Profile) convert(pix []byte, fastFrom int) (Result, error) {
	r := Result{Name: p.name}
	if p.grey {
		return p.greyToSRGB(pix, r)
	}
	t := C.pt_icc_bgr8(p.handle)
	if t == nil {
		return r, ErrProfile
	}
	defer C.cmsDeleteTransform(t)
	if r.Untouched = identity(t); r.Untouched || len(pix) < 3 {
		return r, nil
	}
	if len(pix) >= 3*fastFrom {
		if s, ok := shaperOf(p, t); ok {
			r.ClippedShare = s.clipped(pix)
			s.apply(pix)
			return r, nil
		}
	}
	r.ClippedShare = p.clipped(pix)
	at := unsafe.Pointer(&pix[0])
	C.cmsDoTransform(t, at, at, C.cmsUInt32Number(len(pix)/3))
	return r, nil
}

// greyToSRGB makes a table of the 256 levels and looks every pixel up.
func (p *Profile) greyToSRGB(pix []byte, r Result) (Result, error) {
	t := C.pt_icc_grey8(p.handle)
	if t == nil {
		return r, ErrProfile
	}
	defer C.cmsDeleteTransform(t)
	var levels [256]byte
	for i := range levels {
		levels[i] = byte(i)
	}
	var table [3 * 256]byte
	C.cmsDoTransform(t, unsafe.Pointer(&levels[0]), unsafe.Pointer(&table[0]), 256)
	r.Untouched = true
	for i := range table {
		r.Untouched = r.Untouched && near(table[i], levels[i/3])
	}
	if r.Untouched {
		return r, nil
	}
	for i := 0; i+2 < len(pix); i += 3 {
		copy(pix[i:i+3], table[3*int(pix[i+1]):])
	}
	return r, nil
}

// probes are the levels of each channel at which a transform is asked whether it does anything.
var probes = [...]byte{0, 8, 24, 48, 80, 112, 144, 176, 208, 232, 255}

// probeGrid is all combinations of the probes, blue, green, red.
func probeGrid() []byte {
	in := make([]byte, 0, 3*len(probes)*len(probes)*len(probes))
	for _, b := range probes {
		for _, g := range probes {
			for _, r := range probes {
				in = append(in, b, g, r)
			}
		}
	}
	return in
}

// identity says whether a transform leaves a grid of colours where they are, to within one level: the profile is then
// sRGB, whatever it calls itself.
func identity(t C.cmsHTRANSFORM) bool {
	in := probeGrid()
	out := make([]byte, len(in))
	C.cmsDoTransform(t, unsafe.Pointer(&in[0]), unsafe.Pointer(&out[0]), C.cmsUInt32Number(len(in)/3))
	for i := range in {
		if !near(in[i], out[i]) {
			return false
		}
	}
	return true
}

func near(a, b byte) bool { return a-b+1 <= 2 }

func linearTransform(p *Profile) C.cmsHTRANSFORM { return C.pt_icc_linear(p.handle) }

// fastFrom is the number of pixels from which taking a profile apart pays.
const fastFrom = 100_000

// clipSamples is about how many pixels are asked whether their colour lies outside sRGB.
const clipSamples = 20_000

// sampleStep is the distance of the sampled among n pixels: odd, so that it does not walk down one column of a picture.
func sampleStep(n int) int { return max(1, n/clipSamples) | 1 }

// clipped gives the share of pixels, of an even sample, that sRGB cannot show: a channel would have to be more than one
// level below black or above full.
func (p *Profile) clipped(pix []byte) float64 {
	t := C.pt_icc_float(p.handle)
	if t == nil {
		return 0
	}
	defer C.cmsDeleteTransform(t)
	n := len(pix) / 3
	step := sampleStep(n)
	in := make([]float32, 0, 3*(n/step+1))
	for i := 0; i < n; i += step {
		in = append(in, float32(pix[3*i])/255, float32(pix[3*i+1])/255, float32(pix[3*i+2])/255)
	}
	out := make([]float32, len(in))
	C.cmsDoTransform(t, unsafe.Pointer(&in[0]), unsafe.Pointer(&out[0]), C.cmsUInt32Number(len(in)/3))
	const margin = 1.0 / 255
	count := 0
	for i := 0; i < len(out); i += 3 {
		lo := min(out[i], out[i+1], out[i+2])
		hi := max(out[i], out[i+1], out[i+2])
		if lo < -margin || hi > 1+margin {
			count++
		}
	}
	return float64(count) / float64(len(out)/3)
}

// nameOf reads the description, English where there are several.
func nameOf(h C.cmsHPROFILE) string {
	lang, country := C.CString("en"), C.CString("US")
	defer C.free(unsafe.Pointer(lang))
	defer C.free(unsafe.Pointer(country))
	var buf [256]C.char
	n := C.cmsGetProfileInfoASCII(h, C.cmsInfoDescription, lang, country, &buf[0], C.cmsUInt32Number(len(buf)))
	if n == 0 {
		return ""
	}
	buf[len(buf)-1] = 0
	s := strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) || r > unicode.MaxASCII {
			return -1
		}
		return r
	}, C.GoString(&buf[0]))
	return strings.TrimSpace(s[:min(len(s), maxName)])
}

// Package pdfcolour says in a PDF that its RGB values are sRGB, which fpdf cannot do itself.
package pdfcolour

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"

	"codeberg.org/go-pdf/fpdf"

	"phototrack/internal/srgb"
)

// How firmly a PDF is bound to sRGB.
type Binding int

const (
	// Printer names sRGB as the output intent (ISO 32000-1, 14.11.5): what the values were made for. They themselves
	// reach the printer as they are, as device colours.
	Printer Binding = iota
	// Viewer also makes sRGB the meaning of every RGB value and picture on the pages (DefaultRGB, 8.6.5.6), so that a
	// screen of wide gamut shows them as they are.
	Viewer
)

var (
	trailerSize = regexp.MustCompile(`/Size (\d+)`)
	trailerRoot = regexp.MustCompile(`/Root (\d+) 0 R`)
	trailerInfo = regexp.MustCompile(`/Info (\d+) 0 R`)
	lastXref    = regexp.MustCompile(`startxref\s+(\d+)\s+%%EOF\s*$`)
)

// resources is the number of the dictionary of fonts and pictures that fpdf lets all pages share.
const resources = 2

// MarkSRGB appends an incremental update (ISO 32000-1, 7.5.6) to a PDF that fpdf wrote: the catalog again, with the
// output intent and further entries added, the resources where the binding asks for it, and the profile. What is there
// already stays byte for byte. Errors: a file that is not of fpdf's making.
func MarkSRGB(pdf []byte, entries string, b Binding) ([]byte, error) {
	size, root, info, prev, err := trailer(pdf)
	if err != nil {
		return nil, err
	}
	u := update{out: bytes.NewBuffer(bytes.Clone(pdf))}
	intent := fmt.Sprintf("%s/OutputIntents [<</Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier (%[2]s) "+
		"/Info (%[2]s) /DestOutputProfile %d 0 R>>]", entries, srgb.Name, size)
	if b == Viewer {
		if err := u.extend(pdf, resources, "ColorSpace", fmt.Sprintf("/DefaultRGB [/ICCBased %d 0 R]", size)); err != nil {
			return nil, err
		}
	}
	if err := u.extend(pdf, root, "", intent); err != nil {
		return nil, err
	}
	profile := srgb.Profile()
	u.add(size, fmt.Appendf(nil, "<</N 3 /Alternate /DeviceRGB /Length %d>>\nstream\n%s\nendstream", len(profile), profile))
	u.finish(fmt.Sprintf("<</Size %d /Root %d 0 R /Info %d 0 R /Prev %d>>", size+1, root, info, prev))
	return u.out.Bytes(), nil
}

// Write finishes a document of fpdf's: every colour in it is sRGB, by the embedded profile.
func Write(w io.Writer, pdf *fpdf.Fpdf) error {
	var b bytes.Buffer
	if err := pdf.Output(&b); err != nil {
		return err
	}
	out, err := MarkSRGB(b.Bytes(), "", Viewer)
	if err != nil {
		return err
	}
	_, err = w.Write(out)
	return err
}

// trailer reads the numbers at a file's end: of objects, of the catalog, of the document's information, and where the
// cross-reference table begins.
func trailer(pdf []byte) (size, root, info, prev int, err error) {
	tail := pdf[max(0, bytes.LastIndex(pdf, []byte("trailer"))):]
	var num [4]int
	for i, re := range []*regexp.Regexp{trailerSize, trailerRoot, trailerInfo, lastXref} {
		m := re.FindSubmatch(tail)
		if m == nil {
			return 0, 0, 0, 0, fmt.Errorf("no %s at the PDF's end", re)
		}
		if num[i], err = strconv.Atoi(string(m[1])); err != nil {
			return 0, 0, 0, 0, err
		}
	}
	return num[0], num[1], num[2], num[3], nil
}

// update collects new objects behind a file and where they begin.
type update struct {
	out  *bytes.Buffer
	xref bytes.Buffer
}

// add writes an object.
func (u *update) add(number int, body []byte) {
	fmt.Fprintf(&u.xref, "%d 1\n%010d 00000 n \n", number, u.out.Len())
	fmt.Fprintf(u.out, "%d 0 obj\n%s\nendobj\n", number, body)
}

// extend writes a dictionary of the file again, with entries added: to itself, or to the dictionary that it holds under
// a key.
func (u *update) extend(pdf []byte, number int, key, entries string) error {
	head := fmt.Appendf(nil, "\n%d 0 obj\n", number)
	begin := bytes.Index(pdf, append(head, "<<"...))
	if begin < 0 {
		return fmt.Errorf("no dictionary %d in the PDF", number)
	}
	begin += len(head)
	end := bytes.Index(pdf[begin:], []byte("endobj"))
	if end < 0 {
		return errors.New("an object of the PDF has no end")
	}
	dict := bytes.TrimSpace(pdf[begin : begin+end])
	inner := fmt.Appendf(nil, "/%s <<", key)
	switch {
	case key == "":
		dict = bytes.Replace(dict, []byte("<<"), fmt.Appendf(nil, "<<\n%s", entries), 1)
	case bytes.Contains(dict, inner):
		dict = bytes.Replace(dict, inner, fmt.Appendf(inner, "\n%s", entries), 1)
	default:
		dict = bytes.Replace(dict, []byte("<<"), fmt.Appendf(nil, "<<\n/%s <<%s>>", key, entries), 1)
	}
	u.add(number, dict)
	return nil
}

// finish writes the cross-reference section and the trailer.
func (u *update) finish(trailer string) {
	at := u.out.Len()
	fmt.Fprintf(u.out, "xref\n%strailer\n%s\nstartxref\n%d\n%%%%EOF\n", u.xref.String(), trailer, at)
}

package cardpdf

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strconv"
)

// printHints are catalog entries that fpdf cannot write itself (ISO 32000-1, tables 28 and 150): do not
// scale when printing, pick the tray by page size, which sides to print on, and what the RGB values
// mean.
func printHints(duplex string, profileObject int) string {
	if duplex != "" {
		duplex = " /Duplex /" + duplex
	}
	return fmt.Sprintf("/ViewerPreferences <</PrintScaling /None /PickTrayByPDFSize true%s>> "+
		"/OutputIntents [<</Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier (sRGB IEC61966-2.1) "+
		"/Info (sRGB IEC61966-2.1) /DestOutputProfile %d 0 R>>]", duplex, profileObject)
}

// duplex says how the sheets should be turned: the card alone is a pair of pages to be printed back to
// back, tags alone are not. A mixture is left to the person printing.
func (o Options) duplex() string {
	switch {
	case o.Card && !o.HowTo && len(o.Tags) == 0:
		return "DuplexFlipLongEdge"
	case !o.Card:
		return "Simplex"
	}
	return ""
}

var (
	trailerSize = regexp.MustCompile(`/Size (\d+)`)
	trailerRoot = regexp.MustCompile(`/Root (\d+) 0 R`)
	trailerInfo = regexp.MustCompile(`/Info (\d+) 0 R`)
	lastXref    = regexp.MustCompile(`startxref\s+(\d+)\s+%%EOF\s*$`)
)

// addPrintHints appends an incremental update (ISO 32000-1, 7.5.6) to the PDF that fpdf wrote: the
// catalog again, with the hints added, and an sRGB profile. What is there already stays byte for byte.
func addPrintHints(pdf []byte, duplex string) ([]byte, error) {
	tail := pdf[bytes.LastIndex(pdf, []byte("trailer"))+1:]
	var num [3]int
	for i, re := range []*regexp.Regexp{trailerSize, trailerRoot, trailerInfo} {
		m := re.FindSubmatch(tail)
		if m == nil {
			return nil, fmt.Errorf("no %s in the PDF's trailer", re)
		}
		num[i], _ = strconv.Atoi(string(m[1]))
	}
	size, root, info := num[0], num[1], num[2]
	xref := lastXref.FindSubmatch(pdf)
	begin := bytes.Index(pdf, fmt.Appendf(nil, "\n%d 0 obj\n<<", root))
	if xref == nil || begin < 0 {
		return nil, errors.New("no cross-reference table or catalog in the PDF")
	}
	end := bytes.Index(pdf[begin:], []byte("endobj"))
	catalog := bytes.TrimSpace(pdf[begin+1 : begin+end])
	if !bytes.HasSuffix(catalog, []byte(">>")) {
		return nil, errors.New("the PDF's catalog does not end as a dictionary")
	}

	out := bytes.NewBuffer(bytes.Clone(pdf))
	catalogAt := out.Len()
	fmt.Fprintf(out, "%s\n%s\n>>\nendobj\n", bytes.TrimSuffix(catalog, []byte(">>")), printHints(duplex, size))
	profileAt := out.Len()
	profile := srgbProfile()
	fmt.Fprintf(out, "%d 0 obj\n<</N 3 /Length %d>>\nstream\n%s\nendstream\nendobj\n", size, len(profile), profile)
	xrefAt := out.Len()
	fmt.Fprintf(out, "xref\n%d 1\n%010d 00000 n \n%d 1\n%010d 00000 n \n", root, catalogAt, size, profileAt)
	fmt.Fprintf(out, "trailer\n<</Size %d /Root %d 0 R /Info %d 0 R /Prev %s>>\nstartxref\n%d\n%%%%EOF\n", size+1, root, info, xref[1], xrefAt)
	return out.Bytes(), nil
}

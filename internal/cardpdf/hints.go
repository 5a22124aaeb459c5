package cardpdf

import "phototrack/internal/pdfcolour"

// printHints are catalog entries that fpdf cannot write itself (ISO 32000-1, table 150): do not scale when printing, pick
// the tray by page size, and which sides to print on.
func printHints(duplex string) string {
	if duplex != "" {
		duplex = " /Duplex /" + duplex
	}
	return "/ViewerPreferences <</PrintScaling /None /PickTrayByPDFSize true" + duplex + ">> "
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

// addPrintHints adds the hints to the PDF that fpdf wrote, and what the RGB values mean.
func addPrintHints(pdf []byte, duplex string) ([]byte, error) {
	return pdfcolour.MarkSRGB(pdf, printHints(duplex), pdfcolour.Printer)
}

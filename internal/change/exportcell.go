package change

// Text makes a cell that a spreadsheet takes as text: one that begins as a formula does gets a quote before it.
func Text(s string) string { return text(s) }

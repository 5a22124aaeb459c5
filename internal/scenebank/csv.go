package scenebank

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"

	"phototrack/internal/record"
	"phototrack/internal/scenemaker"
)

// head is the line before the table: which program measured the bank, and how to measure it anew.
const head = "# measuring version %s; measured anew by: make simulate\n"

var fixed = []string{"plant", "session", "replicate", "level", "status", "gates", "true_area_mm2", "true_green", "true_yellow", "true_purple", "true_brown",
	"true_scale", "true_tilt_deg", "true_distance_mm"}

func columns() []string {
	out := append([]string(nil), fixed...)
	for _, n := range Poses {
		out = append(out, n, n+"_u95")
	}
	for _, n := range Quantities {
		out = append(out, n, n+"_varying", n+"_common", n+"_u95")
		if n == sloping {
			out = append(out, n+"_slope")
		}
	}
	return out
}

// sloping is the one quantity whose budget has a term for slope.
const sloping = "leaf_area"

// cell writes a number short: six digits say more than any photo. uncertain is for an uncertainty: of zero, nothing.
func cell(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

func uncertain(v float64) string {
	if v == 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}

func (r *Row) cells() []string {
	t := r.Truth
	out := []string{strconv.Itoa(r.Plant), strconv.Itoa(r.Session), strconv.Itoa(r.Replicate), strconv.Itoa(r.Level), string(r.Status), r.Codes, cell(t.AreaMM2)}
	for _, s := range t.Share {
		out = append(out, cell(s))
	}
	out = append(out, cell(t.ScalePxPerMM), cell(t.TiltDeg), cell(t.DistanceMM))
	for _, n := range Poses {
		v, ok := r.Measured[n]
		out = append(out, numbers(ok, v.Value, v.U95)...)
	}
	for _, n := range Quantities {
		v, ok := r.Measured[n]
		out = append(out, numbers(ok, v.Value, v.Varying, v.Common, v.U95)...)
		if n == sloping {
			out = append(out, uncertain(v.Slope))
		}
	}
	return out
}

// numbers are the cells of a value and its uncertainties, empty where nothing was measured.
func numbers(ok bool, list ...float64) []string {
	out := make([]string, len(list))
	for i, v := range list {
		switch {
		case ok && i == 0:
			out[i] = cell(v)
		case ok:
			out[i] = uncertain(v)
		}
	}
	return out
}

// Writer writes a bank row by row.
type Writer struct{ csv *csv.Writer }

// NewWriter begins a bank that the given version of the program measures.
func NewWriter(w io.Writer, version string) (*Writer, error) {
	if _, err := fmt.Fprintf(w, head, version); err != nil {
		return nil, err
	}
	out := &Writer{csv.NewWriter(w)}
	if err := out.csv.Write(columns()); err != nil {
		return nil, err
	}
	out.csv.Flush()
	return out, out.csv.Error()
}

// Append opens a bank that was begun before, to write more rows.
func Append(w io.Writer) *Writer { return &Writer{csv.NewWriter(w)} }

// Write adds a row at once.
func (w *Writer) Write(r *Row) error {
	if err := w.csv.Write(r.cells()); err != nil {
		return err
	}
	w.csv.Flush()
	return w.csv.Error()
}

// Read reads a bank and the version of the program that measured it.
func Read(r io.Reader) (rows []Row, version string, err error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return nil, "", err
	}
	first, rest, _ := strings.Cut(string(data), "\n")
	if _, err := fmt.Sscanf(first, "# measuring version %s", &version); err != nil {
		return nil, "", fmt.Errorf("no bank: it begins with %.40q", first)
	}
	version = strings.TrimSuffix(version, ";")
	table, err := csv.NewReader(strings.NewReader(rest)).ReadAll()
	if err != nil {
		return nil, "", err
	}
	names := columns()
	if len(table) == 0 || strings.Join(table[0], ",") != strings.Join(names, ",") {
		return nil, "", fmt.Errorf("the bank has other columns than this program writes")
	}
	for _, line := range table[1:] {
		row, err := parse(line)
		if err != nil {
			return nil, "", err
		}
		rows = append(rows, row)
	}
	return rows, version, nil
}

// parse is cells backwards.
func parse(line []string) (r Row, err error) {
	num := func(i int) (v float64) {
		if line[i] != "" && err == nil {
			v, err = strconv.ParseFloat(line[i], 64)
		}
		return
	}
	r = Row{Place: Place{int(num(0)), int(num(1)), int(num(2)), int(num(3))}, Status: record.Status(line[4]), Codes: line[5], Measured: map[string]Value{}}
	r.Truth.AreaMM2 = num(6)
	for c := range scenemaker.Classes {
		r.Truth.Share[c] = num(7 + int(c))
	}
	r.Truth.ScalePxPerMM, r.Truth.TiltDeg, r.Truth.DistanceMM = num(11), num(12), num(13)
	at := len(fixed)
	for _, n := range Poses {
		if line[at] != "" {
			r.Measured[n] = Value{Value: num(at), U95: num(at + 1)}
		}
		at += 2
	}
	for _, n := range Quantities {
		if line[at] != "" {
			r.Measured[n] = Value{Value: num(at), Varying: num(at + 1), Common: num(at + 2), U95: num(at + 3)}
		}
		at += 4
		if n == sloping {
			if v, ok := r.Measured[n]; ok {
				v.Slope = num(at)
				r.Measured[n] = v
			}
			at++
		}
	}
	return r, err
}

// Package reftest finds the outside check values and scenes that tests compare with. They lie beside the checkout
// (../shared); where they are missing a test is skipped, but not in CI, where it fails.
package reftest

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
)

// Path gives the path of a file or folder of ../shared beside the repository.
func Path(t testing.TB, parts ...string) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for d := dir; ; d = filepath.Dir(d) {
		if _, err := os.Stat(filepath.Join(d, "go.mod")); err == nil {
			p := filepath.Join(append([]string{filepath.Dir(d), "shared"}, parts...)...)
			if _, err := os.Stat(p); err == nil {
				return p
			}
			if os.Getenv("CI") == "true" {
				t.Fatalf("%s is missing beside the checkout", filepath.Join(parts...))
			}
			t.Skipf("%s is not beside the checkout", filepath.Join(parts...))
		}
		if d == filepath.Dir(d) {
			t.Fatal("no go.mod above the test")
		}
	}
}

// Tool gives the path of a program that a test asks for a second opinion, such as poppler's.
func Tool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not installed", name)
		}
		t.Skipf("%s is not installed", name)
	}
	return path
}

// JSON reads a JSON file of ../shared into v.
func JSON(t testing.TB, v any, parts ...string) {
	t.Helper()
	data, err := os.ReadFile(Path(t, parts...))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, v); err != nil {
		t.Fatal(err)
	}
}

// CSV reads a CSV file of ../shared as a row of named cells each.
func CSV(t testing.TB, parts ...string) []map[string]string {
	t.Helper()
	return Table(t, Path(t, parts...))
}

// Table reads any CSV file as a row of named cells each.
func Table(t testing.TB, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, h := range rows[0] {
			m[h] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// Num parses a cell that must be a number.
func Num(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// HEIC makes a HEIC of a JPEG or PNG file's bytes (ext says which) by heif-enc, Debian's libheif-examples.
func HEIC(t testing.TB, ext string, data []byte, args ...string) []byte {
	t.Helper()
	tool := Tool(t, "heif-enc")
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in"+ext), filepath.Join(dir, "out.heic")
	if err := os.WriteFile(in, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if msg, err := exec.Command(tool, append(args, "-o", out, in)...).CombinedOutput(); err != nil {
		t.Fatalf("heif-enc: %v: %s", err, msg)
	}
	heic, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	return heic
}

// Slow skips a test that takes half a minute or more, unless it is asked for: make slow, which CI runs after make test, and the
// long targets that hold it (make torture, make kills).
func Slow(t testing.TB) {
	t.Helper()
	if os.Getenv("PHOTOTRACK_SLOW") == "" && os.Getenv("PHOTOTRACK_TORTURE") == "" {
		t.Skip("takes long: make slow")
	}
}

package collection

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"phototrack/internal/fsx"
)

const maxSettingsBytes = 1 << 20

// SettingsText is settings.toml with every key at its default, each with its explanation and range.
func SettingsText() string {
	var b strings.Builder
	b.WriteString("# Settings of this collection. Every key has its default; delete a line or put a # before it to go back to it.\n")
	b.WriteString("# Decimals are written with a point. Lengths are mm, areas mm2, angles degrees; shares run from 0 to 1.\n")
	v := reflect.ValueOf(DefaultSettings())
	for i := 0; i < v.NumField(); i++ {
		section := v.Type().Field(i)
		fmt.Fprintf(&b, "\n# %s\n%s[%s]\n", section.Tag.Get("doc"), sectionNote(section.Tag.Get("toml")), section.Tag.Get("toml"))
		for j := 0; j < v.Field(i).NumField(); j++ {
			f := section.Type.Field(j)
			fmt.Fprintf(&b, "# %s%s\n%s = %s\n", f.Tag.Get("doc"), rangeText(f.Tag), f.Tag.Get("toml"), tomlValue(v.Field(i).Field(j)))
		}
	}
	return b.String()
}

func rangeText(tag reflect.StructTag) string {
	if tag.Get("min") == "" {
		return ""
	}
	return " (" + tag.Get("min") + " to " + tag.Get("max") + ")"
}

func tomlValue(v reflect.Value) string {
	switch v.Kind() {
	case reflect.String:
		return strconv.Quote(v.String())
	case reflect.Float64:
		s := strconv.FormatFloat(v.Float(), 'f', -1, 64)
		if !strings.Contains(s, ".") {
			s += ".0"
		}
		return s
	default:
		return fmt.Sprint(v.Interface())
	}
}

func (c *Collection) readSettings() {
	data, err := readLimited(filepath.Join(c.Dir, SettingsFile), maxSettingsBytes)
	switch {
	case errors.Is(err, os.ErrNotExist):
		c.Settings = DefaultSettings()
		c.Problems = append(c.Problems, LineError{File: SettingsFile, What: "the file is missing; the defaults hold", Hint: "phototrack init makes it again and changes nothing else.", Note: true})
	case err != nil:
		c.Settings = DefaultSettings()
		c.Problems = append(c.Problems, LineError{File: SettingsFile, What: err.Error() + "; the defaults hold", Hint: fsx.HintOf(err)})
	default:
		var faults []LineError
		c.Settings, faults = ParseSettings(data)
		c.Problems = append(c.Problems, faults...)
	}
}

// ParseSettings reads settings.toml. An unknown key, a value of the wrong kind or out of range, and a line that is no
// TOML each give a LineError; the default holds there and all other keys count.
func ParseSettings(data []byte) (Settings, []LineError) {
	r := newSettingsReader([]byte(strings.TrimPrefix(toUTF8(string(data)), byteOrderMark)))
	r.read()
	s := r.settings
	if fault, bad := checkClasses(s.Classes); bad {
		fault.Line = r.lines["classes."+fault.Column]
		r.faults = append(r.faults, fault)
		s.Classes = DefaultSettings().Classes
	}
	if b := s.Change.Baseline; b != "first" {
		if day, ok := parseDay(b); ok {
			s.Change.Baseline = day
		} else {
			r.fault("change.baseline", fmt.Sprintf("%q is neither first nor a date", clip(b)), `Write "first" or a date such as "2026-03-01".`)
			s.Change.Baseline = "first"
		}
	}
	r.checkTemplates(&s.Plates)
	sortProblems(r.faults)
	return s, r.faults
}

// setField stores a decoded value if it is of the right kind and within the range.
func setField(v reflect.Value, tag reflect.StructTag, value any) error {
	switch v.Kind() {
	case reflect.String:
		s, ok := asText(value)
		if !ok {
			return errors.New("this must be a text in quotes")
		}
		v.SetString(s)
	case reflect.Bool:
		b, ok := value.(bool)
		if !ok {
			return errors.New("this must be true or false")
		}
		v.SetBool(b)
	case reflect.Int, reflect.Float64:
		n, ok := asNumber(value)
		if !ok || (v.Kind() == reflect.Int && n != math.Trunc(n)) {
			return fmt.Errorf("this must be a %s", map[bool]string{true: "whole number", false: "number"}[v.Kind() == reflect.Int])
		}
		low, _ := strconv.ParseFloat(tag.Get("min"), 64)
		high, _ := strconv.ParseFloat(tag.Get("max"), 64)
		if !(n >= low && n <= high) {
			return fmt.Errorf("%g is outside %g to %g", n, low, high)
		}
		if v.Kind() == reflect.Int {
			v.SetInt(int64(n))
		} else {
			v.SetFloat(n)
		}
	}
	return nil
}

// asText takes a text, or a date written without quotes.
func asText(value any) (string, bool) {
	switch x := value.(type) {
	case string:
		return x, true
	case toml.LocalDate:
		return x.String(), true
	}
	return "", false
}

func asNumber(value any) (float64, bool) {
	switch x := value.(type) {
	case int64:
		return float64(x), true
	case float64:
		return x, true
	}
	return 0, false
}

// checkClasses says whether the boundaries go up round the circle.
func checkClasses(c ClassSettings) (LineError, bool) {
	fault := func(column string) (LineError, bool) {
		return LineError{File: SettingsFile, Column: column, What: "the classes must follow each other: brown, yellow, green, purple; the defaults hold for all of them",
			Hint: "Each hue angle must be larger than the one before."}, true
	}
	switch {
	case c.YellowFromDeg <= c.BrownFromDeg:
		return fault("yellow_from_deg")
	case c.GreenFromDeg <= c.YellowFromDeg:
		return fault("green_from_deg")
	case c.PurpleFromDeg <= c.GreenFromDeg:
		return fault("purple_from_deg")
	}
	return LineError{}, false
}

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
	"github.com/pelletier/go-toml/v2/unstable"

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
	s := DefaultSettings()
	data = []byte(strings.TrimPrefix(toUTF8(string(data)), byteOrderMark))
	tree, faults := parseTOML(data)
	p := settingsParser{lines: keyLines(data), faults: faults}
	p.fill(reflect.ValueOf(&s).Elem(), tree, "")
	if fault, bad := checkClasses(s.Classes); bad {
		fault.Line = p.lines["classes."+fault.Column]
		p.faults = append(p.faults, fault)
		s.Classes = DefaultSettings().Classes
	}
	if b := s.Change.Baseline; b != "first" {
		if day, ok := parseDay(b); ok {
			s.Change.Baseline = day
		} else {
			p.fault("change.baseline", fmt.Sprintf("%q is neither first nor a date", clip(b)), `Write "first" or a date such as "2026-03-01".`)
			s.Change.Baseline = "first"
		}
	}
	p.checkTemplates(&s.Plates)
	sortProblems(p.faults)
	return s, p.faults
}

// parseTOML decodes the text; a line that cannot be read is blanked and the rest tried again.
func parseTOML(data []byte) (map[string]any, []LineError) {
	const maxBadLines = 100
	lines := strings.Split(string(data), "\n")
	var faults []LineError
	for len(faults) < maxBadLines {
		tree := map[string]any{}
		err := toml.Unmarshal([]byte(strings.Join(lines, "\n")), &tree)
		if err == nil {
			return tree, faults
		}
		line := 0
		var d *toml.DecodeError
		if errors.As(err, &d) {
			line, _ = d.Position()
		}
		if line < 1 || line > len(lines) || strings.TrimSpace(lines[line-1]) == "" {
			return map[string]any{}, append(faults, LineError{File: SettingsFile, What: "the file cannot be read; the defaults hold", Hint: "Move it away; phototrack init writes it anew."})
		}
		faults = append(faults, LineError{File: SettingsFile, Line: line, What: fmt.Sprintf("%q cannot be read; the default holds", clip(strings.TrimSpace(lines[line-1]))),
			Hint: "Lines look like: name = value. Decimals have a point, texts stand in quotes, a key stands once."})
		lines[line-1] = ""
	}
	return map[string]any{}, faults
}

// keyLines finds the line of every key, "section.key" -> line, as far as the text can be read.
func keyLines(data []byte) map[string]int {
	out := map[string]int{}
	var p unstable.Parser
	p.Reset(data)
	section := ""
	for p.NextExpression() {
		e := p.Expression()
		var parts []string
		line := 0
		for it := e.Key(); it.Next(); {
			parts = append(parts, string(it.Node().Data))
			if line == 0 {
				line = p.Shape(it.Node().Raw).Start.Line
			}
		}
		name := strings.Join(parts, ".")
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			section = name + "."
			out[name] = line
		case unstable.KeyValue:
			out[section+name] = line
		}
	}
	return out
}

// settingsParser puts a decoded tree into the struct, key by key.
type settingsParser struct {
	lines  map[string]int
	faults []LineError
}

func (p *settingsParser) fault(key, what, hint string) {
	p.faults = append(p.faults, LineError{File: SettingsFile, Line: p.lines[key], Column: key, What: what, Hint: hint})
}

func (p *settingsParser) fill(v reflect.Value, tree map[string]any, prefix string) {
	known := map[string]int{}
	for i := 0; i < v.NumField(); i++ {
		known[v.Type().Field(i).Tag.Get("toml")] = i
	}
	for name, value := range tree {
		key := prefix + name
		i, ok := known[name]
		if !ok {
			p.fault(clip(key), "this setting is not known", "Check the spelling and the [section] it stands in; phototrack init in an empty folder writes all of them.")
			continue
		}
		f := v.Type().Field(i)
		if f.Type.Kind() == reflect.Struct {
			if sub, isTable := value.(map[string]any); isTable {
				p.fill(v.Field(i), sub, key+".")
			} else {
				p.fault(key, "this is a section, not a value", "Write ["+key+"] on a line of its own.")
			}
			continue
		}
		if err := setField(v.Field(i), f.Tag, value); err != nil {
			p.fault(key, err.Error()+"; the default "+tomlValue(v.Field(i))+" holds", f.Tag.Get("doc")+rangeText(f.Tag)+".")
		}
	}
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

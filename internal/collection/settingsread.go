package collection

import (
	"bytes"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

const (
	maxSettingsFaults = 100      // a file with as many holds no settings
	maxSettingBytes   = 16 << 10 // of one setting: the longest are templates of a line
)

// settingsReader reads settings.toml once from front to back: decoding the whole text anew for each line that cannot be read, with
// all keys looked through for each key, took minutes for a file of a hundred kilobytes.
type settingsReader struct {
	settings Settings
	faults   []LineError
	lines    map[string]int // where the settings stand that the file sets, by "section.key"

	text     []byte
	lineEnds []int            // their offsets
	sections map[string]int   // the fields of Settings by their keys
	keys     []map[string]int // the same of each section
}

// Where the lines that are being read stand, if not in a section of ours.
const (
	aboveSections = -1
	unknownPlace  = -2 // said once, at the header; what stands below it belongs nowhere
)

func newSettingsReader(text []byte) *settingsReader {
	t := reflect.TypeOf(Settings{})
	r := &settingsReader{settings: DefaultSettings(), lines: map[string]int{}, text: bytes.Clone(text), sections: fieldsByKey(t)}
	for i := range t.NumField() {
		r.keys = append(r.keys, fieldsByKey(t.Field(i).Type))
	}
	for i, b := range text {
		if b == '\n' {
			r.lineEnds = append(r.lineEnds, i)
		}
	}
	return r
}

func fieldsByKey(t reflect.Type) map[string]int {
	out := map[string]int{}
	for i := range t.NumField() {
		out[t.Field(i).Tag.Get("toml")] = i
	}
	return out
}

// read reads the text. A file that is full of faults sets nothing.
func (r *settingsReader) read() {
	var p unstable.Parser
	place, done := aboveSections, 0 // done is the offset behind what has been read
	for {
		from := done
		p.Reset(r.text[from:])
		for len(r.faults) < maxSettingsFaults && p.NextExpression() {
			e := p.Expression()
			path, begins, ends := keyOf(e)
			line := r.lineAt(from + begins)
			if e.Kind == unstable.KeyValue {
				ends = int(e.Raw.Offset + e.Raw.Length)
				r.value(place, path, p.Raw(e.Raw), line)
			} else {
				place = r.header(path, e.Kind == unstable.ArrayTable, line)
			}
			_, end := r.lineSpan(r.lineAt(from + ends))
			done = min(end+1, len(r.text))
		}
		if len(r.faults) >= maxSettingsFaults {
			r.settings = DefaultSettings()
			r.faultAt(0, "", "the file cannot be read; the defaults hold", "Move it away; phototrack init writes it anew.")
			return
		}
		if p.Error() == nil {
			return
		}
		if header := r.unreadable(done); header {
			place = unknownPlace
		}
	}
}

// keyOf are the parts of an expression's key, and where it begins and ends.
func keyOf(e *unstable.Node) (path []string, begins, ends int) {
	for it := e.Key(); it.Next(); {
		raw := it.Node().Raw
		if len(path) == 0 {
			begins = int(raw.Offset)
		}
		path, ends = append(path, string(it.Node().Data)), int(raw.Offset+raw.Length)
	}
	return path, begins, ends
}

// unreadable names the first line behind done that cannot be read and blanks it: settings stand on a line each, and something
// without an end would take all that follows with it. It says whether the line is a header: nobody knows then where what stands
// below it belongs.
func (r *settingsReader) unreadable(done int) (header bool) {
	line := r.lineAt(done)
	for line <= len(r.lineEnds) && r.saysNothing(line) {
		line++
	}
	from, to := r.lineSpan(line)
	said := strings.TrimSpace(string(r.text[from:to]))
	header = strings.HasPrefix(said, "[")
	what := fmt.Sprintf("%q cannot be read; the default holds", clip(said))
	if header {
		what = fmt.Sprintf("%q cannot be read; what stands below it is left out, up to the next section", clip(said))
	}
	r.faultAt(line, "", what, "Lines look like: name = value. Decimals have a point, texts stand in quotes, sections in brackets.")
	for i := range r.text[from:to] {
		r.text[from+i] = ' '
	}
	return header
}

// saysNothing says whether a line is empty, or a comment that can be read.
func (r *settingsReader) saysNothing(line int) bool {
	from, to := r.lineSpan(line)
	var p unstable.Parser
	p.Reset(r.text[from:min(to+1, len(r.text))])
	return !p.NextExpression() && p.Error() == nil
}

// lineAt is the line in which an offset lies.
func (r *settingsReader) lineAt(offset int) int { return sort.SearchInts(r.lineEnds, offset) + 1 }

// lineSpan is from where to where a line goes, without its end.
func (r *settingsReader) lineSpan(line int) (from, to int) {
	if line > 1 {
		from = r.lineEnds[line-2] + 1
	}
	if line > len(r.lineEnds) {
		return from, len(r.text)
	}
	return from, r.lineEnds[line-1]
}

func (r *settingsReader) fault(key, what, hint string) { r.faultAt(r.lines[key], key, what, hint) }

func (r *settingsReader) faultAt(line int, key, what, hint string) {
	r.faults = append(r.faults, LineError{File: SettingsFile, Line: line, Column: key, What: what, Hint: hint})
}

func (r *settingsReader) notKnown(line int, key string) {
	r.faultAt(line, clip(key), "this setting is not known", "Check the spelling and the [section] it stands in; phototrack init in an empty folder writes all of them.")
}

func (r *settingsReader) notAValue(line int, section string) {
	r.faultAt(line, section, "this is a section, not a value", "Write ["+section+"] on a line of its own.")
}

// header takes the header of a section, or of a list of them, and says where what stands below it belongs.
func (r *settingsReader) header(path []string, list bool, line int) (place int) {
	i, ok := r.sections[path[0]]
	switch {
	case !ok || len(path) > 1:
		r.notKnown(line, strings.Join(path, "."))
		return unknownPlace
	case list:
		r.notAValue(line, path[0])
		return unknownPlace
	}
	return i
}

// value takes a line that sets something.
func (r *settingsReader) value(place int, path []string, raw []byte, line int) {
	known := r.sections
	switch {
	case place == unknownPlace:
		return
	case place != aboveSections:
		known = r.keys[place]
	}
	if _, ok := known[path[0]]; !ok { // it need not be decoded
		r.notKnown(line, strings.Join(append(r.sectionName(place), path...), "."))
		return
	}
	tree := map[string]any{}
	if len(raw) > maxSettingBytes || toml.Unmarshal(raw, &tree) != nil {
		r.faultAt(line, "", fmt.Sprintf("%q cannot be read; the default holds", clip(string(raw))), "Lines look like: name = value. Decimals have a point, texts stand in quotes.")
		return
	}
	if place != aboveSections {
		r.fill(place, tree, line)
	} else if sub, ok := tree[path[0]].(map[string]any); ok { // section.key = value, or section = {key = value}
		r.fill(known[path[0]], sub, line)
	} else {
		r.notAValue(line, path[0])
	}
}

// sectionName is the key of a section, none above them.
func (r *settingsReader) sectionName(place int) []string {
	if place < 0 {
		return nil
	}
	return []string{reflect.TypeOf(r.settings).Field(place).Tag.Get("toml")}
}

// fill puts decoded values into a section.
func (r *settingsReader) fill(section int, tree map[string]any, line int) {
	s, name := reflect.ValueOf(&r.settings).Elem().Field(section), r.sectionName(section)[0]
	for _, k := range slices.Sorted(maps.Keys(tree)) {
		key := name + "." + k
		i, ok := r.keys[section][k]
		if !ok {
			r.notKnown(line, key)
			continue
		}
		if before := r.lines[key]; before > 0 {
			r.faultAt(line, key, fmt.Sprintf("this setting stands on line %d already, which counts", before), "Delete one of the two lines.")
			continue
		}
		r.lines[key] = line
		tag := s.Type().Field(i).Tag
		if err := setField(s.Field(i), tag, tree[k]); err != nil {
			r.fault(key, err.Error()+"; the default "+tomlValue(s.Field(i))+" holds", tag.Get("doc")+rangeText(tag)+".")
		}
	}
}

package collection

import (
	"fmt"
	"reflect"
	"strings"

	"phototrack/internal/caption"
)

// sectionNote is what else is explained before a section of settings.toml.
func sectionNote(section string) string {
	if section == "plates" {
		return templateNotes()
	}
	return ""
}

// nameColumn is the width in letters of the names of fields.
const nameColumn = 11

// templateNotes lists what a template may name.
func templateNotes() string {
	var b strings.Builder
	b.WriteString("# A field in double braces is replaced by its value, {{.Name}} by the plant's name; a part between {{if .Group}}\n")
	b.WriteString("# and {{end}} is written only where the field has a value. A template that holds quotes stands in single ones:\n#   title = '{{.Name}}{{if eq .View \"root\"}}, roots{{end}}'\n# The fields:\n")
	for _, f := range caption.Fields() {
		fmt.Fprintf(&b, "#   {{%s}}%s %s\n", f.Name, strings.Repeat(" ", max(0, nameColumn-len(f.Name))), f.Doc)
	}
	return b.String()
}

// checkTemplates names each template that cannot be used and puts its default in force.
func (r *settingsReader) checkTemplates(s *PlateSettings) {
	v, std := reflect.ValueOf(s).Elem(), reflect.ValueOf(PlateSettings(caption.Defaults()))
	for i := range v.NumField() {
		if _, err := caption.Parse(v.Field(i).String()); err != nil {
			r.fault("plates."+v.Type().Field(i).Tag.Get("toml"), clipTo(err.Error(), 160)+"; the default holds", "Fields are written like {{.Name}}; settings.toml of a new collection (phototrack init) lists them all.")
			v.Field(i).Set(std.Field(i))
		}
	}
}

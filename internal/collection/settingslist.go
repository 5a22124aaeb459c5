package collection

import (
	"fmt"
	"reflect"
)

// SettingRow is one line of settings.toml as it is in force.
type SettingRow struct {
	Name, Value, Default, Doc string
}

// Rows lists the settings of the sections that go into numbers and verdicts, in the file's order, from the same tags
// that the file is made of.
func (s Settings) Rows() []SettingRow {
	var out []SettingRow
	now, std := reflect.ValueOf(s), reflect.ValueOf(DefaultSettings())
	for i := range now.NumField() {
		section := now.Type().Field(i).Tag.Get("toml")
		if section == "report" || section == "plates" || section == "run" {
			continue // they change how things look and how fast, not what is said
		}
		for j := range now.Field(i).NumField() {
			f := now.Field(i).Type().Field(j)
			out = append(out, SettingRow{
				Name:    section + "." + f.Tag.Get("toml"),
				Value:   fmt.Sprint(now.Field(i).Field(j).Interface()),
				Default: fmt.Sprint(std.Field(i).Field(j).Interface()),
				Doc:     f.Tag.Get("doc"),
			})
		}
	}
	return out
}

package publish

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"phototrack/internal/collection"
	"phototrack/internal/fsx"
	"phototrack/internal/report"
	"phototrack/internal/words"
)

// aMonth is a month's folder of reports.
var aMonth = regexp.MustCompile(`^\d{4}-(0[1-9]|1[0-2])$`)

// reportFolders are the folders of reports that have a first page, by name; months come first.
func reportFolders(c *collection.Collection) (months, others []string) {
	list, err := os.ReadDir(c.ReportDir(""))
	if err != nil {
		return nil, nil
	}
	for _, e := range list {
		if _, err := os.Stat(filepath.Join(c.ReportDir(e.Name()), indexFile)); err != nil || !e.IsDir() {
			continue
		}
		if aMonth.MatchString(e.Name()) {
			months = append(months, e.Name())
		} else {
			others = append(others, e.Name())
		}
	}
	slices.Sort(months)
	slices.Sort(others)
	return months, others
}

// monthWords is a month's folder in words.
func monthWords(folder string) string {
	return strings.ReplaceAll(words.Month(folder), "_", " to ")
}

// neighbours are the links of a month's report to the one before and the one after, where they are written, and to the
// page of all months.
func neighbours(c *collection.Collection, folder string) (before, after *report.Link, months string) {
	months = "../" + indexFile
	if !aMonth.MatchString(folder) {
		return nil, nil, months
	}
	list, _ := reportFolders(c)
	for _, m := range list {
		l := &report.Link{Text: monthWords(m), Href: "../" + m + "/" + indexFile}
		if m < folder {
			before = l
		}
		if m > folder && after == nil {
			after = l
		}
	}
	return before, after, months
}

// writeMonths writes the page of all months, and lets the report of the month before lead to this one.
func writeMonths(c *collection.Collection, folder, name string) error {
	months, others := reportFolders(c)
	var list []report.Link
	for _, m := range slices.Backward(months) {
		list = append(list, report.Link{Text: monthWords(m), Href: m + "/" + indexFile})
	}
	for _, m := range others {
		list = append(list, report.Link{Text: monthWords(m), Href: m + "/" + indexFile})
	}
	var b bytes.Buffer
	if err := report.WriteMonths(&b, name, list); err != nil {
		return err
	}
	if err := fsx.WriteFileAtomic(filepath.Join(c.ReportDir(""), indexFile), b.Bytes(), 0o644); err != nil {
		return err
	}
	if i := slices.Index(months, folder); i > 0 {
		return linkLater(c.ReportDir(months[i-1]), folder)
	}
	return nil
}

// laterLink is where a report's first page leads to the month after.
var laterLink = regexp.MustCompile(`(?s)<!--later-->.*?<!--/later-->`)

// linkLater lets a report lead to a later month. A page that somebody has changed by hand stays as it is.
func linkLater(dir, folder string) error {
	k := openKept(dir)
	was, ok := k.old[indexFile]
	if !ok || !k.as(indexFile, was) {
		return nil
	}
	path := filepath.Join(dir, indexFile)
	page, err := os.ReadFile(path)
	if err != nil {
		return fsx.Explain(path, err)
	}
	link := []byte(`<!--later--><a href="../` + folder + "/" + indexFile + `" rel="next">` + monthWords(folder) + ` →</a><!--/later-->`)
	at := laterLink.FindIndex(page)
	if at == nil || bytes.Equal(page[at[0]:at[1]], link) {
		return nil
	}
	page = slices.Concat(page[:at[0]], link, page[at[1]:])
	if err := fsx.WriteFileAtomic(path, page, 0o644); err != nil {
		return err
	}
	k.now = k.old
	if err := k.written(indexFile); err != nil {
		return err
	}
	return k.save(k.report)
}

package photo

import (
	"bytes"
	"fmt"
	"unicode/utf8"
)

// foreign are the files that turn up in a folder of photos and are not read, by how they start.
var foreign = []struct {
	at     int
	magic  string
	called string
}{
	{0, "GIF8", "a GIF picture"},
	{0, "BM", "a BMP picture"},
	{0, "%PDF", "a PDF document"},
	{0, "PK\x03\x04", "a ZIP archive or office document"},
	{0, "8BPS", "a Photoshop document"},
	{0, "\xFF\x0A", "a JPEG XL picture"},
	{4, "JXL ", "a JPEG XL picture"},
	{4, "jP  ", "a JPEG 2000 picture"},
	{0, "FUJIFILM", "a camera's raw file"},
	{0, "IIRO", "a camera's raw file"},
	{0, "IIU\x00", "a camera's raw file"},
	{0, "FOVb", "a camera's raw file"},
	{0, "II+\x00", "a BigTIFF picture"},
	{0, "MM\x00+", "a BigTIFF picture"},
	{0, "\x1A\x45\xDF\xA3", "a film"},
	{4, "ftypqt", "a film"},
	{4, "ftypmp4", "a film"},
	{4, "ftypisom", "a film"},
	{4, "ftyp3gp", "a film"},
	{4, "ftypcrx ", "a camera's raw file"},
	{4, "ftypavif", "an AVIF picture"},
	{4, "ftypavis", "an AVIF picture"},
	{0, "RIFF", "a sound or a film"},
	{0, "<?xml", "an XML text"},
	{0, "<svg", "an SVG drawing"},
	{0, "<!DOCTYPE html", "a web page"},
}

// Of a file of no known format so many bytes are looked at, and so many are named.
const headBytes, shownBytes = 512, 8

// nameForeign says what a file of no known format is, as far as its first bytes tell.
func nameForeign(data []byte) string {
	for _, f := range foreign {
		if len(data) >= f.at+len(f.magic) && string(data[f.at:f.at+len(f.magic)]) == f.magic {
			return f.called
		}
	}
	head := data[:min(len(data), headBytes)]
	switch {
	case len(bytes.Trim(head, "\x00")) == 0:
		return "the file starts with zeros only, as after a failed copy"
	case utf8.Valid(head) && bytes.IndexByte(head, 0) < 0:
		return "a text"
	}
	return fmt.Sprintf("it starts with the bytes % X", head[:min(len(head), shownBytes)])
}

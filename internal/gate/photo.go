package gate

import (
	"fmt"

	"phototrack/internal/record"
)

// photoRows are the rows of the file itself and of its date.
var photoRows = []Gate{
	{
		Code: Unreadable, Name: "not readable", Status: record.Rejected,
		Sentence: "The file could not be read as a photo.",
		Hint:     "Copy it from the camera again; if it opens in a picture viewer, save it as JPEG there.",
		Limit:    "-",
		Why:      "A file that is cut short or damaged has no trustworthy pixels.",
	},
	{
		Code: UnknownFormat, Name: "unknown format", Status: record.Rejected,
		Sentence: "This kind of file is not read.",
		Hint:     "Save the photo as JPEG, PNG, TIFF, WebP or HEIC.",
		Limit:    "-",
		Why:      "Only formats whose colours are defined are measured.",
	},
	{
		Code: Unchecked, Name: "cannot be checked", Status: record.Flagged,
		Sentence: "This kind of file holds nothing by which damage to it could be seen.",
		Hint:     "Drop the photo as the phone took it, or save it as PNG, which holds checksums.",
		Limit:    "lossless WebP; TIFF packed by LZW or PackBits",
		Why:      "One flipped bit in such a file can shift the colours of half the picture, and it still opens.",
	},
	{
		Code: TooLarge, Name: "too large", Status: record.Rejected,
		Sentence: "The photo is larger than this program will open.",
		Hint:     "Send the photo as the phone took it, not a panorama or a scan.",
		Limit:    fmt.Sprintf("%d megapixels, %d MB", DefaultMegapixels, DefaultFileMB),
		Why:      "Memory must stay bounded whatever is dropped into the folder.",
	},
	{
		Code: Timeout, Name: "took too long", Status: record.Rejected,
		Sentence: "Measuring this photo took too long and was stopped.",
		Hint:     "Try it alone with 'phototrack check'; if it repeats, save it as a plain JPEG.",
		Limit:    fmt.Sprintf("%d s of processor time", DefaultSeconds),
		Why:      "One photo must not hold up a month.",
	},
	{
		Code: Memory, Name: "took too much memory", Status: record.Rejected,
		Sentence: "Measuring this photo took too much memory and was stopped, twice.",
		Hint:     "Save the photo smaller (12 megapixels are plenty) as a plain JPEG, or raise memory_limit_mb in settings.toml.",
		Limit:    fmt.Sprintf("%d MB", DefaultMemoryMB),
		Why:      "One photo must not bring the computer to a halt.",
	},
	{
		Code: Crashed, Name: "measuring failed", Status: record.Rejected,
		Sentence: "The measuring process stopped while it worked on this photo, twice.",
		Hint:     "Save the photo as a plain JPEG and drop it again; please report it.",
		Limit:    "2 tries",
		Why:      "A fault in a decoder must cost one photo, not the batch.",
	},
	{
		Code: NoDate, Name: "no date", Status: record.Rejected,
		Sentence: "The photo does not say when it was taken.",
		Hint:     "Put it in a folder or give it a name with the date (2026-05-14), or run again with --date.",
		Limit:    "-",
		Why:      "The file's own clock changes when a photo is copied, so it is not used.",
	},
	{
		Code: DateFuture, Name: "date in the future", Status: record.Flagged, NotCounted: true,
		Sentence: "The photo says that it was taken after today.",
		Hint:     "Set the camera's clock; correct the photo's date on the desk page. It is held until then, and counts nowhere.",
		Limit:    "a day after today",
		Why:      "A camera whose clock is wrong would move the report to a month that has not come.",
	},
	{
		Code: DateEarly, Name: "date too early", Status: record.Flagged, NotCounted: true,
		Sentence: "The photo says that it was taken before that can be.",
		Hint:     "Set the camera's clock; correct the photo's date on the desk page, or the plant's date in plants.csv. It is held until then, and counts nowhere.",
		Limit:    fmt.Sprintf("%d, or the first plant's date in plants.csv", FirstYear),
		Why:      "A camera whose clock was never set dates its photos 1970, 1980 or 2000.",
	},
}

// Package collection knows a grower's folder: the CSV files that are edited in a spreadsheet, the settings, the marks
// drawn on photos, the folders for photos and reports, and the archive of originals.
//
// Init makes a folder, Open reads one. What is wrong in a file never stops the rest: each problem is a LineError with
// file, line and column in Collection.Problems, and only that line is left out. To the grower's files lines are added (AppendEvent, AppendCorrection, AppendCard,
// AppendPlant), and single lines of events.csv and plants.csv are changed (ChangeEvents, RemoveEvents, ChangePlants,
// TakeBack): every other byte stays, the file as it was is kept, the change is put on record, and a file that is no longer
// the one that was looked at is left alone (ErrStale).
//
// Package series keeps what was measured; this package keeps what the grower says.
package collection

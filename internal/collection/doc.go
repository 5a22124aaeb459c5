// Package collection knows a grower's folder: the CSV files that are edited in a spreadsheet, the settings, the marks
// drawn on photos, the folders for photos and reports, and the archive of originals.
//
// Init makes a folder, Open reads one. What is wrong in a file never stops the rest: each problem is a LineError with
// file, line and column in Collection.Problems, and only that line is left out. The grower's files are never rewritten
// except to add a line (AppendEvent, AppendCorrection, AppendCard, AppendPlant); every byte that is there stays.
//
// Package series keeps what was measured; this package keeps what the grower says.
package collection

#!/usr/bin/env bash
# Prints the copyright file of a package: the program's licence, then those of all that is built into it.
set -euo pipefail
cd "$(dirname "$0")/.."

cat <<END
Phototrack is distributed under the following licence:

$(cat LICENSE)

The program contains the Go standard library and the Go modules listed below,
each under its own terms, which follow. Debian keeps the text of the Apache
License 2.0 in /usr/share/common-licenses/Apache-2.0.
END

# FreeType's Go port may be used under either of two licences; its own is taken, not the GPL.
# terms TITLE FILE... prints licence files in UTF-8; the long standard text of Apache's is only referred to.
terms() {
	local file
	printf '\n%s\n%s\n' "------------------------------------------------------------------------" "$1"
	shift
	for file; do
		printf '\n'
		{ iconv -f utf-8 -t utf-8 "$file" 2>/dev/null || iconv -f latin1 -t utf-8 "$file"; } | tr -d '\r' | sed -e 's/[ \t]*$//' \
			-e '/TERMS AND CONDITIONS FOR USE, REPRODUCTION/i (the terms: /usr/share/common-licenses/Apache-2.0)' \
			-e '/TERMS AND CONDITIONS FOR USE, REPRODUCTION/,/END OF TERMS AND CONDITIONS/d'
	done
}

terms "The Go standard library, https://go.dev" "$(go env GOROOT)/LICENSE"
go list -deps -f '{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}} {{.Dir}}{{end}}{{end}}' ./cmd/phototrack | LC_ALL=C sort -u |
	while read -r path version dir; do
		mapfile -t files < <(find "$dir" -maxdepth 2 -type f \( -iname 'licen[cs]e*' -o -iname 'copying*' -o -iname 'notice*' -o -ipath '*/licenses/*' \) ! -iname '*.go' ! -iname 'gpl*' ! -path '*/testdata/*' | LC_ALL=C sort)
		[ ${#files[@]} -gt 0 ] || { echo "copyright: $path has no licence file" >&2; exit 1; }
		terms "$path $version" "${files[@]}"
	done

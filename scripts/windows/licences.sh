#!/usr/bin/env bash
# Prints the licences of all that is linked into the Windows program: the program's own, its Go modules', those of the
# libraries in C and C++ as Debian has gathered them, and those of the compiler's own libraries.
set -euo pipefail
cd "$(dirname "$0")/../.."
. scripts/windows/common.sh
line=$(printf '=%.0s' $(seq 100))
part() { printf '\n%s\n%s\n%s\n\n' "$line" "$1" "$line"; }

gather() {
	GOOS=windows bash scripts/copyright.sh
	part "Libraries in C and C++ that are linked into phototrack.exe"
	cat <<-END
		They are built from Debian's source packages, with Debian's patches:

		$(packages | awk '{print "  " $1 " " $2}')

		libheif and libde265 are under the GNU Lesser General Public License. Phototrack's source holds all that is needed to build
		the program with another version of them: packaging/windows/sources names theirs, "make windows" builds.
	END
	packages | while read -r package version _; do
		part "$package $version"
		cat "$cache/source/$package/debian/copyright"
	done
	part "The compiler's own libraries: mingw-w64, and GCC's, the latter with the GCC Runtime Library Exception"
	cat /usr/share/doc/mingw-w64-x86-64-dev/copyright /usr/share/doc/g++-mingw-w64-x86-64-posix/copyright
}
text=$(gather | iconv -f utf-8 -t utf-8 -c)
printf '%s\n' "$text"
# What they refer to, which no Windows computer has.
grep -oE '/usr/share/common-licenses/[A-Za-z]+(-[0-9]+([.][0-9]+)?)?' <<<"$text" | sort -u | while read -r file; do
	[ -r "$file" ] || continue
	part "$file"
	cat "$file"
done

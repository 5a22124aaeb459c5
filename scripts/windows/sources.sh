#!/usr/bin/env bash
# Fetches the source packages that packaging/windows/sources names into the cache, and unpacks them with Debian's patches.
# Every file must have the hash that stands there. They come from the repositories that this machine's apt knows; a file
# that one of them lacks is looked for in the others.
set -euo pipefail
cd "$(dirname "$0")/../.."
. scripts/windows/common.sh
mkdir -p "$cache/files" "$cache/source"

# fetch FOLDER NAME SHA256
fetch() {
	local file=$cache/files/$2 uri folder
	if [ -s "$file" ] && echo "$3  $file" | sha256sum -c --status; then return; fi
	for uri in "${repositories[@]}"; do
		# A security update lies in the pool of updates until the next point release takes it over.
		for folder in "$1" "pool/main/${1##*main/}" "pool/updates/main/${1##*main/}"; do
			if /usr/lib/apt/apt-helper download-file "$uri$folder/${2//+/%2b}" "$file" "SHA256:$3" >/dev/null 2>&1; then return; fi
		done
	done
	stop "$2 (sha256 $3) is in none of this machine's repositories: ${repositories[*]}.
Where Debian has a newer version by now, scripts/windows/pins.sh writes $pins anew."
}
mapfile -t repositories < <(apt-get indextargets --format '$(REPO_URI)' 'Created-By: Packages' | sort -u)

# unpack PACKAGE: the upstream source, further parts in folders of their own, Debian's folder, Debian's patches in order.
unpack() {
	local package=$1 dir=$cache/source/$1 sum name part
	rm -rf "$dir" && mkdir -p "$dir"
	while read -r sum name; do
		case $name in
		*.orig.tar.*) tar -xf "$cache/files/$name" -C "$dir" --strip-components=1 ;;
		*.debian.tar.*) tar -xf "$cache/files/$name" -C "$dir" ;;
		*.orig-*)
			part=${name##*.orig-}
			mkdir -p "$dir/${part%%.*}"
			tar -xf "$cache/files/$name" -C "$dir/${part%%.*}" --strip-components=1
			;;
		esac
	done < <(files_of "$package" | sort -k2 -r)
	sed -e 's/#.*//' -e '/^[[:space:]]*$/d' "$dir/debian/patches/series" 2>/dev/null | while read -r name _; do
		patch -s -p1 -d "$dir" <"$dir/debian/patches/$name"
	done
}

while read -r package version runtime folder; do
	here=$(dpkg-query -W -f='${source:Version}' "$runtime" 2>/dev/null || true)
	if [ -n "$here" ] && [ "$here" != "$version" ]; then
		stop "$package is $here in this machine's Debian build, but $version in $pins. Write it anew with scripts/windows/pins.sh."
	fi
	stamp=$cache/source/$package.is
	if [ "$(cat "$stamp" 2>/dev/null)" = "$(files_of "$package")" ]; then continue; fi
	say "source of $package $version"
	while read -r sum name; do fetch "$folder" "$name" "$sum"; done < <(files_of "$package")
	unpack "$package"
	files_of "$package" >"$stamp"
done < <(packages)

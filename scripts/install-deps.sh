#!/usr/bin/env bash
# Installs what phototrack needs from the system's packages, on Debian and Ubuntu.
#
#   scripts/install-deps.sh [--list] [run] [build] [test] [package] [check-package]
#
# Without a group: build and test. build holds run; package is what
# `make deb` needs besides build, check-package what `make check-deb` needs. --list only says what is needed and what is missing.
# Packages that are there are left alone; if none is missing, apt is not called at all.
set -euo pipefail

# What a built program needs. The libraries themselves carry other names in each release; the development packages of
# the build group bring them. Newer releases keep the HEIC decoder in a package of its own.
run_packages=(libheif-plugin-libde265?)

# A C and C++ compiler, pkg-config and the libraries: OpenCV with ArUco markers, JPEG, WebP, HEIC, colour profiles.
build_packages=(g++ pkg-config libopencv-dev libopencv-contrib-dev libjpeg-dev libwebp-dev libheif-dev libde265-dev liblcms2-dev)

# PDF to pixels, a browser for the pages (on Ubuntu there is none among the packages), HEIC files to read, colour profiles of others to check against, judges of PNG and PDF files, fonts; judges of man pages and of the menu's entry.
test_packages=(poppler-utils chromium? libheif-examples libheif-plugin-x265? colord-data libimage-exiftool-perl pngcheck qpdf fonts-dejavu-core fonts-liberation groff-base desktop-file-utils openssl)

# Reading a program's libraries and building a .deb; judging it and a clean system to install it in.
package_packages=(dpkg-dev)
check_package_packages=(lintian debootstrap)

# The examiner of accessibility for the pages' tests, an npm package of a fixed version and checksum. npm itself is a
# package only where there is none yet.
command -v npm >/dev/null || test_packages+=(npm)
axe_pin=$(dirname "$0")/../internal/browsertest/axe.pin

go_needed=1.26

usage() { sed -n '2,8s/^# \{0,1\}//p' "$0"; }

list_only=false
groups=()
for arg in "$@"; do
	case $arg in
	--list) list_only=true ;;
	run | build | test | package | check-package) groups+=("$arg") ;;
	-h | --help) usage; exit 0 ;;
	*) echo "install-deps: unknown word '$arg'" >&2; usage >&2; exit 2 ;;
	esac
done
[ ${#groups[@]} -gt 0 ] || groups=(build test)

wanted=()
for group in "${groups[@]}"; do
	case $group in
	run) wanted+=("${run_packages[@]}") ;;
	build) wanted+=("${run_packages[@]}" "${build_packages[@]}") ;;
	test) wanted+=("${test_packages[@]}") ;;
	package) wanted+=("${package_packages[@]}") ;;
	check-package) wanted+=("${check_package_packages[@]}") ;;
	esac
done

check_go() {
	if ! command -v go >/dev/null; then
		echo "Go is not installed: get Go $go_needed or newer from https://go.dev/dl/ (the packages of most releases are older)."
	fi
}

if ! command -v dpkg-query >/dev/null || ! command -v apt-get >/dev/null; then
	cat >&2 <<END
This script knows Debian and Ubuntu only. What is needed here, whatever its packages are called:
  to build: Go $go_needed or newer, a C++ compiler, pkg-config, OpenCV 4.6 with the contrib modules (aruco), and the
            development files of libjpeg-turbo, libwebp, libheif (with its HEVC decoder libde265) and Little CMS 2
  to test:  pdftoppm (poppler), Chromium, heif-enc (libheif's examples, with x265), the DejaVu and Liberation fonts,
            axe-core's axe.min.js (an npm package; the variable AXE_CORE names the file)
END
	exit 1
fi

# axe_file is where the tests look for it.
read -r axe_name axe_version axe_sum <"$axe_pin"
axe_file=${XDG_CACHE_HOME:-$HOME/.cache}/phototrack-tests/$axe_name-$axe_version/axe.min.js
needs_axe() { [[ " ${groups[*]} " == *" test "* && ! -s $axe_file ]]; }
fetch_axe() {
	needs_axe || return 0
	echo "Fetching $axe_name $axe_version with npm."
	local dir
	dir=$(mktemp -d)
	(cd "$dir" && npm pack --silent --ignore-scripts "$axe_name@$axe_version" >/dev/null)
	local sum
	sum=sha512-$(openssl dgst -sha512 -binary "$dir/$axe_name-$axe_version.tgz" | base64 -w0)
	if [ "$sum" != "$axe_sum" ]; then
		echo "$axe_name $axe_version is not what it was: $sum" >&2
		exit 1
	fi
	tar -xzf "$dir/$axe_name-$axe_version.tgz" -C "$dir" package/axe.min.js
	mkdir -p "$(dirname "$axe_file")"
	# In one step, so that a test never reads half of it.
	cp "$dir/package/axe.min.js" "$axe_file.$$"
	mv "$axe_file.$$" "$axe_file"
	rm -r "$dir"
}

installed() { [ "$(dpkg-query -W -f='${db:Status-Status}' "$1" 2>/dev/null)" = installed ]; }
known() { apt-cache show "$1" >/dev/null 2>&1; }

# A package with a question mark exists in some releases only: there it is needed, elsewhere something else holds it.
missing=()
find_missing() {
	missing=()
	local package name
	for package in "${wanted[@]}"; do
		name=${package%\?}
		if installed "$name"; then continue; fi
		if [ "$name" = "$package" ] || known "$name"; then missing+=("$name"); fi
	done
}
find_missing

echo "Needed for ${groups[*]} (with ? where the release has it): ${wanted[*]}"
if needs_axe && $list_only; then echo "To be fetched with npm: $axe_name $axe_version"; fi
if [ ${#missing[@]} -eq 0 ]; then
	$list_only || fetch_axe
	echo "All of it is installed."
	check_go
	exit 0
fi
echo "Missing, to be installed: ${missing[*]}"
if $list_only; then
	check_go
	exit 0
fi

as_root=()
if [ "$(id -u)" -ne 0 ]; then
	if ! command -v sudo >/dev/null; then
		echo "Run this as root, or install sudo." >&2
		exit 1
	fi
	as_root=(sudo)
fi
apt() { "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get "$@"; }

# The lists are fetched only where they do not know a package, or where what they name cannot be had any more.
fresh=false
update() {
	apt update
	fresh=true
	find_missing
}
for name in "${missing[@]}"; do
	if ! known "$name"; then
		update
		break
	fi
done
if ! apt install -y --no-install-recommends "${missing[@]}"; then
	if $fresh; then exit 1; fi
	update
	apt install -y --no-install-recommends "${missing[@]}"
fi

still=()
for name in "${missing[@]}"; do installed "$name" || still+=("$name"); done
if [ ${#still[@]} -gt 0 ]; then
	echo "Still missing: ${still[*]}" >&2
	exit 1
fi
fetch_axe
echo "Done."
check_go

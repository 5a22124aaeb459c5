#!/usr/bin/env bash
# Installs what building for Windows, packing and trying it under Wine needs, from Debian's packages. Nothing of it is needed
# to build or test phototrack for Debian: that is scripts/install-deps.sh.
#   scripts/windows/tools.sh [build] [pack] [check]     (default: all)
set -euo pipefail
[ $# -gt 0 ] || set -- build pack check

wanted=()
for group; do
	case $group in
	# Debian's cross compiler with posix threads, an assembler for libjpeg-turbo, protoc for OpenCV's dnn.
	build) wanted+=(g++-mingw-w64-x86-64-posix cmake ninja-build make nasm protobuf-compiler patch xz-utils bzip2 pkg-config) ;;
	pack) wanted+=(nsis zip librsvg2-bin icoutils) ;;
	check) wanted+=(wine64 wine unzip curl python3) ;;
	*) echo "tools: unknown word '$group'" >&2; exit 2 ;;
	esac
done
command -v apt-get >/dev/null || { echo "tools: this build needs Debian 12 and its packages: ${wanted[*]}" >&2; exit 1; }

missing=()
for name in "${wanted[@]}"; do
	[ "$(dpkg-query -W -f='${db:Status-Status}' "$name" 2>/dev/null)" = installed ] || missing+=("$name")
done
[ ${#missing[@]} -gt 0 ] || exit 0
as_root=()
[ "$(id -u)" -eq 0 ] || as_root=(sudo)
echo "Missing, to be installed: ${missing[*]}"
apt() { "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -qq "$@" >/dev/null; }
apt install -y --no-install-recommends "${missing[@]}" || { apt update && apt install -y --no-install-recommends "${missing[@]}"; }

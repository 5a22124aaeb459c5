#!/usr/bin/env bash
# Writes packaging/windows/sources anew: for each library the version that this machine's Debian build is linked with, and
# the hashes of its source files as the lists say that Debian signs. The machine's own list of sources stays as it is.
set -euo pipefail
cd "$(dirname "$0")/../.."
. scripts/windows/common.sh
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir -p "$work/lists/partial" "$work/cache/archives/partial"
apt-get indextargets --format 'deb-src $(REPO_URI) $(RELEASE) $(COMPONENT)' 'Created-By: Packages' | sort -u >"$work/sources.list"
cat >"$work/apt.conf" <<END
Dir::Etc::sourcelist "$work/sources.list";
Dir::Etc::sourceparts "-";
Dir::State::lists "$work/lists";
Dir::Cache "$work/cache";
END
export APT_CONFIG=$work/apt.conf
apt-get update -qq
{
	sed -n '/^#/p' "$pins"
	while read -r package runtime; do
		version=$(dpkg-query -W -f='${source:Version}' "$runtime") || stop "$runtime is not installed"
		apt-cache showsrc "$package" | awk -v package="$package" -v version="$version" -v runtime="$runtime" '
			/^Version:/ {mine = ($2 == version)}
			/^Checksums-Sha256:/ {sums = mine; next}
			!/^ / {sums = 0}
			sums && $3 !~ /\.(dsc|asc)$/ && !($3 in seen) {seen[$3]; files = files "\t" $1 " " $3 "\n"}
			/^Directory:/ && mine {folder = $2}
			END {if (files == "") exit 1; printf "%s %s %s %s\n%s", package, version, runtime, folder, files}' || stop "no source of $package $version"
	done <<-END
		zlib zlib1g
		libjpeg-turbo libjpeg62-turbo
		libwebp libwebp7
		libde265 libde265-0
		libheif libheif1
		lcms2 liblcms2-2
		protobuf libprotobuf32
		opencv libopencv-core406
	END
} >"$work/sources"
cp "$work/sources" "$pins"

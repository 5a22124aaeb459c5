#!/usr/bin/env bash
# Builds the Debian or Ubuntu package for the release that this runs on: scripts/build_deb.sh [DIR]   (default: dist)
# What the program needs at run time is read from the built program by dpkg-shlibdeps, so the package fits this release
# and no other; the release is part of the version. Only Debian's own small tools are used (dpkg-dev).
# DEBFULLNAME and DEBEMAIL name the maintainer, as with Debian's other tools.
set -euo pipefail
cd "$(dirname "$0")/.."
out=${1:-dist}
bash scripts/install-deps.sh build package

version=$(bash scripts/version.sh)
release=$(. /etc/os-release && echo "$ID${VERSION_ID:-}")
deb_version=$version-1~$release
arch=$(dpkg --print-architecture)
maintainer="${DEBFULLNAME:-The phototrack authors} <${DEBEMAIL:-phototrack@localhost}>"
SOURCE_DATE_EPOCH=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct 2>/dev/null || date +%s)}
export SOURCE_DATE_EPOCH # the same commit gives the same package

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
root=$work/root
mkdir -p "$root/DEBIAN" # this also tells dpkg-shlibdeps which tree is the package
doc=$root/usr/share/doc/phototrack
install_file() { install -D -m "${3:-644}" "$1" "$root/$2"; }
compressed() { mkdir -p "$(dirname "$root/$1")" && gzip -9n > "$root/$1" && chmod 644 "$root/$1"; }

# The program, with the distribution's flags for hardening and without symbols.
export DEB_BUILD_MAINT_OPTIONS=hardening=+bindnow
for flags in CFLAGS CXXFLAGS CPPFLAGS LDFLAGS; do export "CGO_$flags=$(dpkg-buildflags --get $flags)"; done
go build -buildmode=pie -trimpath -ldflags "-s -w -X main.version=$version" -o "$work/phototrack" ./cmd/phototrack
strip --strip-unneeded --remove-section=.comment --remove-section=.note "$work/phototrack"
install_file "$work/phototrack" usr/bin/phototrack 755

# Man pages and completions come from the program's own help.
"$work/phototrack" docs "$work/docs"
for page in "$work"/docs/man/*.1; do compressed "usr/share/man/man1/$(basename "$page").gz" < "$page"; done
install_file "$work/docs/completions/bash/phototrack" usr/share/bash-completion/completions/phototrack
install_file "$work/docs/completions/zsh/_phototrack" usr/share/zsh/vendor-completions/_phototrack
install_file "$work/docs/completions/fish/phototrack.fish" usr/share/fish/vendor_completions.d/phototrack.fish

# The entry of the menu. Its icon is the desk's own.
install_file packaging/phototrack.desktop usr/share/applications/phototrack.desktop
install_file internal/desk/assets/icon.svg usr/share/icons/hicolor/scalable/apps/phototrack.svg

mkdir -p "$doc"
bash scripts/copyright.sh > "$work/copyright"
install_file "$work/copyright" usr/share/doc/phototrack/copyright
compressed usr/share/doc/phototrack/changelog.Debian.gz <<END
phototrack ($deb_version) unstable; urgency=medium

  * Package of phototrack $version, built on $release.

 -- $maintainer  $(date -u -R -d "@$SOURCE_DATE_EPOCH")
END
[ ! -e packaging/deb/lintian-overrides ] || install_file packaging/deb/lintian-overrides usr/share/lintian/overrides/phototrack

# Run-time dependencies: the libraries the program is linked with, and what install-deps.sh adds for running.
mkdir -p "$work/debian"
printf 'Source: phototrack\n\nPackage: phototrack\nArchitecture: any\n' > "$work/debian/control"
depends=$(cd "$work" && dpkg-shlibdeps -O "$root/usr/bin/phototrack" | sed -n 's/^shlibs:Depends=//p')
[ -n "$depends" ] || { echo "build_deb: no run-time dependencies found" >&2; exit 1; }
for package in $(bash scripts/install-deps.sh --list run | sed -n 's/^Needed for [^:]*: //p'); do
	name=${package%\?}
	if [ "$name" = "$package" ] || apt-cache show "$name" >/dev/null 2>&1; then depends+=", $name"; fi
done

(cd "$root" && find usr -type f -print0 | LC_ALL=C sort -z | xargs -0 md5sum) > "$root/DEBIAN/md5sums"
size=$(find "$root/usr" -type f -printf '%k\n' | awk '{s+=$1} END {print s}')
sed -e "s/@VERSION@/$deb_version/; s/@ARCH@/$arch/; s/@SIZE@/$size/; s/@DEPENDS@/$depends/; s/@MAINTAINER@/$maintainer/" \
	packaging/deb/control.in > "$root/DEBIAN/control"
chmod 644 "$root"/DEBIAN/*
find "$root" -type d -exec chmod 755 {} +
find "$root" -newermt "@$SOURCE_DATE_EPOCH" -exec touch -h -d "@$SOURCE_DATE_EPOCH" {} +

mkdir -p "$out"
package=$out/phototrack_${deb_version}_$arch.deb
dpkg-deb --root-owner-group --build "$root" "$package" >/dev/null
echo "Depends: $depends"
echo "Package: $package ($(du -h "$package" | cut -f1))"

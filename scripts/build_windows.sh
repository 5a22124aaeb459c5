#!/usr/bin/env bash
# Builds the program for Windows, 64 bit, on Debian: scripts/build_windows.sh [DIR]   (default: dist)
#   DIR/phototrack-setup.exe     installer for one user
#   DIR/phototrack-windows.zip   the same files without one
#   DIR/phototrack-windows.sha256
# The libraries are built once, into a cache outside the tree (scripts/windows/common.sh), and used again. JOBS says how many
# compilers run at once.
set -euo pipefail
cd "$(dirname "$0")/.."
. scripts/windows/common.sh
out=${1:-dist}
began=$SECONDS
bash scripts/windows/tools.sh build pack
bash scripts/windows/sources.sh
bash scripts/windows/libraries.sh
say "libraries are there ($((SECONDS - began)) s)"

version=$(bash scripts/version.sh)
SOURCE_DATE_EPOCH=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct 2>/dev/null || date +%s)}
export SOURCE_DATE_EPOCH
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
files=$work/phototrack
mkdir -p "$files" "$work/pkgconfig"

# What cgo asks pkg-config for: these libraries and no others of this machine.
describe() { printf 'Name: %s\nDescription: %s\nVersion: 1\nCflags: -I%s -I%s/opencv4 %s\nLibs: -L%s %s\n' "$1" "$1" "$prefix/include" "$prefix/include" "$3" "$prefix/lib" "$2" >"$work/pkgconfig/$1.pc"; }
opencv="-lopencv_aruco -lopencv_dnn -lopencv_calib3d -lopencv_features2d -lopencv_flann -lopencv_imgcodecs -lopencv_imgproc -lopencv_core"
describe libjpeg -ljpeg ""
describe libwebp -lwebp ""
describe lcms2 -llcms2 ""
describe libde265 "-lde265 -lstdc++" "-DLIBDE265_STATIC_BUILD"
describe libheif "-lheif -lde265 -lz -lstdc++" "-DLIBHEIF_STATIC_BUILD -DLIBDE265_STATIC_BUILD"
describe opencv4 "$opencv -ljpeg -lprotobuf -lz" ""

# Icon, version and manifest.
for size in 16 24 32 48 64 256; do rsvg-convert -w $size -h $size internal/desk/assets/icon.svg -o "$work/$size.png"; done
icotool --create -o "$work/phototrack.ico" "$work"/{16,24,32,48,64}.png --raw="$work/256.png"
cp packaging/windows/phototrack.manifest "$work/"
numbers=$(echo "$version" | sed 's/[^0-9.].*//' | awk -F. '{print $1+0 "," $2+0 "," $3+0 ",0"}')
sed -e "s/@NUMBERS@/$numbers/; s/@VERSION@/$version/" packaging/windows/phototrack.rc.in >"$work/phototrack.rc"
(cd "$work" && $target-windres phototrack.rc phototrack-res.o)

say "compiling phototrack.exe"
export GOOS=windows GOARCH=amd64 CGO_ENABLED=1 CC=$target-gcc-posix CXX=$target-g++-posix
export PKG_CONFIG_LIBDIR=$work/pkgconfig PKG_CONFIG_PATH=
vector="-Wa,-muse-unaligned-vector-move" # see libraries.sh
export CGO_CFLAGS="-O2 $vector" CGO_CXXFLAGS="-O2 -std=c++11 $vector -I$prefix/include/opencv4" CGO_CPPFLAGS="-I$prefix/include -I$prefix/include/opencv4"
export CGO_LDFLAGS="-L$prefix/lib"
# The order in which packages of Go name the archives is not one in which a linker finds all: they are named once more together.
group="-Wl,--start-group $opencv -lheif -lde265 -ljpeg -lwebp -llcms2 -lprotobuf -lz -Wl,--end-group -lole32 -loleaut32 -luuid -lgdi32 -lcomdlg32 -lws2_32"
# The parts of gocv that the program does not use are left out, and with them OpenCV's modules below them. The tag leaves out
# gocv's own idea of where OpenCV lies on Windows.
gocv=$(go list -m -f '{{.Dir}}' gocv.io/x/gocv)
rm -rf "$cache/source/gocv" && mkdir -p "$cache/source/gocv"
cp "$gocv"/*.{go,cpp,h} "$gocv/go.mod" "$cache/source/gocv/"
chmod -R u+w "$cache/source/gocv"
rm -f "$cache/source/gocv"/{video,videoio,highgui,objdetect,photo,calib3d}{,_string}.{go,cpp}
cp go.mod go.sum "$work/"
go mod edit -replace "gocv.io/x/gocv=$cache/source/gocv" "$work/go.mod"
go build -trimpath -modfile "$work/go.mod" -tags customenv -o "$files/phototrack.exe" \
	-ldflags "-s -w -X main.version=$version -extld=$CXX -extldflags '-static $work/phototrack-res.o -L$prefix/lib $group'" ./cmd/phototrack
$CC -O2 -Wall -Wextra -municode -mwindows -static -s -o "$files/phototrack-desk.exe" packaging/windows/desk.c "$work/phototrack-res.o"
unset GOOS GOARCH CGO_ENABLED

# Nothing but what Windows itself brings may be asked for.
foreign=$($target-objdump -p "$files/phototrack.exe" "$files/phototrack-desk.exe" | sed -n 's/.*DLL Name: //p' | sort -fu |
	grep -viE '^(kernel32|msvcrt|user32|advapi32|shell32|ole32|oleaut32|ws2_32|winmm|bcrypt|bcryptprimitives|crypt32|gdi32|ntdll|psapi|dbghelp|userenv|api-ms-win-.*|ucrtbase)\.dll$' || true)
[ -z "$foreign" ] || stop "the program asks for libraries that Windows does not bring: $foreign"

bash scripts/windows/licences.sh | sed 's/$/\r/' >"$files/licences.txt"
sed -e "s/@VERSION@/$version/; s/\$/\r/" packaging/windows/readme.txt >"$files/READ ME.txt"
find "$files" -exec touch -d "@$SOURCE_DATE_EPOCH" {} +

mkdir -p "$out"
out=$(cd "$out" && pwd)
rm -f "$out"/phototrack-setup.exe "$out"/phototrack-windows.{zip,sha256}
(cd "$work" && TZ=UTC0 zip -9 -q -X -r "$out/phototrack-windows.zip" phototrack)
cp "$work/phototrack.ico" "$files/"
say "packing phototrack-setup.exe"
makensis -V2 -DVERSION="$version" -DFILES="$files" -DOUT="$out/phototrack-setup.exe" packaging/windows/setup.nsi
(cd "$out" && sha256sum phototrack-setup.exe phototrack-windows.zip >phototrack-windows.sha256)

limit=40000000
size=$(stat -c %s "$out/phototrack-setup.exe")
[ "$size" -le $limit ] || stop "the installer has $size bytes, more than $limit"
say "done in $((SECONDS - began)) s"
ls -l "$files/phototrack.exe" "$files/phototrack-desk.exe" "$out"/phototrack-{setup.exe,windows.zip} | awk '{print $5, $NF}'
cat "$out/phototrack-windows.sha256"

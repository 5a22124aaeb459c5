# What the scripts of the Windows build share; to be sourced.
#
#   PHOTOTRACK_WINDOWS_CACHE  where sources, built libraries and Wine's folder are kept between runs
#   JOBS                      how many compilers run at once (as many as there are processors)
cache=${PHOTOTRACK_WINDOWS_CACHE:-${XDG_CACHE_HOME:-$HOME/.cache}/phototrack-windows}
jobs=${JOBS:-$(nproc)}
target=x86_64-w64-mingw32
prefix=$cache/prefix
pins=packaging/windows/sources

say() { printf '%s %s\n' "$(date +%H:%M:%S)" "$*"; }
stop() { echo "$(basename "$0" .sh): $*" >&2; exit 1; }

# packages prints package, version, runtime package and pool folder of each source package.
packages() { grep -v -e '^#' -e '^	' "$pins"; }

# files_of PACKAGE prints sha256 and name of its files.
files_of() { awk -v want="$1" '/^#/ {next} /^\t/ {if (on) print $1, $2; next} {on = ($1 == want)}' "$pins"; }

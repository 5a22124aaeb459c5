#!/usr/bin/env bash
# Judges the package of `make deb` and tries it as a grower would: scripts/check_deb.sh [DIR] [ROOT]
#   DIR   where the newest phototrack_*.deb lies (dist)
#   ROOT  an empty or absent folder for the clean system (a temporary one that is removed afterwards)
# A minimal system of this very release is made in ROOT with debootstrap; the package is installed there with apt, and
# the sample photos are measured. Needs root, the network and about 1.5 GB.
set -euo pipefail
cd "$(dirname "$0")/.."
dir=${1:-dist}
root=${2:-}
[ "$(id -u)" -eq 0 ] || { echo "check_deb: run this as root (debootstrap and chroot need it)" >&2; exit 1; }
deb=$(ls -t "$dir"/phototrack_*.deb 2>/dev/null | head -1)
[ -n "$deb" ] || { echo "check_deb: no package in $dir: run make deb first" >&2; exit 1; }
[ -z "$root" ] || [ ! -e "$root" ] || [ -z "$(ls -A "$root")" ] || { echo "check_deb: $root is not empty" >&2; exit 1; }
bash scripts/install-deps.sh check-package

failed=0
fail() { echo "NOT OK: $*"; failed=1; }
ok() { echo "ok: $*"; }
expect() { # expect WHAT COMMAND...: the command must succeed
	local what=$1
	shift
	if "$@" >"$log" 2>&1; then ok "$what"; else fail "$what"; sed 's/^/    /' "$log"; fi
}
work=$(mktemp -d)
log=$work/log

echo "== lintian: $deb"
hide=()
if dpkg-deb -f "$deb" Maintainer | grep -q '@localhost>'; then
	echo "(built without DEBEMAIL: the maintainer's address is not judged)"
	hide=(--suppress-tags bogus-mail-host,bogus-mail-host-in-debian-changelog)
fi
expect "no errors, no warnings" lintian --allow-root --fail-on error,warning "${hide[@]}" "$deb"

echo "== a clean root"
suite=$(. /etc/os-release && echo "$VERSION_CODENAME")
mirror=$(sed -n 's/^URIs: *\(http[^ ]*\).*/\1/p; s/^deb  *\(\[[^]]*\] *\)\{0,1\}\(http[^ ]*\).*/\2/p' \
	/etc/apt/sources.list.d/{debian,ubuntu}.sources /etc/apt/sources.list 2>/dev/null | head -1) || true # not all of these files exist
if [ -z "$root" ]; then
	root=$(mktemp -d)
	made=$root
	chmod 755 "$root" # other users live in it
fi
clean_up() {
	mountpoint -q "$root/proc" && umount "$root/proc"
	rm -rf "$work"
	[ -z "${made:-}" ] || rm -rf --one-file-system "$made"
}
trap clean_up EXIT
debootstrap --variant=minbase "$suite" "$root" "${mirror:-http://deb.debian.org/debian}" >"$log" 2>&1 || { tail -20 "$log"; exit 1; }
for f in /etc/apt/sources.list /etc/apt/sources.list.d/{debian,ubuntu}.sources; do
	[ ! -e "$f" ] || install -D -m 644 "$f" "$root$f"
done
cp /etc/resolv.conf "$root/etc/resolv.conf"
mount -t proc proc "$root/proc"
# A minimal system leaves manuals out; a grower's does not.
rm -f "$root"/etc/dpkg/dpkg.cfg.d/{docker,excludes}
inside() { chroot "$root" env -i PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/root LC_ALL=C.UTF-8 DEBIAN_FRONTEND=noninteractive "$@"; }
names() { inside dpkg-query -W -f '${Package}\n' | sort; }
inside apt-get update -q >"$log" 2>&1 || { tail -20 "$log"; exit 1; }
before=$(names)
cp "$deb" "$root/tmp/"
# What a plain apt install would bring; only what is needed is then really installed, to see that it suffices.
recommended=$(inside apt-get install -s "/tmp/$(basename "$deb")" | sed -n 's/^Inst \([^ ]*\).*/\1/p')
echo "== apt install ./$(basename "$deb")"
if ! inside apt-get install -y -q --no-install-recommends "/tmp/$(basename "$deb")" >"$log" 2>&1; then
	tail -20 "$log"
	exit 1
fi
new=$(comm -13 <(echo "$before") <(names))
echo "$(echo "$new" | wc -l) packages came with it, $(du -sh --one-file-system "$root" | cut -f1) in all"
tools='(-dev$|-dev:|^(gcc|g\+\+|cpp|clang|make|binutils|golang|cmake|pkg-config|pkgconf)(-|$))'
unwanted() { grep -E "$tools" | grep -vE '^gcc-[0-9]+-base$' || true; }
none() { [ -z "$1" ] || { echo "$1"; return 1; }; }
expect "no compiler and no development package is among them" none "$(echo "$new" | unwanted)"
expect "nor among the $(echo "$recommended" | wc -l) that come with what is recommended" none "$(echo "$recommended" | unwanted)"

# first_start clicks on the menu: a collection is made, the page on how to begin is served, the desk ends when it is told to.
first_start() {
	printf '#!/bin/sh\necho "$1" > /tmp/shown\n' > "$root/usr/local/bin/xdg-open"
	chmod 755 "$root/usr/local/bin/xdg-open"
	user 'echo $$ > desk.pid; PATH=/usr/local/bin:/usr/bin:/bin exec phototrack desk --from-menu' &
	for _ in $(seq 100); do [ ! -s "$root/tmp/shown" ] || break; sleep 0.1; done
	curl -fsS "$(cat "$root/tmp/shown")" >"$work/page" || true
	kill "$(cat "$root/home/grower/desk.pid")"
	wait $! || true
	grep -q /home/grower/Phototrack "$work/page" && [ -e "$root/home/grower/Phototrack/plants.csv" ]
}

echo "== at work, as a user who may write only at home"
inside apt-get install -y -q --no-install-recommends man-db bash bash-completion desktop-file-utils >"$log" 2>&1
inside useradd -m grower
user() { inside setpriv --reuid=grower --regid=grower --clear-groups env HOME=/home/grower sh -c "cd && $1"; }
version=$(dpkg-deb -f "$deb" Version)
expect "--version is the package's" user "phototrack --version | grep -qF '${version%-*}'"
expect "init" user "phototrack init plants"
# bench COLLECTION: the samples' lists, three of their photos, and two of a plant with lines on its parts
bench() {
	for f in events watch cards; do install -m 644 samples/$f.csv "$1/$f.csv"; done
	for f in parts counts; do install -m 644 samples/parts/$f.csv "$1/$f.csv"; done
	{ cat samples/plants.csv; tail -n +2 samples/parts/plants.csv; } >"$1/plants.csv"
	for f in 012_2026-06_L 012_2026-07_L 031_2026-07_R; do install -m 644 samples/photos/$f.jpg "$1/inbox/"; done
	for f in 052_2026-05_L 052_2026-07_L; do install -m 644 samples/parts/photos/$f.jpg "$1/inbox/"; done
	install -m 644 samples/parts/marks/*052_2026-0[57]_L.jpg.json "$1/marks/"
}
bench "$root/home/grower/plants"
inside chown -R grower: /home/grower
user "phototrack run --collection plants" | sed 's/^/    /' || true
expect "five photos are measured" user "phototrack export --out numbers --collection plants && [ \$(grep -E ',(accepted|flagged),' numbers/measurements.csv | cut -d, -f1 | sort -u | wc -l) -eq 5 ]"
expect "a spike and a storage organ are measured" user "[ \$(grep -cE ',part_length,spike 1,|,part_width,bulb 2,' numbers/measurements.csv) -eq 4 ]"
expect "report" user "phototrack report --month 2026-07 --collection plants && [ -s plants/reports/2026-07/index.html ]"
expect "card" user "phototrack card --tags 1-4 && [ -s scale-card-a4.pdf ]"
expect "doctor" user "phototrack doctor --full --collection plants"
# The same program on the machine that built it gives the same numbers, to the byte.
dpkg-deb -x "$deb" "$work/here"
here=$work/here/usr/bin/phototrack
"$here" init "$work/plants" >"$log"
bench "$work/plants"
"$here" run --collection "$work/plants" >"$log" 2>&1 || true
"$here" export --out "$work/numbers" --collection "$work/plants" >"$log" 2>&1
expect "the numbers are those of this machine" cmp "$work/numbers/measurements.csv" "$root/home/grower/numbers/measurements.csv"
expect "the first start from the menu" first_start

echo "== man, completion, menu"
expect "man phototrack" user "man phototrack | grep -q 'uncertainty'"
expect "man phototrack-desk" user "man phototrack-desk | grep -q -- --from-menu"
expect "bash completes commands" user "bash -c '. /usr/share/bash-completion/bash_completion; _completion_loader phototrack; COMP_WORDS=(phototrack re); COMP_CWORD=1; COMP_LINE=\"phototrack re\"; COMP_POINT=13; COMP_TYPE=63; __start_phototrack; printf %s\\\\n \"\${COMPREPLY[@]}\"' | grep -q restore"
expect "the menu's entry is valid" inside desktop-file-validate /usr/share/applications/phototrack.desktop
expect "the checksums of the files hold" inside dpkg --verify phototrack
expect "it goes away again" inside apt-get purge -y -q phototrack
expect "and leaves nothing behind" sh -c "! find '$root/usr' '$root/etc' '$root/var/lib/dpkg/info' -name '*phototrack*' | grep ."

[ $failed -eq 0 ] && echo "The package is sound." || echo "The package has faults."
exit $failed

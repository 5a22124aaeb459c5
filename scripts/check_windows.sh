#!/usr/bin/env bash
# Tries what `make windows` has built under Wine, as a grower would: scripts/check_windows.sh [DIR]
#   DIR   where phototrack-setup.exe and phototrack-windows.zip lie (dist); a picture of the desk is left there
# The numbers are set against those of this machine's own build, bin/phototrack. Nobody's Wine folder is touched: one is made
# for the trial and removed after it.
set -euo pipefail
cd "$(dirname "$0")/.."
. scripts/windows/common.sh
dir=$(cd "${1:-dist}" && pwd)
setup=$dir/phototrack-setup.exe
here=$PWD/bin/phototrack
[ -s "$setup" ] || stop "no $setup: run make windows first"
[ -x "$here" ] || stop "no bin/phototrack: run make build first"
bash scripts/windows/tools.sh build check

failed=0
fail() { echo "NOT OK: $*"; failed=1; }
ok() { echo "ok: $*"; }
expect() { # expect WHAT COMMAND...: the command must succeed
	local what=$1
	shift
	if "$@" >"$log" 2>&1; then ok "$what"; else fail "$what"; tail -n 30 "$log" | sed 's/^/    /'; fi
}
began=$SECONDS
work=$(mktemp -d)
log=$work/log
export WINEPREFIX=$work/wine WINEARCH=win64 WINEDEBUG=${WINEDEBUG:--all} WINEDLLOVERRIDES='mscoree,mshtml=d'
unset DISPLAY WAYLAND_DISPLAY PHOTOTRACK_COLLECTION
wine=$(command -v wine || command -v wine64)

# ours prints the ids of this trial's processes whose command holds all the words.
ours() {
	local pid words
	for pid in $(pgrep -f 'phototrack.*exe' || true); do
		tr '\0' '\n' <"/proc/$pid/environ" 2>/dev/null | grep -qxF "WINEPREFIX=$WINEPREFIX" || continue
		words=$(tr '\0' ' ' <"/proc/$pid/cmdline" 2>/dev/null || true)
		[[ $words == *phototrack.exe* && $words == *"$1"* ]] && echo "$pid"
	done
	return 0
}
clean_up() {
	local pid
	for pid in $(ours ""); do kill -9 "$pid" 2>/dev/null || true; done
	wineserver -k 2>/dev/null || WINEPREFIX=$WINEPREFIX /usr/lib/wine/wineserver64 -k 2>/dev/null || true
	rm -rf "$work"
}
trap clean_up EXIT

say "a Windows folder: $("$wine" --version)"
"$wine" wineboot --init >"$log" 2>&1 || { cat "$log"; exit 1; }
drive=$WINEPREFIX/drive_c
# Debian 12's Wine lacks a library that every Windows has and Go's programs ask for.
if [ ! -e "$drive/windows/system32/bcryptprimitives.dll" ]; then
	echo "(Wine has no bcryptprimitives.dll: one of ours stands in for it)"
	$target-gcc-posix -O2 -shared -static -s -o "$drive/windows/system32/bcryptprimitives.dll" scripts/windows/bcryptprimitives.c -ladvapi32
fi
$target-gcc-posix -O2 -municode -static -s -o "$work/hold.exe" scripts/windows/hold.c
# The browser only notes what it is to show.
mkdir "$work/tools"
printf '#!/bin/sh\necho "$1" >>"%s"\n' "$work/shown" >"$work/tools/xdg-open"
chmod 755 "$work/tools/xdg-open"
export PATH=$work/tools:$PATH

echo "== install"
profile=$drive/users/$(id -un)
program=$profile/AppData/Local/Programs/phototrack
menu=$profile/AppData/Roaming/Microsoft/Windows/Start\ Menu/Programs/phototrack
expect "the silent installer" "$wine" "$setup" /S
for file in phototrack.exe phototrack-desk.exe licences.txt "READ ME.txt" uninstall.exe; do expect "$file is there" test -s "$program/$file"; done
expect "the Start menu's entry is there" test -s "$menu/phototrack.lnk"
pt() { "$wine" "$program/phototrack.exe" "$@"; }
expect "--version is this checkout's" sh -c '"$1" "$2" --version | grep -qF "$3"' - "$wine" "$program/phototrack.exe" "$(bash scripts/version.sh)"
unzip -q -o "$dir/phototrack-windows.zip" -d "$work/zip"
expect "the zip holds the same program" cmp "$work/zip/phototrack/phototrack.exe" "$program/phototrack.exe"

# The files' own tests, on what Windows does with open files, locks and long paths.
say "the tests of package fsx for Windows"
expect "they compile" env GOOS=windows CGO_ENABLED=0 go test -c -o "$work/fsx.test.exe" ./internal/fsx
expect "open files, locks, long paths" "$wine" "$work/fsx.test.exe" -test.run 'Spreadsheet.*Said|Virus|LongPath|Forbids|TheSystems|AgainAndAgain'

echo "== at work"
# bench COLLECTION: the samples' lists and photos
bench() {
	local f
	for f in plants events watch cards; do cp "samples/$f.csv" "$1/$f.csv"; done
	cp samples/photos/*.jpg "$1/inbox/"
}
# some COLLECTION: the lists and three photos
some() {
	local f
	for f in plants events watch cards; do cp "samples/$f.csv" "$1/$f.csv"; done
	for f in 012_2026-06_L 012_2026-07_L 031_2026-07_R; do cp "samples/photos/$f.jpg" "$1/inbox/"; done
}
attention() { local code=0; "$@" || code=$?; [ $code -le 1 ]; } # photos that need attention are no fault of the program
measured() { grep -c ',accepted,' "$1/measurements.csv" >/dev/null && cut -d, -f1 "$1/measurements.csv" | sort -u | wc -l; }
cd_to() { (cd "$1" && shift && "$@"); }
bench_dir=$profile/plants
expect "init" cd_to "$profile" pt init plants
expect "card" cd_to "$profile" pt card --tags 1-4 --out card
expect "the card is the same as this machine's" sh -c '"$1" card --tags 1-4 --out "$2/card" >/dev/null
	for d in "$2" "$3"; do sed "s/(D:[0-9]*)/(when)/g" "$d/card/scale-card-a4.pdf" >"$d/card/undated.pdf"; done
	cmp "$2/card/undated.pdf" "$3/card/undated.pdf"' - "$here" "$work" "$profile"
bench "$bench_dir"
say "measuring the sample photos"
time expect "run" attention pt run --collection 'C:\users\'"$(id -un)"'\plants'
# On a busy machine a photo may take longer than is let; the next run tries it again.
expect "a second run" attention pt run --collection 'C:\users\'"$(id -un)"'\plants'
expect "export" pt export --out "C:\\users\\$(id -un)\\numbers" --collection "C:\\users\\$(id -un)\\plants"
expect "report" test -s "$bench_dir/reports/2026-07/index.html"
expect "plate" pt plate 12 --collection "C:\\users\\$(id -un)\\plants" --out "C:\\users\\$(id -un)\\plate"

echo "== the numbers, against this machine's build"
"$here" init "$work/plants" >"$log"
bench "$work/plants"
"$here" run --collection "$work/plants" >"$log" 2>&1 || true
"$here" run --collection "$work/plants" >"$log" 2>&1 || true
"$here" export --out "$work/numbers" --collection "$work/plants" >"$log" 2>&1
"$here" plate 12 --collection "$work/plants" --out "$work/plate" >"$log" 2>&1
(unset GOOS; go run ./scripts/comparestores "$work/plants/phototrack.db" "$bench_dir/phototrack.db") || fail "the numbers"
for table in "$work"/numbers/*.csv; do
	name=$(basename "$table")
	if cmp -s "$table" "$profile/numbers/$name"; then echo "    $name is the same to the byte"; else echo "    $name differs in $(diff "$table" "$profile/numbers/$name" | grep -c '^>') of $(wc -l <"$table") lines"; fi
done
for plate in "$work"/plate/*; do
	name=$(basename "$plate")
	if cmp -s "$plate" "$profile/plate/$name"; then echo "    plate $name is the same to the byte"; else echo "    plate $name differs"; fi
done

echo "== killed"
kill_dir=$profile/killed
ten_photos() { # a new collection of ten photos
	rm -rf "$kill_dir"
	pt init "C:\\users\\$(id -un)\\killed" >"$log" 2>&1
	bench "$kill_dir"
	rm -f "$kill_dir"/inbox/0{17,23,44,45}_*.jpg
}
ten_photos
run_in_background() { (attention pt run --no-report --workers 2 --collection "C:\\users\\$(id -un)\\killed" >"$work/run.log" 2>&1) & running=$!; }
wait_for_workers() { for _ in $(seq 300); do [ "$(ours " worker " | wc -l)" -lt 2 ] || return 0; sleep 0.1; done; return 1; }
run_in_background
expect "two workers come up" wait_for_workers
sleep 3
victim=$(ours " worker ")
kill -9 "${victim%%$'\n'*}" || true
expect "a run goes on when a worker is killed" wait $running
all_photos=$(find "$kill_dir/inbox" -name '*.jpg' | wc -l)
numbers_of_killed() { rm -rf "$profile/killed-numbers"; pt export --out "C:\\users\\$(id -un)\\killed-numbers" --collection "C:\\users\\$(id -un)\\killed" && cmp "$profile/killed-numbers/measurements.csv" <(grep -E '^(photo,|012_|031_)' "$profile/numbers/measurements.csv"); }
expect "and all $all_photos photos have the same numbers" numbers_of_killed
ten_photos
run_in_background
expect "two workers come up" wait_for_workers
sleep 3
for pid in $(ours " run "); do kill -9 "$pid" || true; done
wait $running || true
nobody_left() { for _ in $(seq 50); do [ -n "$(ours " worker ")" ] || return 0; sleep 0.1; done; ours " worker "; return 1; }
expect "workers do not outlive a program that is killed" nobody_left
run_in_background
expect "the next run goes on" wait $running
expect "and all $all_photos photos have the same numbers" numbers_of_killed
expect "doctor finds nothing wrong" pt doctor --full --collection "C:\\users\\$(id -un)\\killed"

echo "== odd places"
deep="Gewächshaus Süd mit sehr langem Namen/Bänke und Tische, dritte Reihe von links/$(printf 'ein weiterer Ordner %.0s' 1 2 3 4 5)x/$(printf 'noch einer %.0s' $(seq 9))ende/Pflanzen"
mkdir -p "$profile/$(dirname "$deep")"
windows_path() { printf 'C:\\users\\%s\\%s' "$(id -un)" "${1//\//\\}"; }
deep_windows=$(windows_path "$deep")
echo "    (a path of $(printf %s "$deep_windows" | wc -m) characters)"
expect "init with umlauts, spaces and over 260 characters" pt init "$deep_windows"
some "$profile/$deep"
expect "run there" attention pt run --collection "$deep_windows"
expect "its report" test -s "$profile/$deep/reports/2026-07/index.html"
mkdir -p "$WINEPREFIX/dosdevices/unc/nas" "$work/share"
ln -s "$work/share" "$WINEPREFIX/dosdevices/unc/nas/bench"
expect "init on a network folder" pt init '\\nas\bench\plants'
some "$work/share/plants"
expect "run there" attention pt run --collection '\\nas\bench\plants'
expect "its report" test -s "$work/share/plants/reports/2026-07/index.html"
expect "its store keeps no write-ahead log" test ! -e "$work/share/plants/phototrack.db-wal"

echo "== a file that a spreadsheet holds"
held_run() {
	local before code=0
	before=$(sha256sum "$bench_dir/events.csv")
	"$wine" "$work/hold.exe" "C:\\users\\$(id -un)\\plants\\events.csv" 60 >"$work/held" &
	local holder=$!
	for _ in $(seq 100); do [ ! -s "$work/held" ] || break; sleep 0.1; done
	pt event 2026-07-12 12 repot --collection "C:\\users\\$(id -un)\\plants" >"$work/said" 2>&1 || code=$?
	kill $holder 2>/dev/null || true
	cat "$work/said"
	[ $code -eq 2 ] && grep -q 'held open by another program' "$work/said" && [ "$before" = "$(sha256sum "$bench_dir/events.csv")" ]
}
expect "an event is refused in plain words, the file is as it was" held_run
sed 's/^/    /' "$work/said" 2>/dev/null || true
sleep 1

echo "== the desk"
port=$((20000 + RANDOM % 20000))
pt desk --no-browser --port $port --collection "C:\\users\\$(id -un)\\plants" >"$work/address" 2>&1 &
for _ in $(seq 200); do grep -q http "$work/address" && break; sleep 0.1; done
address=$(sed -n 's/.*\(http:[^[:space:]]*\).*/\1/p;T;q' "$work/address")
base=http://127.0.0.1:$port
web() { curl -fsS --max-time 120 -b "$work/jar" -c "$work/jar" "$@"; }
expect "its first page" sh -c 'curl -fsS -L -c "$1" "$2" | grep -q "Clivia"' - "$work/jar" "$address"
# What a page's forms give back.
token=$(web "$base/add" | sed -n 's/.*data-token="\([^"]*\)".*/\1/p' || true)
expect "a stylesheet, as one" sh -c 'curl -fsS -b "$1" -D - -o /dev/null "$2/asset/desk.css" | grep -qi "content-type: text/css"' - "$work/jar" "$base"
upload() { web -H "X-Desk-Token: $token" -H 'Accept: application/json' -F "photos=@$1;filename=\"$2\"" "$base/upload"; }
for name in "Grünes Blatt, März.jpg" con.jpg; do # the latter is a name that Windows forbids
	{ cat samples/photos/023_2026-07_L.jpg && echo "$name"; } >"$work/upload.jpg" # not known yet
	expect "an upload of $name" upload "$work/upload.jpg" "$name"
done
expect "both lie in the inbox" sh -c 'test -s "$1/Grünes Blatt, März.jpg" && test -s "$1/_con.jpg"' - "$bench_dir/inbox"
edit() { web -o /dev/null -d "token=$token" -d date=2026-07-20 -d plants=12 -d event=repot -d 'note=larger pot' "$base/events" && grep -q 'larger pot' "$bench_dir/events.csv"; }
expect "an edit" edit
if command -v chromium >/dev/null; then
	chromium --headless --no-sandbox --disable-gpu --hide-scrollbars --window-size=1280,1600 --virtual-time-budget=8000 \
		--screenshot="$dir/windows-desk.png" "$address" >"$log" 2>&1 || true
	expect "a picture of it: $dir/windows-desk.png" test -s "$dir/windows-desk.png"
fi
for pid in $(ours " desk "); do kill -9 "$pid" || true; done

echo "== from the Start menu, and removed while it is open"
: >"$work/shown"
"$wine" "$program/phototrack-desk.exe" >"$log" 2>&1 || true
shown() { for _ in $(seq 300); do [ ! -s "$work/shown" ] || return 0; sleep 0.1; done; return 1; }
expect "the browser is shown a page" shown
expect "on how to begin" sh -c 'curl -fsS -L -c "$1" "$(tail -1 "$2")" | grep -q Phototrack' - "$work/jar2" "$work/shown"
expect "a collection was made in the user's folder" test -s "$profile/Phototrack/plants.csv"
before=$(find "$profile/Phototrack" "$bench_dir" -type f ! -name '*.db-shm' ! -name '*.db-wal' ! -name phototrack.lock -exec sha256sum {} + | sort | sha256sum)
expect "the silent uninstaller" "$wine" "$program/uninstall.exe" /S
# It goes on as a copy of itself, which can remove it.
gone() { for _ in $(seq 600); do [ -e "$1" ] || return 0; sleep 0.1; done; ls -l "$1"; return 1; }
expect "the program is gone" gone "$program"
expect "the open desk has ended" sh -c '[ -z "$1" ]' - "$(ours ' desk ')"
expect "the Start menu's entries are gone" gone "$menu"
expect "collections are as they were" test "$before" = "$(find "$profile/Phototrack" "$bench_dir" -type f ! -name '*.db-shm' ! -name '*.db-wal' ! -name phototrack.lock -exec sha256sum {} + | sort | sha256sum)"

say "$((SECONDS - began)) s"
[ $failed -eq 0 ] && echo "The program for Windows is sound." || echo "The program for Windows has faults."
exit $failed

# Two targets matter: `make demo` and `make test`. Both install what is missing first.
export PATH := $(PATH):/usr/local/go/bin
GO ?= go
DEMO ?= demo

.PHONY: demo test slow build deps check vet-windows bench side-by-side torture kills flips fuzz score simulate deb check-deb windows check-windows clean

demo: build
	@bash scripts/demo.sh "$(DEMO)"

build: deps
	$(GO) build -o bin/phototrack ./cmd/phototrack

deps:
	@bash scripts/install-deps.sh

# All is vetted first, with more checks than go test has of its own.
test: deps vet-windows
	$(GO) vet ./...
	$(GO) test -vet=off ./...

# The tests that take longest: kills before a sample of the system calls and at random moments, a report of a hundred plants, photos
# made worse and smaller, flipped bits, ten-bit HEIC. CI runs them after make test.
slow: deps
	PHOTOTRACK_SLOW=1 $(GO) test -count=1 -timeout 30m -run 'KilledAt|BeforeTheLock|FullGarden|Stability|NoFlippedBit|GatesHold|TenBitHEIC|NeighboursSetBehind|PlantsOfOtherColours|OtherWalls|DrawnScenes|OfComposites' ./cmd/phototrack ./internal/report ./internal/measure/leaf ./internal/pipeline

# Whether the program still compiles for Windows, without a C compiler for it.
vet-windows:
	$(GO) run ./scripts/crosscheck -goos windows

# What keeps the house in order, for a contributor before a commit and for CI: format, tidy go.mod, vet, linters, unnamed numbers, dead
# code, race detector, ten seconds of each fuzz target, our C under sanitizers. scripts/check.sh STEP runs one of them.
check: deps
	@bash scripts/check.sh

bench: deps
	$(GO) test -run '^$$' -bench . -benchmem ./...

# The whole program on photos of full size beside decoding alone and the Python baseline; memory; two workers; many photos.
side-by-side: build
	@bash scripts/bench_side_by_side.sh

# Long tests of robustness: over 600 damaged files, 300 with one flipped bit, kills before every system call of edit, restore, backup, merge and run that
# changes a file, 200 kills at random moments of runs of 60 photos, another program's save at every such call, full disks. Half an
# hour or so on two processors.
torture: deps
	PHOTOTRACK_TORTURE=1 $(GO) test -count=1 -timeout 3h -v -run 'FaultCorpus|FlippedBit|KilledAt|EveryMoment|BeforeTheLock|TwoRuns|FullDisk|Parts' ./cmd/phototrack ./internal/collection ./internal/pipeline

# Two parts of that alone: the kills (most of the time), and the flipped bits (minutes).
kills: deps
	PHOTOTRACK_TORTURE=1 $(GO) test -count=1 -timeout 3h -v -run KilledAt ./cmd/phototrack ./internal/collection

flips: deps
	PHOTOTRACK_TORTURE=1 $(GO) test -count=1 -timeout 1h -v -run FlippedBit ./internal/pipeline

# Every fuzz target for ten minutes.
fuzz: deps
	@bash scripts/fuzz.sh 10m

# Renders and measures a bank of photos of plants that do not change (half an hour or more on one processor), then counts
# false verdicts, false discoveries, power and coverage on it. A run that was cut off goes on where it stopped.
simulate: deps
	PHOTOTRACK_SIMULATE=1 $(GO) test -count=1 -timeout 6h -v -run MeasureTheBank ./internal/scenebank
	$(GO) test -count=1 -v ./internal/scenebank

# Accuracy against the scenes with known truth beside the checkout, with the scorer that lies there.
score: build
	@bash scripts/score.sh

# A package for the Debian or Ubuntu release this runs on, in dist/.
deb:
	@bash scripts/build_deb.sh dist

# Judges that package with lintian, installs it in a clean root and measures photos there. Needs root and the network.
check-deb:
	@bash scripts/check_deb.sh dist

# The program for Windows, 64 bit: an installer and a zip in dist/. The libraries are built once (half an hour of two processors or
# so) into a cache outside the tree.
windows:
	@bash scripts/build_windows.sh dist

# Installs that under Wine and tries it there; its numbers are set against this machine's build.
check-windows: build
	@bash scripts/check_windows.sh dist

clean:
	rm -rf bin dist "$(DEMO)"

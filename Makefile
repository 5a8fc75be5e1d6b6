# What can be run here. `make test` needs Go alone; the rest says what it needs.
.PHONY: build release test race browser stations crosscheck fuzz bench coverage faults wine

VERSION ?= $(shell git describe --tags --always --dirty 2>/dev/null || echo unknown)

build:
	CGO_ENABLED=0 go build -trimpath -ldflags '-s -w -X main.version=$(VERSION)' -o spile ./cmd/spile

# The engine of published pages, which the binary carries: after its sources have changed; needs zopfli.
.PHONY: engine
engine:
	go run scripts/engine.go

# Minutes, and Go alone: how the code is written, and every test but those below.
test:
	bash scripts/test.sh

# What runs at once, with the race detector; needs gcc.
race:
	bash scripts/race.sh

# The workbench in a browser; needs Chromium.
browser:
	bash scripts/browser.sh

# The workbook over PostgreSQL; needs PostgreSQL.
stations:
	bash scripts/stations.sh

# The R scripts run live, and the Go results are held against what they write.
crosscheck:
	bash scripts/crosscheck.sh

# Every fuzz target for a while: FUZZTIME=30s make fuzz
fuzz:
	bash scripts/fuzz.sh

# Each figure of speed and memory, beside R in the same run where R has the job.
bench:
	bash scripts/bench.sh

# The share of simulated tables whose 95 % intervals hold the truth: hours. COVERAGE=200 takes so many tables a world.
COVERAGE ?= 1
coverage:
	SPILE_COVERAGE=$(COVERAGE) go test ./internal/engine/pool ./internal/engine/power -run Coverage -count=1 -v -timeout 12h

# What must be survived, at length: a workbook killed 200 times while it writes, a full disk at each write, two who write
# at once, damage of every sort; hostile spreadsheets and large files; requests that are not ours and uploads without end;
# a day at the trees in a browser; loggers of 10⁸ rows; two releases of the same bytes; the binary for Windows; whatever
# fuzzing finds.
faults:
	bash scripts/faults.sh

# The binary for Windows under Wine; installs it where it may.
wine:
	bash scripts/wine.sh

# What is given to others, for four platforms, into dist/; needs Go, git and tar.
release:
	bash scripts/release.sh

#!/usr/bin/env bash
# Every test. Needs Go; installs gcc (race detector) and Chromium (browser tests) where it may, else says loudly
# what was not run. With SPILE_STRICT=1 anything not run is a failure.
set -u
cd "$(dirname "$0")/.."
. scripts/need.sh
failed=()
missed=()

step() { # step NAME COMMAND...
	echo "== $1"
	"${@:2}" || failed+=("$1")
}

formatted() {
	local files
	files=$(gofmt -l $(git ls-files --cached --others --exclude-standard '*.go'))
	[ -z "$files" ] || { echo "not formatted: $files"; return 1; }
}

# Properties are drawn from one seed, so that two runs of one commit say the same; `make fuzz` draws them anew.
rapid=$(bash scripts/rapid.sh)
tests() { # tests FLAGS PACKAGES...
	local status=0 properties others
	properties=$(printf '%s\n' "${@:2}" | grep -xF "$rapid")
	others=$(printf '%s\n' "${@:2}" | grep -vxF "$rapid")
	[ -z "$others" ] || go test -count=1 $1 $others || status=1
	[ -z "$properties" ] || go test -count=1 $1 $properties -rapid.seed=1 || status=1
	return $status
}

# The browser tests skip themselves where there is no Chromium.
command -v chromium-browser google-chrome >/dev/null 2>&1 || need chromium chromium || missed+=("the browser tests: no Chromium")
# So do those that read our PDFs with the eyes of another program.
need pdftotext poppler-utils || missed+=("the tests of PDFs: no poppler")

step "formatting" formatted
step "vet" go vet ./...
step "staticcheck" go tool staticcheck ./...
step "tests" tests "" $(go list ./...)
# The packages that start goroutines, in themselves or in their tests, once more with the race detector, which needs a C compiler.
if need gcc gcc libc6-dev; then
	concurrent=$(go list $(grep -lrE '\bgo func|\.Go\(func' --include='*.go' . | xargs -n1 dirname | sort -u))
	CGO_ENABLED=1 step "race detector" tests "-race -short" $concurrent
else
	missed+=("the race detector: no gcc")
fi

echo
if [ ${#missed[@]} -gt 0 ]; then
	echo "############################## NOT RUN ##############################"
	printf '# %s\n' "${missed[@]}"
	echo "#####################################################################"
	[ "${SPILE_STRICT:-}" = 1 ] && failed+=("something was not run")
fi
if [ ${#failed[@]} -gt 0 ]; then
	printf 'FAILED: %s\n' "${failed[@]}"
	exit 1
fi
echo "all passed"

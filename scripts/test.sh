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

# The browser tests skip themselves where there is no Chromium.
command -v chromium-browser google-chrome >/dev/null 2>&1 || need chromium chromium || missed+=("the browser tests: no Chromium")
# So do those that read our PDFs with the eyes of another program.
need pdftotext poppler-utils || missed+=("the tests of PDFs: no poppler")

step "formatting" formatted
step "vet" go vet ./...
step "staticcheck" go tool staticcheck ./...
# Properties are drawn from one seed, so that two runs of one commit say the same; `make fuzz` draws them anew.
rapid=$(bash scripts/rapid.sh)
step "tests" go test -count=1 $(go list ./... | grep -vxF "$rapid")
step "properties" go test -count=1 $rapid -rapid.seed=1
# The packages that start goroutines, in themselves or in their tests, once more with the race detector, which needs a C compiler.
if need gcc gcc libc6-dev; then
	concurrent=$(grep -lrE '\bgo func|\.Go\(func' --include='*.go' . | xargs -n1 dirname | sort -u)
	step "race detector" env CGO_ENABLED=1 go test -race -short -count=1 $concurrent
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

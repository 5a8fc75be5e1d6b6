#!/usr/bin/env bash
# The code as it is written, and every test that needs Go alone. What asks for a program that is not here (poppler, the
# shells) is installed where it may be, else said to be not run; with SPILE_STRICT=1 that is a failure. The race
# detector, browsers and R have runs of their own: make race browser crosscheck.
set -u
cd "$(dirname "$0")/.."
. scripts/need.sh
. scripts/tests.sh
failed=()

step() { # step NAME COMMAND...
	echo "== $1"
	"${@:2}" || failed+=("$1")
}

formatted() {
	local files
	files=$(gofmt -l $(git ls-files --cached --others --exclude-standard '*.go'))
	[ -z "$files" ] || { echo "not formatted: $files"; return 1; }
}

# short asks that a screen shows every line whole.
short() {
	go run scripts/long.go -- $(git ls-files '*.go')
}

need pdftotext poppler-utils # which reads our PDFs with the eyes of another program
need zbarimg zbar-tools # which reads our QR codes as a phone does
need zsh zsh
need fish fish

# It takes a processor of its own for a minute, for the database alone, so that all else goes on beside it.
said=$(mktemp)
go tool staticcheck ./... >"$said" 2>&1 &
static=$!
checked() {
	wait $static
	local status=$?
	cat "$said"
	rm "$said"
	return $status
}

step "formatting" formatted
step "short lines" short
step "requirements" go mod tidy -diff
step "vet" go vet ./...
step "tests" tests "" $(go list ./...)
step "staticcheck" checked

echo
if [ ${#failed[@]} -gt 0 ]; then
	printf 'FAILED: %s\n' "${failed[@]}"
	exit 1
fi
echo "all passed"

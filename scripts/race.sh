#!/usr/bin/env bash
# The packages that start goroutines, in themselves or in their tests, with the race detector, which needs a C compiler.
# Tests that say nothing more of races by being long are left out (-short).
set -u
cd "$(dirname "$0")/.."
. scripts/need.sh
. scripts/tests.sh
need gcc gcc libc6-dev || { echo "NOT RUN: the race detector needs gcc"; exit 1; }
concurrent=$(go list $(grep -lrE '\bgo func|\.Go\(func' --include='*.go' cmd internal | xargs -n1 dirname | sort -u | sed 's,^,./,'))
LONGEST=40m CGO_ENABLED=1 tests "-race -short" $concurrent

#!/usr/bin/env bash
# Runs every fuzz target of every package for FUZZTIME (20s), and every property on five times as many cases as a test draws.
set -u
cd "$(dirname "$0")/.."
status=0
for package in $(go list ./...); do
	for target in $(go test -list '^Fuzz' "$package" | grep '^Fuzz'); do
		echo "== $package $target"
		go test -run '^$' -fuzz "^$target\$" -fuzztime "${FUZZTIME:-20s}" -fuzzminimizetime 1x "$package" || status=1
	done
done
echo "== properties"
go test -count=1 $(bash scripts/rapid.sh) -rapid.checks=500 -timeout 60m || status=1
exit $status

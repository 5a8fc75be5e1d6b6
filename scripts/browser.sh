#!/usr/bin/env bash
# The workbench in a browser. Installs Chromium where it may.
set -u
cd "$(dirname "$0")/.."
. scripts/need.sh
. scripts/tests.sh
command -v chromium-browser google-chrome >/dev/null 2>&1 || need chromium chromium ||
	{ echo "NOT RUN: the workbench needs Chromium"; exit 1; }
need npm npm # which gives axe-core for the time of a test
need node nodejs # which runs the engine of published pages
LONGEST=30m SPILE_BROWSER=1 tests "" ./internal/view/web ./internal/view/publish ./internal/view/own

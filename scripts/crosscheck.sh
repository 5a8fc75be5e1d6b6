#!/usr/bin/env bash
# Runs the R scripts of internal/crosscheck/ and holds our results against what they write; has the worksheet of the money
# worked out again by LibreOffice. Installs both from Debian where it may.
set -eu
cd "$(dirname "$0")/.."
. scripts/need.sh
packages="r-base-core r-cran-metafor r-cran-metadat r-cran-lpsolve r-cran-lme4 r-cran-lmertest r-cran-pbkrtest r-cran-multcomp r-cran-mvtnorm r-cran-jsonlite
	r-bioc-limma r-cran-clubsandwich jags r-cran-rjags"
if ! need Rscript $packages || ! Rscript -e 'for (p in c("metafor","metadat","lme4","lmerTest","pbkrtest","multcomp","mvtnorm","jsonlite","limma","clubSandwich","rjags","lpSolve")) loadNamespace(p)' >/dev/null 2>&1; then
	[ "$(id -u)" = 0 ] && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $packages >/dev/null 2>&1 || true
fi
if ! command -v Rscript >/dev/null 2>&1; then
	echo "NOT RUN: the crosscheck needs R with $packages"
	exit 1
fi
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
Rscript internal/crosscheck/all.R "$dir"
SPILE_CROSSCHECK_DIR=$dir go test ./internal/crosscheck -count=1 -v
SPILE_CROSSCHECK_DIR=$dir go test ./internal/engine/plan -run MixedInteger -count=1 -v
if ! need soffice libreoffice-calc-nogui; then
	echo "NOT RUN: the worksheet in another program needs LibreOffice"
	exit 1
fi
SPILE_CROSSCHECK_DIR=$dir go test ./internal/view/worksheet -run TestOffice -count=1 -v

#!/usr/bin/env bash
# Every speed and memory figure; R beside it in the same run where R has the job.
set -u
cd "$(dirname "$0")/.."
. scripts/need.sh
SPILE_BROWSER=1 go test -run '^$' -bench . -benchmem -timeout 60m ./... | grep -v -e '^ok ' -e '^?' -e '^PASS'
if need Rscript r-base-core r-cran-metafor r-cran-lme4 r-cran-lmertest r-cran-pbkrtest r-cran-jsonlite; then
	Rscript internal/crosscheck/bench.R
else
	echo "NOT RUN: R is not here, so nothing stands beside our figures"
fi
make -s build && ls -l spile | awk '{printf "binary %.1f MB\n", $5/1e6}'
dir=$(mktemp -d)
start=$(date +%s.%N)
./spile demo --dir "$dir" >/dev/null
end=$(date +%s.%N)
echo "spile demo $(echo "$end $start" | awk '{printf "%.2f", $1-$2}') s"
rm -rf "$dir"

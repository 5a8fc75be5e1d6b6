#!/usr/bin/env bash
# Does this tree answer as another commit did? Builds both, asks each the same of the same files (the demo and every table of
# testdata, as they were at that commit), and prints what differs, key by key. Needs Go and git.
#
#     scripts/same.sh [COMMIT]      default: the commit before the tree was laid out as it is
set -eu
cd "$(dirname "$0")/.."
before=${1:-a0b09ae}
tmp=$(mktemp -d)
trap 'git worktree remove --force "$tmp/tree" 2>/dev/null; rm -rf "$tmp"' EXIT
git worktree add -q --detach "$tmp/tree" "$before"
(cd "$tmp/tree" && go build -o "$tmp/old" ./cmd/spile)
go build -o "$tmp/new" ./cmd/spile
go build -o "$tmp/flat" scripts/flat.go

mkdir "$tmp/files"
(cd "$tmp/files" && "$tmp/old" demo >/dev/null 2>&1 && rm spile-demo/*.png spile-demo/*.svg spile-demo/*.pdf spile-demo/*.html)
demo=spile-demo
{ # an invented trial of two seasons in four blocks
	echo unit,block,season,practice,taps,volume_l,brix
	i=0
	for season in 2023 2024; do
		for block in 1 2 3 4; do
			for practice in unsanitized new-spout check-valve; do
				i=$((i + 1))
				gain=$((${#practice} * 37 + block * 61 + i * i * 7919 % 173)) # of no pattern that means anything
				echo "$block$practice,$block,$season,$practice,20,$((1200 + gain)),$((18 + i % 3))e-1"
			done
		done
	done
} >"$tmp/files/season.csv"
n=0
while read -r table; do # two of them may have one name
	cp "$tmp/tree/$table" "$tmp/files/$((++n))-$(basename "$table")"
done < <(cd "$tmp/tree" && git ls-files '*testdata/*.csv' '*testdata/*.spile')

called() { # called WHICH COMMAND...: `sure` was `risk` once
	local call=("${@:2}")
	if [ "${call[0]}" = sure ] && ! "$tmp/$1" sure --help >/dev/null 2>&1; then call[0]=risk; fi
	rm -rf "$tmp/$1.files" && cp -r "$tmp/files" "$tmp/$1.files" # each has its own, since a workbook may be brought up to date
	local code=0
	(cd "$tmp/$1.files" && LC_ALL=C "$tmp/$1" "${call[@]}" >"$tmp/$1.json" 2>"$tmp/$1.said") || code=$?
	{
		echo "exit code $code"
		[ "$code" = 0 ] && "$tmp/flat" <"$tmp/$1.json"
		sed 's/^/said: /' "$tmp/$1.said"
	} >"$tmp/$1.flat"
}

asked=0 refused=0 differing=0
ask() { # ask COMMAND...
	called old "$@"
	called new "$@"
	asked=$((asked + 1))
	grep -q '^exit code 0$' "$tmp/old.flat" || refused=$((refused + 1))
	cmp -s "$tmp/old.flat" "$tmp/new.flat" && return
	differing=$((differing + 1))
	echo "== spile $*"
	diff "$tmp/old.flat" "$tmp/new.flat" | grep '^[<>]'
}

money() { # money FILES...: what is asked of evidence with prices
	ask rotation "$@" --json
	ask profit "$@" --json
	ask profit "$@" --against unsanitized --place CA-QC --organic --json
	ask sure "$@" --json
	ask sure "$@" --map wage,baseline.yield --aversion 0.2 --seed 7 --json
	ask worth "$@" --json
}

for table in $(cd "$tmp/files" && ls -- [0-9]*.csv [0-9]*.spile) $demo/evidence.csv; do
	ask gains "$table" --json
	ask gains "$table" --thorough --inference wald --variance reported --json
	ask gains "$table" --without freak-season --moderators vacuum,line-age --json
	ask rotation "$table" --json
	money "$table" $demo/prices.toml
	ask trial analyse "$table" --json
done
ask gains $demo/demo.spile --json
money $demo/demo.spile
for bush in $(cd "$tmp/files" && ls $demo/sugarbush-*.toml); do
	ask plan $demo/evidence.csv $demo/prices.toml "$bush" --json
	ask plan $demo/demo.spile "$bush" --json
done
trial=$(sed -n 's/^name *= *"\(.*\)"/\1/p' "$tmp/files/$demo/trial/trial.toml" | head -1)
ask trial analyse $demo/demo.spile "$trial" --thorough --json
ask trial analyse season.csv --json
ask trial analyse season.csv --thorough --syrup --inference wald --json
ask trial power --gain 20 --cv 15 --json
ask trial power --gain 20 --from $demo/demo.spile --json
ask trial design unsanitized new-spout check-valve --replicates 6 --taps 20 --seed 11 --json
echo "$asked asked, $refused of them refused before; $differing answers differ from those of $before"
[ "$differing" = 0 ]

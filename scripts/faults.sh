#!/usr/bin/env bash
# What must be survived, at length: every part runs whatever became of those before it, and tells its figures. A part may be
# called by its name: bash scripts/faults.sh load.
set -u
cd "$(dirname "$0")/.."
. scripts/need.sh
export SPILE_FAULTS=1
status=0 failed=
web=./internal/view/web sheet=./internal/files/sheet book=./internal/files/book
wanted=("$@")

# part NAME COMMAND...
part() {
	[ ${#wanted[@]} = 0 ] || [[ " ${wanted[*]} " = *" $1 "* ]] || return 0
	echo "== $1"
	"${@:2}" || { status=1 failed="$failed $1"; }
}

# tests REGEXP PACKAGES...: they are run in full, with what they measured; none of that name is a fault.
tests() {
	local said
	said=$(mktemp)
	go test -run "$1" -count=1 -v -timeout 40m "${@:2}" >"$said" 2>&1
	local code=$?
	grep -vE '^(=== |PASS$|\?|\s*--- PASS)' "$said"
	[ $code != 0 ] || grep -q '^--- PASS' "$said" || { echo "NOT RUN: no test is called $1"; code=1; }
	rm -f "$said"
	return $code
}

browser() { SPILE_BROWSER=1 tests "$@"; }

# twice: two releases of the last commit, each built in a tree of its own and the second from nothing, are the same
# bytes. What stands in dist/ stays.
twice() {
	local at
	at=$(mktemp -d)
	git worktree add -q --detach "$at/first" && git worktree add -q --detach "$at/second" && mkdir "$at/elsewhere" &&
		VERSION=0.0.1 bash "$at/first/scripts/release.sh" &&
		GOCACHE=$at/cache TMPDIR=$at/elsewhere VERSION=0.0.1 bash "$at/second/scripts/release.sh" &&
		diff "$at"/{first,second}/dist/SHA256SUMS && (cd "$at/first/dist" && sha256sum -c --quiet SHA256SUMS)
	local code=$?
	git worktree remove --force "$at/first"
	git worktree remove --force "$at/second"
	rm -rf "$at"
	return $code
}

[[ ${#wanted[@]} != 0 && " ${wanted[*]} " != *" phones "* ]] || need zbarimg zbar-tools
part phones browser 'Refused|Phones|Phone|FieldDay|Addresses|Picture|CodeLetsIn|Codes|AtTheTree|LateAnswer|FullPhone|AllThatIsTyped|UnitThatIsNot|Hostile|TwoTabs|DraftsAreSaved|BreaksOff' $web
part load tests 'ReadersAndWriters|LittleRoom|LastAnswer|ComparedOnce|SummedOnce|AtOnce|WorkedOutTwice|Packed|OnlyWhatIsAskedFor|StageKeeps' $web $web/page \
	./internal/view/show ./internal/engine/advice
part whatif browser 'KeyToDrawn|APauseOnly' $web
part forms tests 'DuringAnUpload|FourUploads|ManyFields|ManyOdd|TheSecond|OfTwo|FormsAreGuarded|SlowUpload|ABodyWithoutLength|OnlyItsOwnName|OtherSites|FormCookie|Refusals|Replaced' $web
part files tests 'LittleRoom|LineOfCommas|HostileSpreadsheets|LargeFiles|TwoHundredFaults|ManyFaults|ManyReadings|Logger|NothingRuns|LongCells|FuzzMapping|FuzzTrialTOML' $sheet \
	./internal/trade/trial ./cmd/spile
part waste tests 'PNG|TheStyle|FontsAreCut|TestWithout(Ageing)?$' ./internal/view/figure ./internal/view/paper $web ./internal/engine/pool ./internal/engine/mixture
part rows tests 'HundredMillionRows' $sheet
part workbook tests 'Looking|Killed|FullDisk|FileLimit|AtOnce|ReadOnly|Truncated|Zeros|Flipped|Tampered|NoWorkbook|Undo|Releases|Migration|Replaced|WriteAhead|AClock|OddNames' $book
part terminal tests 'Terminal|Plain|Stop|Pipes|WrittenOver|Hostile' ./cmd/spile
part server env SPILE_ENGINE=postgres bash -c "$(declare -f tests); tests 'Killed|Failover|AtOnce|Tampered|Undo|Migration|NeverWait' $book"
part stations env SPILE_ENGINE=postgres bash -c "$(declare -f tests); tests 'ServedLoad' $web"
part season go test -run '^$' -bench Large -benchtime 1x ./internal/engine/compare
part release twice
part windows bash scripts/wine.sh
part fuzz bash scripts/fuzz.sh
[ $status = 0 ] && echo "all survived" || echo "FAILED:$failed"
exit $status

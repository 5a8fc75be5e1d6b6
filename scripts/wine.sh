#!/usr/bin/env bash
# The binary for Windows under Wine: demo, new, add, check, export and serve; two who add at once; a workbook renamed and
# replaced while it is served. Installs Wine, and a compiler for a part that Debian's Wine lacks, where it may.
set -u
cd "$(dirname "$0")/.."
. scripts/need.sh
need wine wine wine64 || { echo "NOT RUN: the binary for Windows needs Wine"; exit 1; }
need curl curl || { echo "NOT RUN: what Wine serves is asked with curl"; exit 1; }
dir=$(mktemp -d)
export WINEPREFIX=$dir/prefix WINEDEBUG=-all LC_ALL=C.UTF-8
served=
trap 'wineserver -k 2>/dev/null; [ -n "$served" ] && kill "$served" 2>/dev/null; rm -rf "$dir"' EXIT
EXE=${EXE:-}
if [ -z "$EXE" ]; then
	EXE=$dir/spile.exe
	GOOS=windows GOARCH=amd64 CGO_ENABLED=0 go build -trimpath -o "$EXE" ./cmd/spile || exit 1
fi
wineboot -i >/dev/null 2>&1
system=$WINEPREFIX/drive_c/windows/system32
if [ ! -e "$system/bcryptprimitives.dll" ]; then # Go asks it for random numbers; Wine before 9 has them elsewhere
	need x86_64-w64-mingw32-gcc gcc-mingw-w64-x86-64-win32 || { echo "NOT RUN: this Wine lacks bcryptprimitives.dll"; exit 1; }
	cat >"$dir/prng.c" <<'C'
#include <windows.h>
BOOLEAN NTAPI SystemFunction036(PVOID, ULONG);
__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE data, SIZE_T n) { return SystemFunction036(data, (ULONG)n); }
C
	x86_64-w64-mingw32-gcc -shared -o "$system/bcryptprimitives.dll" "$dir/prng.c" -ladvapi32 || exit 1
fi
mkdir "$dir/work" && cd "$dir/work" || exit 1
failed=0
step() { # step NAME COMMAND...
	if "${@:2}" >"$dir/said" 2>&1; then echo "ok    $1"; else
		echo "FAIL  $1"
		tail -5 "$dir/said"
		failed=1
	fi
}
spile() { timeout 300 wine "$EXE" "$@"; }
holds() { grep -q "$2" "$1"; }
step "demo" spile demo
step "demo: what it made" test -s spile-demo/demo.spile
step "new" spile new mine.spile
step "add" spile add mine.spile spile-demo/evidence.csv spile-demo/prices.toml --who Ada
step "check" spile check mine.spile
step "gains" spile gains mine.spile
step "export" spile export mine.spile -o out
step "export: what it made" test -s out/datapackage.json
step "a second add of the same" spile add mine.spile spile-demo/evidence.csv --who Bo
step "a file that is there is not written over" bash -c "! timeout 300 wine '$EXE' new mine.spile"
# Two add at once: both are kept, or one says who else writes.
for who in a b; do
	printf 'study,site,season,practice,mean,n,sd\n%s,Hill %s,2019,unsanitized,15,6,2\n%s,Hill %s,2019,new-spout,17,6,2\n' $who $who $who $who >$who.csv
done
spile add mine.spile a.csv --who Ada >a.said 2>&1 & one=$!
spile add mine.spile b.csv --who Bo >b.said 2>&1 & two=$!
wait $one; first=$?
wait $two; second=$?
step "two add at once ($first, $second)" bash -c "cat a.said b.said; [ $first$second = 00 ]"
step "check after that" spile check mine.spile
port=$((20000 + RANDOM % 20000))
timeout 600 wine "$EXE" serve mine.spile --who Ada --addr "127.0.0.1:$port" >serve.said 2>&1 &
served=$!
ask() { curl -s -o "$dir/page" -w '%{http_code}' --max-time 60 "http://127.0.0.1:$port$1"; }
for _ in $(seq 60); do [ "$(ask /workbook)" = 200 ] && break; sleep 1; done
step "serve" test "$(ask /workbook)" = 200
step "serve: a change while it is open" spile add mine.spile spile-demo/sugarbush-organic.toml --who Bo
step "serve: the change is seen" test "$(ask /history)" = 200
cp mine.spile copy.spile
mv copy.spile mine.spile # as programs do that keep folders alike; Windows itself refuses it while the file is open
step "serve: another file renamed over it" bash -c "[ \$(curl -s -o /dev/null -w '%{http_code}' --max-time 60 http://127.0.0.1:$port/workbook) = 200 ]"
mv mine.spile away.spile
ask /workbook >/dev/null
step "serve: told when it is gone" holds "$dir/page" "no such file"
mv away.spile mine.spile
step "serve: taken up again" test "$(ask /workbook)" = 200
exit $failed

#!/usr/bin/env bash
# Builds what is given to others into dist/: one binary a platform, packed with its licences; beside it what it is made of
# (CycloneDX); and SHA256SUMS over all.
# The same commit and Go give the same bytes: the time in the archives is that of the commit.
set -euo pipefail
cd "$(dirname "$0")/.."
. scripts/need.sh
need zip zip || { echo "the archive for Windows needs zip" >&2; exit 1; }

version=${VERSION:-$(git describe --tags --always --dirty)}
epoch=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct)}
export CGO_ENABLED=0 GOFLAGS=-trimpath GOWORK=off
rm -rf dist
mkdir -p dist
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# licences OS ARCH FOLDER: the licence of every module in the binary, of Go itself and of the fonts.
licences() {
	mkdir -p "$3"
	cp "$(go env GOROOT)/LICENSE" "$3/go.txt"
	cp internal/view/paper/OFL.txt "$3/fonts-OFL.txt"
	GOOS=$1 GOARCH=$2 go list -deps -f '{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}} {{.Dir}}{{end}}{{end}}' ./cmd/spile |
		sort -u | while read -r path at dir; do
		found=
		for file in "$dir"/{LICENSE,LICENCE,COPYING,NOTICE,License,license}* "$dir"/{licenses,THIRD_PARTY_LICENSES}/*; do
			[ -f "$file" ] || continue
			found=yes
			{ echo "$path $at: $(basename "$file")"; echo; cat "$file"; echo; } >>"$3/${path//\//_}.txt"
		done
		# What a module took over from others has its licence beside it.
		find "$dir" -mindepth 2 \( -iname 'licen[sc]e*' -o -iname 'copying*' -o -iname 'notice*' \) -type f ! -path '*/testdata/*' ! -path "$dir/licenses/*" ! -path "$dir/THIRD_PARTY_LICENSES/*" | LC_ALL=C sort | while read -r file; do
			{ echo "$path $at: ${file#"$dir"/}"; echo; cat "$file"; echo; } >>"$3/${path//\//_}.txt"
		done
		if [ -z "$found" ]; then
			echo "no licence found in $path $at" >&2
			exit 1
		fi
	done
}

# The list of modules is read from the binary itself; without serial and time it is the same for the same binary.
GOBIN=$work go install github.com/CycloneDX/cyclonedx-gomod/cmd/cyclonedx-gomod@v1.10.0

for platform in linux/amd64 linux/arm64 darwin/arm64 windows/amd64; do
	os=${platform%/*} arch=${platform#*/}
	name=spile-$version-$os-$arch
	mkdir "$work/$name"
	binary=spile
	[ "$os" = windows ] && binary=spile.exe
	GOOS=$os GOARCH=$arch go build -ldflags "-s -w -X main.version=$version" -o "$work/$name/$binary" ./cmd/spile
	"$work/cyclonedx-gomod" bin -json -std -noserial -notimestamp -version "$version" -output "dist/$name.cdx.json" "$work/$name/$binary"
	cp README.md CHANGELOG.md LICENSE "$work/$name/"
	cp -r docs "$work/$name/" # the README leads there
	licences "$os" "$arch" "$work/$name/licences"
	find "$work/$name" -exec touch -d "@$epoch" {} +
	if [ "$os" = windows ]; then # zip keeps no owners, and -X no other facts of this machine
		(cd "$work" && find "$name" | LC_ALL=C sort | TZ=UTC zip -q -9 -X "$OLDPWD/dist/$name.zip" -@)
	else
		tar -C "$work" --sort=name --owner=0 --group=0 --numeric-owner --mtime="@$epoch" -cf - "$name" | gzip -n -9 >"dist/$name.tar.gz"
	fi
	printf '%s %s MiB\n' "$name" "$(($(stat -c %s "$work/$name/$binary") >> 20))"
done
(cd dist && sha256sum ./*.tar.gz ./*.zip ./*.cdx.json | sed 's| \./| |' >SHA256SUMS && sha256sum -c --quiet SHA256SUMS)

#!/usr/bin/env bash
# The packages whose tests hold properties.
set -eu
cd "$(dirname "$0")/.."
go list -f '{{range .TestImports}}{{if eq . "pgregory.net/rapid"}}{{$.ImportPath}}{{"\n"}}{{end}}{{end}}{{range .XTestImports}}{{if eq . "pgregory.net/rapid"}}{{$.ImportPath}}{{"\n"}}{{end}}{{end}}' ./... | sort -u | grep .

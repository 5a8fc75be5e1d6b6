// Package engine holds the engine of a published page: cmd/room compiled to WebAssembly and packed, with what Go's own
// distribution starts it by. `make engine` builds both and writes down what they were built from.
package engine

import _ "embed"

//go:generate go run ../../../../scripts/engine.go

var (
	// Room is the engine, a gzip file.
	//
	//go:embed room.wasm.gz
	Room []byte

	// Go is the script that starts it.
	//
	//go:embed exec.js
	Go string
)

// Package demo holds the invented scenario: stations, studies and prices that exist nowhere, kept as the files a user
// would write. Nothing in it is a finding; its generator (generate_test.go) states the truth that the studies were
// drawn from.
package demo

import (
	"embed"
	"io/fs"
)

//go:embed evidence.csv prices.toml
//go:embed sugarbush-gravity.toml sugarbush-organic.toml sugarbush-quebec.toml
//go:embed trial
var files embed.FS

// Files holds evidence.csv and prices.toml, three sugarbushes, and in the folder trial what a crew wrote down of a
// trial of two springs.
func Files() fs.FS { return files }

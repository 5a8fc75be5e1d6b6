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
var files embed.FS

// Files holds evidence.csv and prices.toml.
func Files() fs.FS { return files }

// Package testdata embeds the example boats and the demo passage, all invented,
// in the binary, so that the demo runs from any folder.
package testdata

import "embed"

// Files holds boats/*.toml, demo/* and policies/*.toml.
//
//go:embed all:boats all:demo all:policies
var Files embed.FS

// Package plots draws results: charts as SVG, PNG and PDF, a self-contained
// page for one passage or one boat, and the rule card. It takes plain results
// and knows neither file formats nor the packages that computed them.
package plots

package plots

// Cautions stand on every page and card: what the tool does not replace.
var Cautions = []string{
	"This is a calculation from a model and a forecast; both are wrong in places. Compare it with what you see, and act on what you see.",
	"It does not replace a proper lookout or good seamanship.",
	"The limits set by the foils' maker and by the boat's designer come first, and so do class and race rules.",
	"Use official charts and official forecasts. The map here is not for navigation.",
	"Know the local regulations and keep clear of traffic, separation schemes and closed areas.",
}

// Caveats are what the boat model and the planner leave out; they stand on
// every page of a passage.
var Caveats = []string{
	"Speeds are steady ones from a model of the boat that was not fitted to measurements of her. Differences between foil states are surer than the speeds themselves.",
	"The boat is taken to be sailed well: right sails, right trim, a pilot that keeps the course. Sail changes cost nothing.",
	"Waves are one height and one direction. Cross seas, breaking seas and squalls are not in it.",
	"The plan knows the whole forecast and trusts it. Plan again when a new one arrives.",
	"A foil that breaks, jams or hits something is not in it.",
}

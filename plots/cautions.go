package plots

// Cautions stand on every page and card: what the tool does not replace.
var Cautions = []string{
	"This is a calculation from a model and a forecast; both are wrong in places. Compare it with what you see, and act on what you see.",
	"It does not replace a proper lookout or good seamanship.",
	"The limits set by the foils' maker and by the boat's designer come first, and so do class and race rules.",
	"Use official charts and official forecasts. The map here is not for navigation.",
	"Know the local regulations and keep clear of traffic, separation schemes and closed areas.",
}

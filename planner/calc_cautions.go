package planner

// What is said beside a calculation. All of it defers to the local food code and to the people licensed to apply it.
const (
	careScald     = "Hot brew and steam scald: let no lid seal it, do not shake it, add the ice slowly."
	careGlass     = "Hot liquid on ice can shatter glass: use a vessel rated for thermal shock, and never a glass as a scoop."
	careIceFood   = "Ice is food: drinking water only, a clean scoop kept outside the bin, hands out."
	careBathIce   = "Ice that has cooled a vessel is never served."
	careCooling   = "The local food code's cooling rule stands above this: as a default 57 °C to 21 °C within 2 h and to 5 °C within 4 h more."
	careHolding   = "Hold it at 5 °C or colder unless the local food code says otherwise."
	careSteeping  = "Steeped coffee is low in acid and long held: steep it cold and hold it cold."
	careMinerals  = "Food-grade salts only; weigh them, label the concentrate and never taste it. The water supplier's and the licensed plumber's rules stand above this."
	careFreezer   = "Make drink ice of treated drinking water in clean, food-grade moulds, covered, away from raw food."
	careCaffeine  = "Caffeine is an estimate; where a drink is strong or large, say so on the board."
	careEstimate  = "An estimate: ice and drink are taken to meet in full before the first sip."
	careHeat      = "In heat like this people behind the bar need water, shade and breaks: the local rules for work in heat apply."
	careScaleLime = "Scale in boilers is for the licensed service to judge; this index only says which way the water leans."
)

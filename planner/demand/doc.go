// Package demand turns what is known of a row (a drink in a day part of a date) into a distribution of servings, and
// distributions into how much to prepare.
//
// [FromWord] reads the manager's word, [FromForecast] a forecast row; both give a [Range] with its mean, quantiles and
// sampling by inverse. [CriticalRatio] is the level that the costs ask for. [Path] turns the correlated rows of the service
// days into grams by slot: the level's quantile of what has been asked for since the day began. [DayLevel] learns from the
// counts of a day how the rest of it will go.
//
// Everything here is a pure function of its arguments: no clock, no globals, chance only from seeds and keys.
package demand

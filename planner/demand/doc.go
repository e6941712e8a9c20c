// Package demand turns a request's data on a row (a drink in a day part of a date) into a distribution of servings, and
// distributions into target amounts.
//
// [FromOverride] reads the manager's override, [FromForecast] a forecast row; both return a [Range] with mean, quantiles and sampling
// by inverse transform. [CriticalRatio] is the newsvendor's service level. [Path] turns the correlated rows of the service days
// into grams by slot: the increments of a quantile of the cumulative demand of the day. [DayLevel] updates the rest of a day from
// its counts so far.
//
// Everything here is a pure function of its arguments: no clock, no globals, randomness only from seeds and keys.
package demand

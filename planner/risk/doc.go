// Package risk estimates shortages by Monte Carlo simulation of a plan: what runs out, when, how likely and by how much.
//
// The [Input] of [Simulate] consists of plain slices: demand rows with their ranges, drinks with the amounts of a serving, stocks
// held in lots with a shelf life (beverages, beans), and flows that are made and used continuously (ice for drinks, treated
// water). In each slot the available amounts are shared among the drinks demanded. A drink that lacks one thing is a missed sale
// and leaves the other things it would have used.
//
// The sources of variation are parameters; see [Assumptions]. Random numbers are keyed by name rather than position, so that a
// changed request is tested against the same scenarios (common random numbers).
package risk

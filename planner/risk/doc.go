// Package risk lives a plan through many simulated days and says what runs short, when, how likely and by how much.
//
// [Simulate] takes an [Input] of plain slices: demand rows with their ranges, drinks and what a serving takes, stocks held in
// lots that perish (beverages, beans), and flows that are made and taken all the time (drink ice, treated water). In each slot
// the drinks asked for share what is there; a drink that lacks one thing is missed, and what else it would have used stays.
//
// What varies, and how, are assumptions with names and numbers: see [Assumptions]. Random numbers belong to keys, not to
// places in a list, so that a changed request meets the same days (common random numbers).
package risk

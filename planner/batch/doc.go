// Package batch decides which batches to brew, on which brewer, when, and how many grams of each.
//
// An [Instance] states demand by slot, beverages that wait to be ready and perish, brewers that run one batch at a time,
// people who can start only so many batches in a slot, one cold store, and ice that batches and glasses share. [Solve]
// answers with a plan that breaks no rule, what it costs, and a lower bound: a proof, from a relaxation solved here, of
// what no plan can beat. [Evaluate] gives the exact cost of given starts and grams, [Check] verifies a plan rule by
// rule, and [LotSize] is the uncapacitated special case of Wagner and Whitin.
//
// Slots count from 0. A batch started in slot t is ready at the beginning of slot t+ready and may serve hold slots from
// there. Grams are of finished beverage; costs are in the currency unit of the instance, per kilogram where the name
// says so. Everything here is a pure function of its arguments: same instance, seed and budget, same answer.
package batch

// Package batch solves the batch schedule: which batches to brew, on which brewer, when, and how many grams of each.
//
// An [Instance] has demand by slot, beverages with a lead time and a shelf life, brewers that run one batch at a time, people
// who can start only a few batches per slot, one cold store, and ice shared by batches and glasses. [Solve] returns a feasible
// plan, its cost, and a proven lower bound on the cost of any plan. [Evaluate] gives the exact cost of given starts and grams.
// [LotSize] is the uncapacitated special case of Wagner and Whitin.
//
// Slots count from 0. A batch started in slot t is ready at the beginning of slot t+ready and can be served for hold slots
// from there. Grams are of finished beverage; costs are in the currency unit of the instance, per kilogram where the name says
// so. Everything is a pure function of its arguments: equal instance, seed and budget give equal results.
//
// # Method
//
// Lagrangian relaxation of everything that beverages share: brewers, people, store and ice. At given prices each beverage is
// planned alone by an exact dynamic program over piecewise linear costs (lotdp.go, pwl.go), and the ice bin alone in closed form
// (dual.go). Column generation finds the prices (master.go, simplex.go), strengthened by cutting planes (cuts.go) and Benders
// cuts for the bin of a long horizon (benders.go). It is smoothed between the best prices so far and the master's, nearer to the
// one or the other as the bound rises in their direction (Wentges, International Transactions in Operational Research 4 (1997);
// Pessoa, Sadykov, Uchoa & Vanderbeck, INFORMS Journal on Computing 30 (2018)). Where the master has many rows and pricing is
// cheap, a deflected subgradient method gets near the prices first (subgradient.go; Camerini, Fratta & Maffioli, Mathematical
// Programming Study 3 (1975)). Branch and bound on the number of starts up to a slot closes more of the gap (tree.go).
//
// Incumbents come from planning one beverage after the other at those prices beside the rest (respond.go), day by day over a
// longer horizon (rolling.go), from ruin and recreate, which removes batches around a shortage and plans their beverages again by
// the exact programs within the capacity left (ruin.go; Schrimpf, Schneider, Stamm-Wilbrandt & Dueck, Journal of Computational
// Physics 159 (2000)), and from simulated annealing on the starts (solver.go, move.go), evaluated by a fast estimate (estimate.go)
// and then a linear program that sets the grams (fit.go). The sources are cited from memory.
//
// Hard instances, with the best known costs and bounds, are in testdata/batches/hard; TestHardInstances measures the search on them.
package batch

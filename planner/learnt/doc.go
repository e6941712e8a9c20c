// Package learnt estimates a shop's own physics from what its people mark and count anyway: the output of its ice machines, the loss of
// its ice bin, the liquid that grounds retain, the strength of its recipes, how fast batches cool, and how long they really keep. Each
// estimate starts from the set-up's value as its prior and comes with a 90 % range; a change of the set-up is proposed where the evidence
// is clear. The package is pure: plain observations in, estimates out.
//
// Priors are lognormal about the set-up's value. Their relative standard deviations, and those of the measurements, are assumptions from
// common practice (no source); each estimate states its own.
package learnt

package paper

// Names for the tests, which are in package paper_test to use package planner.
var (
	BatchesOf = batchesOf
	Clean     = clean
)

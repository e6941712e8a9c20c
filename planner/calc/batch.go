package calc

import (
	"context"

	"hotday/models"
	"hotday/planner/batch"
	"hotday/planner/say"
)

// calcBatches solves a batch instance with the default budget.
func calcBatches(ctx context.Context, _ say.Voice, body []byte) (any, error) {
	in, err := batch.Parse(body)
	if err != nil {
		return nil, err
	}
	return batch.Solve(ctx, in, batch.Options{Seed: 1})
}

type lotSizeIn struct {
	Demand  []float64 `json:"demand" opt:"false"`
	Setup   []float64 `json:"setup" opt:"false"`
	Holding []float64 `json:"holding" opt:"false"`
}

type lotSizeOut struct {
	Objective float64 `json:"objective"`
	Setups    []int   `json:"setups"`
}

// calcLotSize solves the lot-sizing problem of Wagner and Whitin.
func calcLotSize(_ say.Voice, body []byte) (any, error) {
	var in lotSizeIn
	if err := models.DecodeStrict(body, &in); err != nil {
		return nil, err
	}
	objective, setups, err := batch.LotSize(in.Demand, in.Setup, in.Holding)
	if err != nil {
		return nil, err
	}
	return lotSizeOut{Objective: objective, Setups: setups}, nil
}

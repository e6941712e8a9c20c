package planner

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"

	"hotday/models"
)

// Digest covers the request with now rounded up to the first slot: requests of one digest have the same plan, but for
// computed_at.
func Digest(r models.PlanRequest) (string, error) {
	r.Now = newHorizon(&r).start.UTC()
	b, err := json.Marshal(&r)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:]), nil
}

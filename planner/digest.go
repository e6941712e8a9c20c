package planner

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"

	"hotday/models"
)

// Digest identifies a request, with now rounded up to the first slot: requests with the same digest have the same plan apart from
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

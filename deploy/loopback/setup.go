package loopback

// SetupOf is the set-up of a shop in a plan request: what PUT setup takes.
func SetupOf[T any](request map[string]T) map[string]T {
	setup := map[string]T{}
	for _, part := range []string{"site", "coffees", "beverages", "drinks", "brewers", "ice", "water", "supplies", "costs", "service_level_pct"} {
		if x, given := request[part]; given {
			setup[part] = x
		}
	}
	return setup
}

package paper

// Clean is clean, for the test of what the font has.
func Clean(s string) string { return clean(s) }

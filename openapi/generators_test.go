package openapi_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"hotday/openapi"
)

// Generators of clients name a type for each component, take 32 bits for numbers without a format, and stop at null among an enum's values.
func TestContractSuitsGenerators(t *testing.T) {
	t.Parallel()
	var doc map[string]any
	require.NoError(t, yaml.Unmarshal(openapi.YAML, &doc))
	named := map[string]string{}
	for kind, list := range doc["components"].(map[string]any) {
		if kind == "securitySchemes" {
			continue
		}
		for name := range list.(map[string]any) {
			plain := strings.ToLower(strings.ReplaceAll(name, "-", ""))
			require.Empty(t, named[plain], "%s of %s has the name of another component", name, kind)
			named[plain] = kind
		}
	}
	numbers := 0
	var walk func(at string, v any)
	walk = func(at string, v any) {
		switch x := v.(type) {
		case []any:
			for _, e := range x {
				walk(at, e)
			}
		case map[string]any:
			if is(x["type"], "number") {
				numbers++
				require.Equal(t, "double", x["format"], "%s is a number", at)
			}
			if values, ok := x["enum"].([]any); ok {
				require.NotContains(t, values, nil, "%s may be null", at)
			}
			for k, e := range x {
				walk(at+"/"+k, e)
			}
		}
	}
	walk("", doc)
	require.Greater(t, numbers, 500)
}

// is reports whether a schema's type is or includes one.
func is(of any, one string) bool {
	list, many := of.([]any)
	return of == one || many && slices.Contains(list, any(one))
}

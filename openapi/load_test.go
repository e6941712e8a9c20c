package openapi_test

import (
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/stretchr/testify/require"

	"hotday/openapi"
)

func TestContractIsValidOpenAPI31(t *testing.T) {
	t.Parallel()
	doc, err := openapi3.NewLoader().LoadFromData(openapi.YAML)
	require.NoError(t, err)
	require.True(t, doc.IsOpenAPI31OrLater())
	require.NoError(t, doc.Validate(t.Context(), openapi3.EnableExamplesValidation()))
}

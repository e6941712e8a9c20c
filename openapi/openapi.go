// Package openapi embeds the API contract, an OpenAPI 3.1 document that is served at /openapi.yaml.
package openapi

import _ "embed"

// YAML is the OpenAPI document.
//
//go:embed openapi.yaml
var YAML []byte

// Package openapi holds the contract of the programming interface: one OpenAPI 3.1 document, served as it is at /openapi.yaml.
package openapi

import _ "embed"

// YAML is the contract.
//
//go:embed openapi.yaml
var YAML []byte

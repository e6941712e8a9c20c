#!/bin/sh
# Fails if the contract would break a client of the last release, whose contract is released.yaml (a release replaces it). Uses oasdiff
# (Apache-2.0). Adding operations, optional fields and values to responses breaks nothing: clients ignore what they do not know.
#
#     openapi/breaking.sh [RELEASED [CONTRACT]]
set -eu
here=$(dirname "$0")
exec go run github.com/oasdiff/oasdiff@v1.38.0 breaking --deprecation-days-stable 180 --format singleline --color never --allow-external-refs=false \
  --severity-levels "$here/lint/oasdiff.txt" --fail-on WARN "${1:-$here/released.yaml}" "${2:-$here/openapi.yaml}"

#!/usr/bin/env bash
# Builds a release from the last commit of this repository: one static program per platform, without cgo, with its checksum and its bill of
# materials (CycloneDX).
#
#     deploy/release.sh DIRECTORY [GOOS/GOARCH …]
#
# The same commit and the same Go version give the same bytes, wherever and whenever they are built: the code is a fresh clone, paths are
# trimmed, and nothing depends on the clock. Whoever has the commit can check a release by building it again.
set -euo pipefail
[ $# -ge 1 ] || { echo "usage: deploy/release.sh DIRECTORY [GOOS/GOARCH …]" >&2; exit 2; }
out=$(mkdir -p "$1" && cd "$1" && pwd)
shift
platforms=("${@:-linux/amd64}")
[ $# -gt 0 ] || platforms=(linux/amd64 linux/arm64 darwin/arm64 windows/amd64)
repository=$(cd "$(dirname "$0")/.." && git rev-parse --show-toplevel)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
git clone -q "$repository" "$work/hotday"
cd "$work/hotday"
version=$(git describe --tags --always --abbrev=12)
if git describe --tags --exact-match >/dev/null 2>&1 && ! cmp openapi/openapi.yaml openapi/released.yaml; then
  echo "copy openapi/openapi.yaml to openapi/released.yaml before the tag: the next changes are compared with it" >&2
  exit 1
fi

# nomsgpack leaves out a codec of gin that the service does not use. -s -w leaves out what only a debugger needs.
export CGO_ENABLED=0 GOFLAGS=-mod=readonly GOWORK=off GOAMD64=v1
sbom_version=v1.10.0
sbom() {
  local tool
  tool="$(go env GOPATH)/bin/cyclonedx-gomod"
  if [ "$(go version -m "$tool" 2>/dev/null | awk '$1 == "mod" {print $3}')" = "$sbom_version" ]; then
    "$tool" "$@"
  else
    go run "github.com/CycloneDX/cyclonedx-gomod/cmd/cyclonedx-gomod@$sbom_version" "$@"
  fi
}
files=()
for platform in "${platforms[@]}"; do
  os=${platform%/*} arch=${platform#*/}
  name="hotday_${version}_${os}_${arch}"
  file="$name"
  [ "$os" != windows ] || file="$name.exe"
  GOOS=$os GOARCH=$arch go build -trimpath -buildvcs=true -tags nomsgpack -ldflags '-s -w -buildid=' -o "$out/$file" .
  sbom bin -json -noserial -notimestamp -version "$version" -output "$out/$name.cdx.json" "$out/$file"
  files+=("$file" "$name.cdx.json")
done
cd "$out"
sha256sum "${files[@]}" >SHA256SUMS
echo "hotday $version, $(go version | awk '{print $3}'):"
cat SHA256SUMS

#!/usr/bin/env bash
# Builds the container image of a released program with buildah or podman, without root.
#
#     deploy/image.sh PROGRAM IMAGE
set -euo pipefail
[ $# -eq 2 ] || { echo "usage: deploy/image.sh PROGRAM IMAGE" >&2; exit 2; }
here=$(cd "$(dirname "$0")" && pwd)
context=$(mktemp -d)
trap 'rm -rf "$context"' EXIT
install -m 0755 "$1" "$context/hotday"
install -d -m 0700 "$context/data"
if command -v buildah >/dev/null; then builder=(buildah build); else builder=(podman build); fi
# The times of the files and of the image are the commit's, so that the same program gives the same image.
"${builder[@]}" --timestamp "$(git -C "$here" log -1 --format=%ct)" -f "$here/Containerfile" -t "$2" "$context"

#!/usr/bin/env bash
# Installs the optional tools that some tests compare with or look through: a browser, PDF tools, two solvers of integer
# programs. Debian and its kin; elsewhere install the same programs by hand. Tests find them at run time.
set -euo pipefail
declare -A package=([chromium]=chromium [pdftoppm]=poppler-utils [cbc]=coinor-cbc [glpsol]=glpk-utils)
missing=()
for program in "${!package[@]}"; do
  command -v "$program" >/dev/null || missing+=("${package[$program]}")
done
[ ${#missing[@]} -eq 0 ] && exit 0
echo "installing ${missing[*]}"
export DEBIAN_FRONTEND=noninteractive
as_root=()
[ "$(id -u)" -eq 0 ] || as_root=(sudo)
"${as_root[@]}" apt-get update -qq
"${as_root[@]}" apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null

#!/usr/bin/env bash
# Installs the optional tools of some tests: a browser, a reverse proxy, PDF tools, three integer programming solvers, shells, a calendar parser, PostgreSQL,
# axe-core (MPL-2.0), which checks the pages' accessibility, the TypeScript compiler (Apache-2.0), which checks the types of the
# pages' scripts, and the packages of openapi/node (MIT, Apache-2.0 and the like), which check the contract and generate a client from
# it; none of the last three is part of this repository.
# For Debian and derivatives; elsewhere install the same programs by hand. Tests look for them at run time.
set -euo pipefail
cd "$(dirname "$0")/.."
declare -A package=([chromium]=chromium [pdftoppm]=poppler-utils [cbc]=coinor-cbc [glpsol]=glpk-utils [bash]=bash [zsh]=zsh [fish]=fish [nginx]=nginx-light [strace]=strace)
missing=()
for program in "${!package[@]}"; do
  command -v "$program" >/dev/null || missing+=("${package[$program]}")
done
/usr/bin/python3 -c 'import icalendar' 2>/dev/null || missing+=(python3-icalendar) # for Debian's own Python
/usr/bin/python3 -c 'from scipy.optimize import milp' 2>/dev/null || missing+=(python3-scipy) # it brings HiGHS
compgen -G '/usr/lib/postgresql/*/bin/postgres' >/dev/null || command -v postgres >/dev/null || missing+=(postgresql) # tests start servers of their own
typescript=7.0.2
modules=() # of npm
axe=$(ls /usr/lib/node_modules/axe-core/axe.min.js /usr/local/lib/node_modules/axe-core/axe.min.js "${HOTDAY_AXE:-/nowhere}" 2>/dev/null | head -1 || true)
[ -n "$axe" ] || modules+=(axe-core)
[ "$(tsc --version 2>/dev/null)" = "Version $typescript" ] || modules+=("typescript@$typescript")
contract=${HOTDAY_CONTRACT_TOOLS:-/usr/local/lib/hotday-contract-tools} # where tests look for the packages of openapi/node
stale=
{ [ -e "$contract/node_modules/.bin/tsc" ] && cmp -s openapi/node/package-lock.json "$contract/package-lock.json"; } || stale=yes
[ ${#modules[@]} -eq 0 ] && [ -z "$stale" ] || command -v npm >/dev/null || missing+=(npm)
[ ${#missing[@]} -eq 0 ] && [ ${#modules[@]} -eq 0 ] && [ -z "$stale" ] && exit 0
export DEBIAN_FRONTEND=noninteractive
as_root=()
[ "$(id -u)" -eq 0 ] || as_root=(sudo)
if [ ${#missing[@]} -gt 0 ]; then
  echo "installing ${missing[*]}"
  "${as_root[@]}" apt-get update -qq
  if [[ " ${missing[*]} " == *" postgresql "* && ! -e /etc/postgresql-common/createcluster.conf ]]; then # no server beside those of the tests
    "${as_root[@]}" mkdir -p /etc/postgresql-common
    echo 'create_main_cluster = false' | "${as_root[@]}" tee /etc/postgresql-common/createcluster.conf >/dev/null
  fi
  "${as_root[@]}" apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
fi
if [ ${#modules[@]} -gt 0 ]; then
  echo "installing ${modules[*]}"
  "${as_root[@]}" npm install -g --silent "${modules[@]}" >/dev/null
fi
if [ -n "$stale" ]; then
  echo "installing the packages of openapi/node"
  "${as_root[@]}" mkdir -p "$contract"
  "${as_root[@]}" cp openapi/node/package.json openapi/node/package-lock.json "$contract"
  "${as_root[@]}" npm ci --silent --prefix "$contract" >/dev/null || { "${as_root[@]}" rm -f "$contract/package-lock.json"; exit 1; }
fi

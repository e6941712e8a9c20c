#!/bin/sh
# A till that posts sales to hotday and loses none: each count is on disk before it is sent, and sent again with the same Idempotency-Key
# until the service has answered. Needs curl and GNU coreutils.
#
#     till.sh add ITEM WINDOW_START WINDOW_END COUNT
#     till.sh send                                    sends what is there, oldest first, until all is taken
#
# HOTDAY_URL, HOTDAY_SITE, HOTDAY_KEY; HOTDAY_SOURCE (till-1) and SPOOL (spool) if they are others.
set -eu
spool=${SPOOL:-spool}
mkdir -p "$spool/refused"

add() {
  case $1 in *[\"\\]*) echo "an item must not have quotes or backslashes" >&2; exit 2 ;; esac
  name=$(date +%s%N)-$$
  printf '{"source":"%s","counts":[{"item":"%s","window_start":"%s","window_end":"%s","count":%s}]}\n' \
    "${HOTDAY_SOURCE:-till-1}" "$1" "$2" "$3" "$4" >"$spool/$name.part"
  sync "$spool/$name.part"
  mv "$spool/$name.part" "$spool/$name.json"
  sync "$spool"
}

# post sends one file. It sets status, 000 if nothing answered, and after, the seconds that the service wants us to wait.
post() {
  status=$(curl -sS -o "$spool/answer" -D "$spool/header" -w '%{http_code}' --max-time 30 -X POST \
    "$HOTDAY_URL/v1/sites/$HOTDAY_SITE/sales-counts" -H "Authorization: Bearer $HOTDAY_KEY" -H 'Content-Type: application/json' \
    -H "Idempotency-Key: $(basename "$1" .json)" --data-binary "@$1") || status=000
  after=
  [ "$status" = 000 ] || after=$(tr -d '\r' <"$spool/header" | sed -n 's/^[Rr]etry-[Aa]fter: *\([0-9][0-9]*\)$/\1/p')
}

send() {
  wait=1
  for file in "$spool"/*.json; do
    [ -e "$file" ] || break
    while :; do
      post "$file"
      case $status in
      200) rm "$file"; wait=1; break ;;
      400 | 413 | 415 | 422 | 409) # it will never be taken: keep it for a person, with the reason
        mv "$spool/answer" "$spool/refused/$(basename "$file").why"
        mv "$file" "$spool/refused/"
        break ;;
      esac
      sleep "${after:-$wait}"
      wait=$((wait < 150 ? wait * 2 : 300))
    done
  done
}

case ${1:-} in
add) [ $# -eq 5 ] || { echo "usage: till.sh add ITEM WINDOW_START WINDOW_END COUNT" >&2; exit 2; }; shift; add "$@" ;;
send) send ;;
*) echo "usage: till.sh add ITEM WINDOW_START WINDOW_END COUNT | till.sh send" >&2; exit 2 ;;
esac

#!/usr/bin/env bash
# Whole-program runs for docs/performance.md: bash docs/measure.sh FOLDER [OTHER-REVISION]
#
# Writes a cloud of 100 million points into FOLDER once (3 GB, and 0.45 GB as LAZ), and 20 km2 in wide strips when WIDE=1
# (2 GB). Needs hyperfine and GNU time. With OTHER-REVISION both programs run in turn, so that what else the machine does
# falls on both. FACTOR=2.2 makes 10 million points, 66 makes 300 million.
set -euo pipefail
dir=${1:?folder for the clouds}; other=${2:-}; factor=${FACTOR:-22}
mkdir -p "$dir"; dir=$(cd "$dir" && pwd)
case $dir in *[[:space:]]*) echo "measure: name a folder without spaces"; exit 2 ;; esac
cd "$(dirname "$0")/.."
big="$dir/big$factor" laz="$dir/laz$factor" wide="$dir/wide"

go build -o "$dir/new" ./cmd/sidelap
programs=("$dir/new")
if [ -n "$other" ]; then
  git worktree add --detach "$dir/tree" "$other" >/dev/null
  (cd "$dir/tree" && go build -o "$dir/old" ./cmd/sidelap)
  git worktree remove --force "$dir/tree"
  programs+=("$dir/old")
fi

write() { SIDELAP_BIG=$1 SIDELAP_BIG_FACTOR=$2 SIDELAP_BIG_KM2=${3:-} SIDELAP_BIG_LAZ=${4:-} \
  go test -run TestWriteBig ./trajectory/simulate -timeout 1h >/dev/null; }
[ -d "$big/cloud" ] || write "$big" "$factor"
[ -d "$laz/cloud" ] || write "$laz" "$factor" "" 1
[ "${WIDE:-}" != 1 ] || [ -d "$wide/cloud" ] || write "$wide" 2 20

survey() { echo "assess --quiet --force --trajectory $1/trajectory/flight.sbet --checkpoints $1/checkpoints.csv --out $dir/out ${*:2} $1/cloud"; }

# A run that ends with a verdict. Anything else, as of options that an old program does not have, is no measurement.
judged() { # name, then the command
  local code=0
  "${@:2}" >/dev/null || code=$?
  case $code in 0 | 1 | 4) ;; *) echo "measure: $1: exit $code"; exit 1 ;; esac
}
# Time in turn: wall, user and system for each.
compare() { # name, arguments
  local runs=()
  for p in "${programs[@]}"; do
    judged "$1" "$p" $2 # which also warms the cache
    runs+=("$p $2")
  done
  echo "== $1"
  hyperfine --ignore-failure --runs "${RUNS:-5}" --export-json "$dir/$1.json" "${runs[@]}" 2>/dev/null
}
memory() { # name, arguments
  for p in "${programs[@]}"; do
    judged "$1" /usr/bin/time -f "== $1: $(basename "$p") %M kB, %U s user, %S s system, %e s" "$p" $2
  done
}
compare las "$(survey "$big")"
compare las-1-worker "$(survey "$big" --workers 1)"
compare laz "$(survey "$laz")"
memory "memory, LAS" "$(survey "$big")"
[ "${WIDE:-}" != 1 ] || memory "memory, 20 km2, --memory 2GB" "$(survey "$wide" --memory 2GB)"

go test -run '^$' -bench . ./overlap ./las ./las/internal/laz

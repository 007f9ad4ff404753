#!/bin/sh
# Runs all field cases and prints one line each: what was seen, and low / middle / high of ours. Needs the built program:
#   go build -o finwright ./cmd/finwright && sh proofs/field/table.sh ./finwright
# Low and high are the 5 % and 95 % points of the draws, or ("ends") runs with all watts at the ends of their stated doubt.
set -eu
fw=$(cd "$(dirname "${1:-./finwright}")" && pwd)/$(basename "${1:-./finwright}")
draws=${2:-24}
cd "$(dirname "$0")"
tmp=$(mktemp -d)
trap 'rm -rf "$tmp"' EXIT

line() { # case, quantity, seen from, seen to, low, middle, high, unit; the half width of a temperature is that of its rise over 22 °C
  awk -v c="$1" -v q="$2" -v s="$3" -v t="$4" -v l="$5" -v m="$6" -v h="$7" -v u="$8" 'BEGIN {
    seen = (s == t) ? s : (t == "" ? "over " s : s " to " t)
    covered = (t == "") ? (h >= s) : (l <= t && h >= s)
    printf "%-3s %-38s seen %-14s ours %6.1f / %6.1f / %6.1f %-4s %-12s half width %3.0f %%\n", c, q, seen, l, m, h, u, covered ? "covered" : "NOT covered", 50 * (h - l) / (u == "°C" ? m - 22 : m)
  }'
}

# pick FIELD DESIGN FILE: low, middle and high of a row of compare.
pick() { awk -v f="$1" -v d="$2" '
  /^   "name": / { own = index($0, "\"" d "\"") }
  own && index($0, "   \"" f "\": {") == 1 { on = 1; next }
  on && /^   }/ { on = 0 }
  on { gsub(/[",]/, ""); v[$1] = ($2 == "null") ? "nan" : $2 }
  END { print v["lo:"], v["mid:"], v["hi:"] }' "$3"; }

# over A B C BASE: each less the base.
over() { awk -v a="$1" -v b="$2" -v c="$3" -v k="$4" 'BEGIN { print a - k, b - k, c - k }'; }

# less A B C BASE: each subtracted from the base, so that margins become temperatures (and low becomes high).
less() { awk -v a="$1" -v b="$2" -v c="$3" -v k="$4" 'BEGIN { print k - c, k - b, k - a }'; }

compared() { "$fw" compare "$1" --draws "$draws" --for "$2" --json >"$tmp/$3"; }

# scaled FILE FACTOR: the file with all watts times the factor; fins as low as stated for a factor under 1, as tall above 1.
scaled() { awk -v k="$2" '{ while (match($0, /heat: [0-9.]+ W/)) { printf "%sHEAT: %.4f W", substr($0, 1, RSTART - 1), k * substr($0, RSTART + 6, RLENGTH - 8); $0 = substr($0, RSTART + RLENGTH) } print }' "$1" |
  sed -e 's/HEAT:/heat:/g' -e "$(awk -v k="$2" 'BEGIN { print (k == 1) ? "" : "s/fin height: \\([0-9.]*\\) to \\([0-9.]*\\)/fin height: " (k < 1 ? "\\1" : "\\2") "/g" }')"; }

# faces PART FILE: area-weighted mean of a part's outer faces over the ambient, K, from the ledger of a run.
faces() { awk -v p="$1" '
  /"ambientK"/ && !amb { gsub(/,/, ""); amb = $2 }
  /"outflows"/ { on = 1 } /"crossings"/ { on = 0 }
  on && /"name"/ { own = index($0, "\"" p " ") }
  on && own && /"areaM2"/ { gsub(/,/, ""); a = $2; sum += a }
  on && own && /"meanK"/ { gsub(/,/, ""); t += a * $2 }
  END { printf "%.2f\n", t / sum - amb }' "$2"; }

# meanAt FILE PART TIME FACTOR [DESIGN]
meanAt() {
  scaled "$1" "$4" >"$tmp/scaled.yaml"
  "$fw" run "$tmp/scaled.yaml" --for "$3" ${5:+--retrofit "$5"} --json >"$tmp/run.json" || :
  faces "$2" "$tmp/run.json"
}

compared p1-bare-die-package-on-test-board.yaml "3 h" p1
set -- $(pick marginK stock "$tmp/p1"); line P1 "17 mm package on the test board" 15.8 16.4 $(less "$1" "$2" "$3" 98) K/W

k1=k1-pocket-camera-outside-power.yaml
compared $k1 "7 h" k1
set -- $(pick skinC stock "$tmp/k1"); line K1 "skin over room, hottest place" 13.7 15.6 $(over "$1" "$2" "$3" 25) K
line K1 "skin over room, mean of faces (ends)" 13.7 15.6 "$(meanAt $k1 shell "7 h" 0.7)" "$(meanAt $k1 shell "7 h" 1)" "$(meanAt $k1 shell "7 h" 1.3)" K

compared k2-board-in-aluminium-box.yaml "6 h" k2
set -- $(pick skinC stock "$tmp/k2"); line K2 "box over room, hottest place" 5 8 $(over "$1" "$2" "$3" 20.7) K
set -- $(pick marginK stock "$tmp/k2"); line K2 "chip over room" 7.3 7.3 $(less "$1" "$2" "$3" 64.3) K

compared k3-still-forward.yaml "240 min" k3
set -- $(pick minutes stock "$tmp/k3"); line K3 "still air, stops after (nothing learnt)" 28 28 "$1" "$2" "$3" min
compared k3-fan-forward.yaml "240 min" k3f
set -- $(pick minutes stock "$tmp/k3f"); line K3 "fan, still running (nothing learnt)" 240 240 "$1" "$2" "$3" min
compared k3-fan-learned.yaml "240 min" k3l
set -- $(pick minutes stock "$tmp/k3l"); line K3 "fan, still running (still run learnt)" 240 240 "$1" "$2" "$3" min

compared k5-throttled.yaml "60 min" k5
set -- $(pick marginK stock "$tmp/k5"); line K5 "chip, throttled, no sink" 87.0 88.1 $(less "$1" "$2" "$3" 110) °C
set -- $(pick marginK "sink inside the case" "$tmp/k5"); line K5 "chip, throttled, sink in the case" 86.5 86.5 $(less "$1" "$2" "$3" 100) °C # nearest limit: the tape on the chip, 100 °C
compared k5-sink-inside-closed-case.yaml "4 h" k5e
set -- $(pick marginK stock "$tmp/k5e"); echo "K5  at equal watts, not throttled (no figure seen): chip $(less "$1" "$2" "$3" 170) °C; with the sink $(less $(pick marginK "sink inside the case" "$tmp/k5e") 100) °C"

compared k6-metal-box-without-path.yaml "60 min" k6
set -- $(pick marginK stock "$tmp/k6"); line K6 "chip, throttled" 80 "" $(less "$1" "$2" "$3" 110) °C

k9=k9-aluminium-shell-fin-blocks.yaml
fall() { awk -v a="$(meanAt $k9 shell "3 h" "$1")" -v b="$(meanAt $k9 shell "3 h" "$1" "six fin blocks")" 'BEGIN { print a - b }'; }
line K9 "shell's fall by six blocks (ends)" 10 10 "$(fall 0.8)" "$(fall 1)" "$(fall 1.2)" K

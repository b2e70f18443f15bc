# rarefy run --band: quantiles in text, JSON and CSV; what does not go with it.
source "$(dirname "$0")/support.bash"
leaky='port/leaks/0/rate={"value": "1e-8 mbar L/s", "factor": 3}'

run run "$example" --band --samples 96 --set "$leaky"
expect 0 "band"
silent err "band"
for word in "HOW SURE (96 runs" "5 %" "not reached" "level of bulb" "WHERE THAT COMES FROM" "borosilicate glass" \
    "Nine runs of ten"; do
    says out "$word" "band"
done
awk 'length > 100 { bad = 1 } END { exit bad }' out || fail "band: lines above 100 columns"
COLUMNS=80 run run "$example" --band --samples 70
awk '/HOW SURE/ {on = 1} /WHAT DECIDES/ {on = 0} on && length > 96 { bad = 1 } END { exit bad }' out || fail "band: wide"
run run "$example" --band --samples 96 --set "$leaky" --json --jobs 1
expect 0 "band --json"
valid_json out "band --json"
cp out one
run run "$example" --band --samples 96 --set "$leaky" --json --jobs 3
cmp -s out one || fail "the number of threads changes the band"
holds out 'd["band"]["samples"] == 96 and len(d["band"]["inputs"]) == 5' "inputs"
holds out 'd["band"]["inputs"][0] == {"path": "port/leaks/0/rate", "factor": 3}' "the stated factor"
holds out 'all(t["time_s"]["p05"] <= t["time_s"]["p50"] <= t["time_s"]["p95"] for t in d["band"]["targets"])' "order"
holds out 'd["band"]["targets"][1]["time_s"]["p05"] < d["targets"][1]["time_s"] < d["band"]["targets"][1]["time_s"]["p95"]' \
    "the run lies in its band"
holds out 'len(d["band"]["chambers"]["bulb"]["pressure_Pa"]["p50"]) == len(d["band"]["time_s"])' "curve"
holds out '0.5 < sum(d["band"]["targets"][1]["first_order"].values()) < 1.1' "shares"
run run "$example" --band --samples 70 --at "1 min,1 h,2 h" --csv --pressure-unit mbar
expect 0 "band --csv"
[ "$(head -1 out)" = "time_s,port 5 %_mbar,port 50 %_mbar,port 95 %_mbar,bulb 5 %_mbar,bulb 50 %_mbar,bulb 95 %_mbar" ] ||
    fail "band --csv: $(head -1 out)"
[ "$(wc -l <out)" -eq 4 ] || fail "band --csv: lines"
run run jar.json --band
expect 0 "nothing uncertain"
says out "there is no band" "nothing uncertain"
run run "$example" --samples 10
expect 2 "--samples without --band"
run run "$example" --band --samples 0
expect 2 "no samples"
run run "$example" --band --fault "stop vane at 1 h"
expect 2 "--band with --fault"
finish

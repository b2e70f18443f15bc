#!/bin/bash
# rarefy fit: values with their confidence, the description written back, polite refusals, misuse.
. "$(dirname "$0")/support.bash"

# made with vane/scale 0.55; the log's clock begins 2 s after the pump
log=$source_dir/examples/bulb-slow.csv
gauge="port thermal gauge"

run fit "$example" "$log" --gauge "$gauge" --free vane/scale --free start --prior "start=5 s" -o fitted.json
expect 0 "a fit"
says out "FITTED" "a fit"
says out "vane/scale" "a fit"
silent err "a fit"
# comments and all else stay: only the pump gets a key
diff "$example" fitted.json >changes
[ "$(grep -c '^>' changes)" -eq 1 ] || fail "the fitted description differs in more than one line: $(cat changes)"
says changes '"scale": 0.54' "the fitted description"
run check fitted.json
expect 0 "the fitted description is sound"

run fit "$example" "$log" --gauge "$gauge" --free vane/scale --free start --json
expect 0 "JSON"
valid_json out "fit --json"
holds out 'd["determined"] and all(u["low"] < t < u["high"] for u, t in zip(d["unknowns"], [0.55, 2]))' "truth"
holds out 'd["log"]["left_out"][0]["why"] == "under-range mark"' "log"

rm -f fitted.json
run fit "$example" "$log" --gauge "$gauge" --free vane/speed --free vane/scale -o fitted.json
expect 1 "two names for one thing"
says out "cannot be told apart from this record" "two names for one thing"
says err "is not written" "two names for one thing"
says out "any value, NOT DETERMINED" "an interval without ends"
run fit "$example" "$log" --gauge "$gauge" --free vane/speed --free vane/scale --json
expect 1 "two names for one thing, JSON"
holds out 'all(not u["told"] and u["low"] is None and u["high"] is None for u in d["unknowns"])' "no ends in JSON"
[ ! -e fitted.json ] || fail "a fit that is not determined was written"

run fit "$example" "$log" --gauge "$gauge"
expect 2 "nothing free"
run fit "$example" "$log" --free vane/scale
expect 3 "no gauge named"
says err "port thermal gauge" "the gauges are listed"
run fit "$example" "$log" --gauge "$gauge" --free vane/sped
expect 3 "no such key"
says err "did you mean" "no such key"
run fit "$example" "$log" --gauge "$gauge" --free vane/scale --prior "vane/scale=0"
expect 3 "a prior that is none"
run fit "$example" "$log" --gauge "$gauge" --free vane/scale --noise "5 mm"
expect 2 "a noise that is none"
run fit "$example" no-log.csv --gauge "$gauge" --free vane/scale
expect 4 "no log"

finish

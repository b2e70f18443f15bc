# `rarefy run`: advice from exact sensitivities, all of them on request, none in --json without asking.
source "$(dirname "$0")/support.bash"

run run "$example"
expect 0 "run"
says out "IF YOU CHANGE ONE THING" "advice"
grep -q 'double the bore of stem (6 mm to 12 mm): .* sooner, after' out || fail "the stem is not advised"
grep -q 'WHAT EACH NUMBER DOES' out && fail "the whole table without asking"

run run "$example" --sensitivities
expect 0 "run --sensitivities"
says out "WHAT EACH NUMBER DOES" "the table"
says out "WHAT HOLDS BACK AND WHERE GAS COMES FROM, OVER TIME" "the split over time"

run run "$example" --json
holds out 'not {"sensitivities", "changes", "over_time"} & set(d)' "plain JSON has none of it"

run run "$example" --json --sensitivities
expect 0 "run --json --sensitivities"
valid_json out "run --json --sensitivities"
stem='next(s for s in d["sensitivities"] if s["name"] == "bore of stem")'
holds out "$stem[\"paths\"] == [\"stem/0/bore\"] and $stem[\"value\"] == 0.006 and $stem[\"unit\"] == \"m\"" "path and value"
holds out "-3 < $stem[\"targets\"][1][\"time_exponent\"] < -1.5" "time by the bore of the stem"
holds out "-3 < $stem[\"ultimate_exponent\"][\"bulb\"] < -1.5" "level by the bore of the stem"
holds out 'd["changes"][-4]["name"] == "bore of stem" and d["changes"][-4]["factor"] == 2' "the best change"
holds out 'all(p["parts"] and p["sources"] for p in d["over_time"] if p["speed_m3_s"])' "over time"

run run "$example" --sensitivities --method msbdf
expect 2 "a method without derivatives"
says err "--sensitivities" "a method without derivatives"
run run "$example" --sensitivities --csv
expect 2 "--csv has no place for them"
finish

# rarefy size: sentences, JSON, and what is told of a question that cannot be asked.
source "$(dirname "$0")/support.bash"

# the jar of support.bash: t = V/S ln(p0/p), so 1 Pa within 10 s asks for 11.513 L/s
run size jar.json --vary "$(python3 -c 'import json; print(json.load(open("jar.json"))["pumps"][0]["name"])')/speed" \
    --reach "jar < 1 Pa" --within "10 s" --json
expect 0 "size of the jar's pump"
valid_json out "size --json"
holds out 'd["verdict"] == "found" and d["asked_for"] == "smallest"' "verdict"
holds out 'abs(d["size"] / (10e-3 / 10 * math.log(1e5)) - 1) < 1e-4' "speed of the jar's pump"
holds out 'd["full_solves"] <= 12 and len(d["computed"]) <= 12' "full solves"
holds out 'all(a["size"] < b["size"] for a, b in zip(d["computed"], d["computed"][1:]))' "sizes in order"

ask() { run size "$example" --vary stem/0/bore "$@"; }
ask --reach "bulb < 1e-3 Pa" --within "20 min"
expect 0 "size"
silent err "size"
for word in "stem/0/bore: at least 7.8" "Next larger standard bore: 8 mm" "in hand" "As described, 6 mm" \
    "WHAT HOLDS IT BACK" "SIZES COMPUTED" "Wall data scatter" "SAFETY"; do
    says out "$word" "size"
done
awk 'length > 100 { bad = 1 } END { exit bad }' out || fail "size: lines above 100 columns"
ask --reach "bulb < 1e-3 Pa" --within "1 min"
expect 0 "no size is enough"
says out "no size reaches" "no size is enough"
says out "Because turbo then makes" "no size is enough"
ask --reach "ultimate bulb < 3e-5 Pa" --pressure-unit mbar
says out "e-7 mbar" "a pressure in mbar"
ask --reach "bulb < 1e-3 Pa" --within "20 min" -o kept.txt
silent out "size -o"
says kept.txt "at least" "size -o"

# where a bore hardly matters the smallest is asked for, and what is asked for can be said
run size "$source_dir/examples/bell-jar-coater.json" --vary "foreline hose/0/bore" --reach "bell jar < 1e-3 Pa" \
    --within "1 h" --json
holds out 'd["asked_for"] == "smallest" and d["size"] < 0.02 and d["full_solves"] <= 12' "the smallest hose"
run size "$source_dir/examples/bell-jar-coater.json" --vary "foreline hose/0/bore" --reach "bell jar < 1e-3 Pa" \
    --within "1 h" --json --largest
holds out 'd["asked_for"] == "largest" and d["size"] > 0.4' "the largest hose"
ask --smallest --largest --reach "bulb < 1 Pa"
expect 2 "smallest and largest"
ask
expect 2 "nothing wanted"
says err "one of --reach and --keep" "nothing wanted"
run size "$example" --reach "bulb < 1 Pa"
expect 2 "nothing varied"
says err "nothing is varied" "nothing varied"
ask --reach "bulb < 1 furlong"
expect 2 "a condition that is none"
says err "furlong" "a condition that is none"
ask --reach "bulp < 1 Pa"
expect 2 "a chamber that is none"
says err 'did you mean "bulb"' "a chamber that is none"
run size "$example" --vary stem/0/bor --reach "bulb < 1 Pa"
expect 3 "a path that is none"
says err 'did you mean "bore"' "a path that is none"
run size "$example" --vary bulb/walls/0/material --reach "bulb < 1 Pa"
expect 3 "a path that is no quantity"
ask --keep "bulb < 1 Pa"
expect 2 "keep without a fault"
ask --keep "bulb < 1 Pa" --for "10 min" --fault "stop vane"
expect 2 "a fault without a time"
says err "does not say when the fault strikes" "a fault without a time"
ask --reach "bulb < 1 Pa" --for "10 min"
expect 2 "--for with --reach"
ask --reach "bulb < 1 Pa" --from "9 mm" --to "7 mm"
expect 2 "an empty range"
ask --reach "bulb < 1 Pa" --from "9 kg"
expect 2 "a range of another kind"
finish

# rarefy compare: files, alternatives of one file, sentences, JSON.
source "$(dirname "$0")/support.bash"
short=$source_dir/examples/desiccator-short-hose.json
long=$source_dir/examples/desiccator-long-hose.json

# the question of these two examples, answered in one command with a sentence
run compare "$short" "$long"
expect 0 "compare"
silent err "compare"
for word in "B: hose/1/length 2 m instead of 1 m: it costs" "of the time to 15 Pa (parts dry well)" "by more than 1 %" \
    "in desiccator" "TIMES" "WHERE THE PRESSURES LEVEL OFF" "WHAT HOLDS THE SPEED BACK" "WHAT IS DIFFERENT" "SAFETY"; do
    tr '\n' ' ' <out | tr -s ' ' >flat
    says flat "$word" "compare"
done
awk 'length > 100 { bad = 1 } END { exit bad }' out || fail "compare: lines above 100 columns"
COLUMNS=80 run compare "$short" "$long"
awk 'length > 84 { bad = 1 } END { exit bad }' out || fail "compare: lines far above 80 columns"
run compare "$short" "$long" --json
expect 0 "compare --json"
valid_json out "compare --json"
holds out '[s["name"][-9:] for s in d["systems"]] == ["hose.json", "hose.json"]' "names"
holds out 'd["differences"][0]["changes"] == [{"path": "hose/1/length", "from": "1 m", "to": "2 m"}]' "changes"
holds out 'd["differences"][0]["targets"][2]["ratio"] > 1.2' "ratio"
cp out files
run run "$long" --json
value out 'd["targets"][2]["time_s"]' >time
python3 -c 'import json,sys; d=json.load(open("files")); t=float(open("time").read())
assert abs(d["systems"][1]["targets"][2]["time_s"]/t-1)<2e-3, t' || fail "the time of compare is not that of run"

# the same as alternatives of one file
run compare "$short" --set "hose/1/length=2 m" --json
expect 0 "an alternative"
python3 -c 'import json,sys
a,b=json.load(open("files")),json.load(open("out"))
assert a["differences"][0]["targets"]==b["differences"][0]["targets"]' || fail "an alternative is not what the file is"
run compare "$short" --set "hose/1/length=2 m" --set "vane/speed=6 m3/h; hose/1/bore=10 mm" --json
holds out 'len(d["systems"]) == 3 and len(d["differences"][1]["changes"]) == 2' "two alternatives"
run compare "$short" "$long" --set "vane/speed=6 m3/h" --json
holds out 'd["differences"][0]["changes_in_all"] == 1' "a change made to all"
run compare "$source_dir/examples/two-port-exhaust.json" "$source_dir/examples/two-port-too-early.json"
expect 5 "one breaks a limit"
says out "LIMIT BROKEN in B" "one breaks a limit"
run compare "$short"
expect 2 "nothing to compare with"
run compare "$short" missing.json
expect 4 "a missing file"
run compare "$short" --set "hose/1/lenth=2 m"
expect 3 "a wrong path"
run compare "$short" "$long" -o kept --pressure-unit mbar
silent out "compare -o"
says kept "mbar" "compare -o"
finish

# What walls, getters and cold surfaces hold, in text and JSON.
source "$(dirname "$0")/support.bash"

run run "$source_dir/examples/freeze-dryer.json"
expect 0 "freeze-dryer"
says out "WHAT IS HELD" "freeze-dryer"
says out "frozen load: 150 g of H2O, none" "the load is dry"
says out "coil: none of H2O, 150 g" "the ice is on the coil"
run run "$source_dir/examples/freeze-dryer.json" --json
valid_json out "freeze-dryer --json"
holds out '[h["name"] for h in d["held"]] == ["frozen load", "coil"]' "held"
holds out 'abs(d["held"][0]["start_mol"] * 18.015 / 150 - 1) < 1e-9' "150 g"
holds out 'abs(sum(h["start_mol"] - h["end_mol"] for h in d["held"]) / d["balance"]["H2O"]["from_walls_mol"] - 1) < 1e-9' \
    "what walls gave off is what they hold less"
# a warm trap lets the pump's oil through, a cold one does not
run run "$source_dir/examples/cold-trap.json" --json
cold=$(value out 'd["series"]["partial_Pa"]["sample tube"]["oil"][-1]')
run run "$source_dir/examples/cold-trap.json" --json --set "trap/condensates/0/temperature=20 degC" \
    --set "trap/condensates/1/temperature=20 degC"
warm=$(value out 'd["series"]["partial_Pa"]["sample tube"]["oil"][-1]')
python3 -c 'import sys; sys.exit(not 100 * float(sys.argv[1]) < float(sys.argv[2]))' "$cold" "$warm" ||
    fail "oil behind a cold trap $cold Pa, behind a warm one $warm Pa"
run run jar.json
expect 0 "nothing held"
grep -q "WHAT IS HELD" out && fail "an empty table of what is held"
finish

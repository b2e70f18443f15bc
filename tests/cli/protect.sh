# rarefy protect and rarefy run --fault: exit codes, progress on a terminal only. Speed: tests/bench.
source "$(dirname "$0")/support.bash"
bench=$source_dir/examples/two-port-exhaust.json
early=$source_dir/examples/two-port-too-early.json

run protect "$bench"
expect 0 "protect"
silent err "no progress in a pipe"
says out "TIME AVAILABLE" "protect"
says out "CAUTIONS" "protect"
awk 'length > 100 { bad = 1 } END { exit bad }' out || fail "protect: lines above 100 columns"
run protect "$bench" --json --jobs 1
expect 0 "protect --json"
valid_json out "protect --json"
holds out 'len(d["cases"]) >= 60' "number of cases"
holds out 'all(a["available_s"] <= b["available_s"] for a, b in zip(d["cases"], d["cases"][1:]) if b["limit"])' "sorted"
cp out one
run protect "$bench" --json -j 3
cmp -s out one || fail "the number of threads changes the answer"
run protect "$early"
expect 5 "a procedure that breaks a limit by itself"
says out "THE PROCEDURE ITSELF BREAKS A LIMIT" "a procedure that breaks a limit by itself"
for jobs in 0 65 two 1.5; do
    run protect "$bench" --jobs $jobs
    expect 2 "--jobs $jobs"
    says err "a whole number from 1 to 64" "--jobs $jobs"
done
run protect wrong.json
expect 3 "protect of a wrong description"
run protect missing.json
expect 4 "protect of a missing file"

# progress on a terminal, wiped out at the end
if command -v script >/dev/null; then
    # a hose of 100 cells takes seconds; what is done within one shows no progress
    script -qec "'$program' protect '$bench' --jobs 1 --set \"foreline hose/cells=100\" -o kept" typescript >/dev/null </dev/null
    grep -q "cases" typescript || fail "no progress on a terminal"
fi

run run "$bench" --fault "lamp chips"
expect 5 "a fault that breaks limits"
says out "THE FAULT: crack lamp A 0.2 mm2, at 20 min" "a fault"
says out "Time available:" "a fault"
says out "Largest hole that can be saved (the rules of the description)" "a fault"
run run "$bench" --fault "stop vane at 1 h" --json
expect 0 "a harmless fault"
valid_json out "a harmless fault"
holds out 'd["fault"]["struck"] and not d["fault"]["breaks"] and d["fault"]["time_s"] == 3600' "a harmless fault"
run run "$bench" --fault "stop vane at 4 h"
expect 0 "a fault after the end of the run"
says out "It did not strike within the 3 h" "a fault after the end of the run"
run run "$bench" --fault "stop vain at 1 h"
expect 2 "an unknown part"
says err "no pump \"vain\"" "an unknown part"
run run "$bench" --fault "lamp crisp at 1 h"
expect 2 "an unknown fault"

# Glass may crack whatever holds the water on it, and by whatever name it goes.
run protect "$source_dir/examples/baked-bulb.json"
says out "crack bulb 1 cm2" "glass whose walls remember"
sed 's/borosilicate glass/Pyrex/; s/photocell/test/' "$source_dir/examples/photocell-bulb.json" >pyrex.json
run protect pyrex.json
says out "crack bulb 1 cm2" "glass by a trade name"
run run pyrex.json
says out "can implode" "caution for glass by a trade name"
says out "bulb wall (borosilicate glass)" "its own name in the answer"

run list actions
says out "back-fill <chamber> with <gas> to <pressure>" "list actions"
finish

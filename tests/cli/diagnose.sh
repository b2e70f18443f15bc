#!/bin/bash
# rarefy diagnose: the suspects in order, where they would show, a sound bench, two faults, misuse.
. "$(dirname "$0")/support.bash"

log=$source_dir/examples/bulb-slow.csv
gauge="port thermal gauge"

run diagnose "$example" "$log" --gauge "$gauge"
expect 0 "a worn pump"
says out "MOST LIKELY: vane pumps at 0.5" "a worn pump"
says out "would show from" "where it would show"
silent err "a worn pump"

run diagnose "$example" "$log" --gauge "$gauge" --json
expect 0 "JSON"
valid_json out "diagnose --json"
holds out 'd["suspects"][0]["kind"] == "worn pump" and d["clear"]' "first suspect"
holds out 'abs(sum(s["weight"] for s in d["suspects"]) - 1) < 1e-9' "weights"

# a log of the description itself: nothing is wrong
desiccator=$source_dir/examples/desiccator-short-hose.json
"$program" run "$desiccator" --json --at "5 s,10 s,20 s,30 s,45 s,1 min,90 s,2 min,3 min,4 min,5 min,7 min,10 min,15 min,20 min" >run.json
chamber=$(value run.json 'list(d["series"]["pressure_Pa"])[0]')
python3 - run.json "$chamber" >sound.csv <<'END'
import json, sys
d = json.load(open(sys.argv[1]))["series"]
print("time (s),p (Pa)")
for i, (t, p) in enumerate(zip(d["time_s"], d["pressure_Pa"][sys.argv[2]])):
    print("%g,%.6g" % (t, p * (1 + 0.02 * (-1) ** i)))
END
run diagnose "$desiccator" sound.csv --gauge "$chamber"
expect 0 "a sound bench"
says out "NOTHING IS WRONG that this record shows" "a sound bench"

run diagnose "$example" "$log"
expect 3 "no gauge named"
run diagnose "$example" "$log" --gauge "no such gauge"
expect 3 "no such gauge"
run diagnose "$example"
expect 2 "no log"

finish

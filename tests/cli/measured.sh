#!/bin/bash
# rarefy run --measured: readings beside the prediction, in words.
. "$(dirname "$0")/support.bash"

log=$source_dir/examples/bulb-slow.csv
gauge="port thermal gauge"

run run "$example" --measured "$log" --gauge "$gauge"
expect 0 "a worn pump"
says out "MEASURED BESIDE PREDICTED" "a worn pump"
says out "it reads HIGHER than predicted, by up to a factor" "a worn pump"
says out "under-range mark (line 33 and after)" "the account of the log"

# a vessel on a constant speed: p = p0 exp(-S t/V), readings 2.00 times that from 100 s on
cat >vessel.json <<'END'
{"rarefy": 1, "gases": ["air"],
 "chambers": [{"name": "vessel", "volume": "10 L"}],
 "pumps": [{"name": "pump", "kind": "ideal", "from": "vessel", "to": "ambient", "speed": "0.5 L/s"}],
 "gauges": [{"name": "gauge", "at": "vessel", "kind": "capacitance"}],
 "run": {"until": "300 s"}}
END
python3 - >log.csv <<'END'
import math
print("time (s),p (Pa)")
for t in range(0, 300, 2):
    print("%d,%.6g" % (t, 101325 * math.exp(-0.05 * t) * (2 if t > 100 else 1)))
print("400,1")
END
run run vessel.json --measured log.csv --json
expect 0 "JSON"
valid_json out "run --measured --json"
holds out '[d["side"] for d in d["measured"]["deviations"]] == [0, 1]' "two stretches"
holds out 'abs(d["measured"]["deviations"][1]["most"] / 2 - 1) < 0.01' "the factor"
holds out '98 <= d["measured"]["deviations"][1]["from_s"] <= 104' "where it begins"
holds out 'd["measured"]["deviations"][0]["most"] < 1.01' "on the curve before"
holds out 'd["measured"]["without_prediction"] == 1' "a reading after the end"
run run vessel.json --measured log.csv
says out "gauge follows the prediction, within" "in words"
says out "it reads HIGHER than predicted, by up to a factor 2 " "in words"

run run "$example" --measured "$log"
expect 3 "no gauge named"
says err "hot gauge" "the gauges are listed"
run run "$example" --gauge "$gauge"
expect 2 "a gauge without a log"
run run "$example" --measured no-log.csv
expect 4 "no log"
silent out "no log"

finish

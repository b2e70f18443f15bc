#!/bin/bash
# rarefy rise: answers, misuse, logs that are none, and logs too long to keep.
. "$(dirname "$0")/support.bash"

port=$source_dir/examples/port-isolated.csv
tightened=$source_dir/examples/port-tightened.csv

run rise "$port" --volume "0.6 L" --gauge thermal --pressure-unit mbar
expect 0 "a rise test"
says out "BOTH: a leak of" "verdict"
says out "IS THE RECORD LONG ENOUGH?" "length"
says out "over-range mark: line 26" "account of what was dropped"
silent err "a rise test"

run rise "$port" "$tightened" --volume "0.6 L" --gauge thermal
expect 0 "two tests"
says out "leak fell from" "comparison"

run rise "$port" --volume "0.6 L" --json
expect 0 "JSON"
valid_json out "rise --json"
# made with 2.4e-6 mbar L/s: 2.4e-7 Pa m3/s
holds out 'd["verdict"] == "both" and d["leak_Pa_m3_per_s"]["low"] < 2.4e-7 < d["leak_Pa_m3_per_s"]["high"]' "leak"
holds out 'd["log"]["used"] == 60 and d["log"]["left_out"][0]["first_line"] == 26' "log"

run rise "$port" --in "$example" --chamber port --json
expect 0 "volume from a description"
holds out '0.4e-3 < d["volume_m3"] < 0.8e-3' "volume of the port with its tubing"

run rise "$port"
expect 2 "no volume"
says err "--volume" "no volume"
run rise "$port" --volume "0.6 mm"
expect 2 "volume in millimetres"
run rise "$port" --volume "0.6 L" --gauge thermometer
expect 3 "unknown gauge"
says err "thermal, hot cathode" "unknown gauge"
run rise "$port" --in "$example" --chamber nowhere
expect 3 "unknown chamber"
run rise no-such-log.csv --volume "1 L"
expect 4 "no such log"
run rise . --volume "1 L"
expect 4 "a directory"
run rise "$port" --volume "1 L" --columns "1,9"
expect 3 "no such column"
says err "no column \"9\"" "no such column"
run rise "$port" --volume "1 L" -o /no/such/folder/x
expect 4 "unwritable"

# no logs at all: each ends with a reason and exit code 3
head -c 300000 "$program" >binary.csv
head -c 200000 /dev/zero >zeros.csv
head -c 500000 /dev/zero | tr '\0' 7 >one-line.csv
printf 'just words\nno numbers\n' >words.csv
: >empty.csv
printf 'time (s);p (mbar)\n0,5;1.0\n1,5;1,1\n2,5;0.9\n3,5;1,2\n4,5;1,3\n5,5;1,4\n' >mixed.csv
printf 't,p (mbar)\n0,5,1013,2\n1,5,1000,7\n' >doubled.csv
printf 'time (s),p (Pa)\n0,OL\n1,OL\n' >over.csv
for log in binary zeros one-line words empty doubled over; do
    run rise $log.csv --volume "1 L"
    expect 3 "$log.csv"
    says err "$log.csv" "$log.csv is named"
    silent out "$log.csv"
done
run rise mixed.csv --volume "1 L"
expect 0 "mixed decimal marks"
says out "another decimal mark than the rest: lines 2 to 4" "mixed decimal marks are accounted for"

# a log of 40 MB through a pipe, in a small memory
cat >long.py <<'END'
import sys
sys.stdout.write("time (s),p (Pa)\n")
for block in range(400):
    t0 = block * 5000
    sys.stdout.write("".join("%d,%.5f\n" % (t, 0.1 + 1e-6 * t) for t in range(t0, t0 + 5000)))
END
python3 long.py | (ulimit -v 200000; "$program" rise - --volume "1 L" --json >out 2>err)
code=$?
expect 0 "two million rows"
holds out 'd["log"]["used"] == 2000000 and d["log"]["thinned"] and d["verdict"] == "leak"' "two million rows"
holds out 'abs(d["leak_Pa_m3_per_s"]["value"] / 1e-9 - 1) < 1e-3' "two million rows"

finish

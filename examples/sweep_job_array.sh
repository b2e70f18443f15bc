#!/bin/sh
# One sweep in many parts: a grid of stems and leaks of the photocell bench, 84 runs.
#
# For any scheduler with job arrays: start it once for each part, with the number of the part and how many
# there are, on machines that share the folder. A task that was ended is started again in the same way and
# goes on where it was. When all are done, join the parts.
#
#   sh sweep_job_array.sh part 3 10 FOLDER      part 3 of 10
#   sh sweep_job_array.sh join 10 FOLDER        all lines in order, to standard output
#
# In a job array, 3 is what your scheduler calls the task's number (from 1). RAREFY names the program.
set -eu
rarefy=${RAREFY:-rarefy}
bench=$(dirname "$0")/photocell-bulb.json

case ${1:-} in
part)
    exec "$rarefy" sweep "$bench" \
        --over "stem/0/bore=even(4 mm, 10 mm, 7)" \
        --over "port/leaks/0/rate=log(1e-9 mbar L/s, 1e-6 mbar L/s, 12)" \
        --shard "$2/$3" --jobs "${JOBS:-1}" --resume -o "$4/part-$2.jsonl"
    ;;
join)
    part=1
    while [ "$part" -le "$2" ]; do
        cat "$3/part-$part.jsonl"
        part=$((part + 1))
    done
    ;;
*)
    sed -n '2,11s/^# \{0,1\}//p' "$0" >&2
    exit 2
    ;;
esac

#!/bin/sh
# A table of speed and memory, whole processes: sh bench.sh RAREFY MEASURE PYTHON
# Each `row` is one case; another set of cases is another script that sources this one with RAREFY_BENCH_LIB=1.
set -eu
rarefy=$1 measure=$2 python=$3
here=$(cd "$(dirname "$0")" && pwd)
examples=$here/../../examples
last_wall= last_cpu=

head_line() {
    printf '%-52s %10s %10s %10s\n' "$1" 'wall ms' 'cpu ms' 'peak MB'
}

# row LABEL REPEATS COMMAND...: keeps its times in last_wall and last_cpu; "-" when the command cannot run here
row() {
    label=$1 repeats=$2
    shift 2
    if numbers=$("$measure" "$repeats" "$@" 2>/dev/null); then
        last_wall=${numbers%% *}
        last_cpu=${numbers#* }
        last_cpu=${last_cpu% *}
        echo "$numbers" | awk -v label="$label" '{printf "%-52s %10.1f %10.1f %10.1f\n", label, 1e3 * $1, 1e3 * $2, $3 / 1024}'
    else
        last_wall= last_cpu=
        printf '%-52s %10s %10s %10s\n' "$label" - - -
    fi
}

ratio() { # ratio LABEL SLOW_WALL FAST_WALL SLOW_CPU FAST_CPU
    [ -n "$2" ] && [ -n "$3" ] &&
        awk -v label="$1" -v a="$2" -v b="$3" -v c="$4" -v d="$5" \
            'BEGIN {printf "%-52s %9.0fx %9.0fx\n", label, a / b, c / d}'
    return 0
}

less() { # less A B: A - B
    awk -v a="$1" -v b="$2" 'BEGIN {print a - b}'
}

[ "${RAREFY_BENCH_LIB:-}" ] && return 0

day="--set run/until=24h"
head_line 'photocell bench, 24 h'
row 'rarefy run (with both ends of the band)' 20 "$rarefy" run $day "$examples/photocell-bulb.json"
ours=$last_wall ours_cpu=$last_cpu
row 'rarefy run, tolerance 1e-6' 10 "$rarefy" run $day --tolerance 1e-6 "$examples/photocell-bulb.json"
row 'rarefy ultimate' 20 "$rarefy" ultimate $day "$examples/photocell-bulb.json"
row 'rarefy check' 20 "$rarefy" check "$examples/photocell-bulb.json"
row 'rarefy protect, two-port bench' 3 "$rarefy" protect "$examples/two-port-exhaust.json"
row 'rarefy shelf, sealed lamp' 10 "$rarefy" shelf "$examples/sealed-lamp.json"
row 'the same network with SciPy, BDF, vectorised' 2 "$python" "$here/photocell_scipy.py" 24 BDF 1e-4
theirs=$last_wall theirs_cpu=$last_cpu
row 'Python, NumPy and SciPy only imported' 3 "$python" -c 'import numpy, scipy.integrate'
imports=$last_wall imports_cpu=$last_cpu
ratio 'SciPy takes longer' "$theirs" "$ours" "$theirs_cpu" "$ours_cpu"
[ -n "$theirs" ] && [ -n "$imports" ] &&
    ratio 'SciPy takes longer, the start of Python not counted' "$(less "$theirs" "$imports")" "$ours" \
        "$(less "$theirs_cpu" "$imports_cpu")" "$ours_cpu"
echo
head_line 'examples, rarefy run'
for file in "$examples"/*.json; do
    row "$(basename "$file" .json)" 5 "$rarefy" run -o /dev/null "$file"
done

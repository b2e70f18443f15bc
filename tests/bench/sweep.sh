#!/bin/sh
# Sweeps: points per second, one thread against two, memory over 100,000 points, and a loop over SciPy.
# sh sweep.sh RAREFY MEASURE PYTHON
set -eu
RAREFY_BENCH_LIB=1
. "$(dirname "$0")/bench.sh"

bench=$examples/photocell-bulb.json
points=${POINTS:-2000}
over="stem/0/bore=even(5 mm, 8 mm, $points)"
rate() { # rate LABEL WALL CPU
    [ -n "$2" ] && awk -v label="$1" -v n="$points" -v wall="$2" -v cpu="$3" \
        'BEGIN {printf "%-52s %8.0f/s  %7.2f ms of processor a run\n", label, n / wall, 1e3 * cpu / n}'
    return 0
}

head_line "photocell bench to its last target, tolerance 1e-4, $points points"
row '1 thread' 2 "$rarefy" sweep "$bench" --over "$over" --tolerance 1e-4 -j 1 -o /dev/null
one=$last_wall one_cpu=$last_cpu
row '2 threads' 2 "$rarefy" sweep "$bench" --over "$over" --tolerance 1e-4 -j 2 -o /dev/null
two=$last_wall two_cpu=$last_cpu
rate '1 thread' "$one" "$one_cpu"
rate '2 threads' "$two" "$two_cpu"
ratio_fine() {
    awk -v a="$1" -v b="$2" 'BEGIN {printf "%-52s %9.2fx\n", "2 threads against 1", a / b}'
}
[ -n "$one" ] && [ -n "$two" ] && ratio_fine "$one" "$two"

# what a tolerance costs, and how far target times are then from those at 1e-9
few="stem/0/bore=even(5 mm, 8 mm, 41)" times="${TMPDIR:-/tmp}/rarefy-bench-$$"
trap 'rm -f "$times".*' EXIT
times_of() { # times_of TOLERANCE: one target time a line
    "$rarefy" sweep "$bench" --over "$few" --tolerance "$1" -j 2 2>/dev/null </dev/null |
        grep -o '"time_s": [0-9.e+-]*' | cut -d' ' -f2
}
times_of 1e-9 >"$times.exact"
for tolerance in 1e-4 1e-3 1e-2; do
    row "2 threads, tolerance $tolerance" 2 "$rarefy" sweep "$bench" --over "$over" --tolerance $tolerance -j 2 -o /dev/null
    rate "2 threads, tolerance $tolerance" "$last_wall" "$last_cpu"
    times_of $tolerance | paste "$times.exact" - |
        awk '{e = $2 / $1 - 1; e = e < 0 ? -e : e; worst = e > worst ? e : worst}
             END {printf "%-52s %9.1e\n", "greatest error of " NR " target times", worst}'
done

# the time to the last target, about 0.6 h, in one process; what importing takes is not counted
loop='import sys, time; sys.path.insert(0, sys.argv[1]); import photocell_scipy as p
t = time.process_time()
for _ in range(3): p.solve(0.6, "BDF", 1e-4)
print((time.process_time() - t) / 3)'
if seconds=$("$python" -c "$loop" "$here" 2>/dev/null) && [ -n "$one_cpu" ]; then
    awk -v a="$seconds" -v b="$one_cpu" -v n="$points" \
        'BEGIN {printf "%-52s %9.0fx  (%.0f ms a run)\n", "a loop over SciPy, BDF, takes longer on one core", a / (b / n), 1e3 * a}'
fi

echo
head_line 'a small system: memory over many points'
cat >"$times.json" <<'JSON'
{"rarefy": 1, "title": "Jar", "gases": ["N2"], "ready_limits": false,
 "chambers": [{"name": "jar", "volume": "10 L", "start": {"N2": "1e5 Pa"}}],
 "pumps": [{"name": "pump", "kind": "ideal", "from": "jar", "to": "ambient", "speed": "5 L/s"}],
 "targets": [{"name": "low", "chamber": "jar", "pressure": "1 Pa"}], "run": {"until": "10 min"}}
JSON
trap 'rm -f "$times".*' EXIT
for n in 1000 100000; do
    row "$n points" 1 "$rarefy" sweep "$times.json" --over "jar/volume=logbetween(5 L, 20 L)" \
        --samples $n -j 2 -o /dev/null
done

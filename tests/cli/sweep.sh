# rarefy sweep: order, bad points, parts, resumption after kill -9, descriptions one a line, schedulers.
source "$(dirname "$0")/support.bash"
export RAREFY=$program

# 24 quick points; the jar empties as exp(-t S/V), which gives the times themselves
pump=$(python3 -c 'import json; print(json.load(open("jar.json"))["pumps"][0]["name"])')
sweep() {
    run sweep jar.json --set "run/until=1 h" --over "$pump/speed=2 L/s,5 L/s,-1 L/s" --over "jar/volume=log(1 L, 100 L, 8)" "$@"
}
sweep -j 1
expect 0 "sweep"
says err "8 of 24 points came to no result" "sweep"
cp out whole
python3 - whole <<'PY' || fail "lines of the grid"
import json, math, sys
lines = [json.loads(l) for l in open(sys.argv[1])]
assert [l["point"] for l in lines] == list(range(24))
for l in lines:
    speed, volume = l["set"].values()
    if speed == "-1 L/s":
        assert l["status"] == "bad" and "too small" in l["problem"]["what"], l
        continue
    v = float(volume.split()[0]) / (float(speed.split()[0]) * 1e-3)
    t = l["targets"][0]
    assert t["reached"] and abs(t["time_s"] / (v * math.log(1e5)) - 1) < 2e-3, (l, v * math.log(1e5))
first = [l["set"] for l in lines[:2]]
assert list(first[0].values())[0] == list(first[1].values())[0], "the last value goes fastest"
PY
for jobs in 2 5; do
    sweep -j $jobs
    cmp -s out whole || fail "the number of threads changes the lines"
done

# parts, contiguous: joined they are the whole, also where there are more parts than points
for parts in 1 5 24 30; do
    : >joined
    for part in $(seq $parts); do
        sweep --shard $part/$parts
        cat out >>joined
    done
    cmp -s joined whole || fail "$parts parts joined are not the whole"
done
sweep --shard 0/4
expect 2 "part 0"
sweep --shard 5/4
expect 2 "part 5 of 4"
sweep --shard 3
expect 2 "a part of nothing"

# taken up again: nothing there, a few lines, half a line, all of it; the bytes are those of an undisturbed sweep
sweep -o grown --resume
cmp -s grown whole || fail "resumed from nothing"
for bytes in 0 1 500 1900 $(($(wc -c <whole) - 1)) $(wc -c <whole); do
    head -c "$bytes" whole >grown
    sweep -o grown --resume
    expect 0 "resumed after $bytes bytes"
    cmp -s grown whole || fail "resumed after $bytes bytes"
done
head -c 1900 whole >grown
run sweep jar.json --over "$pump/speed=2 L/s,5 L/s" --over "jar/volume=log(1 L, 100 L, 8)" -o grown --resume
expect 2 "resumed with another sweep"
says err "belongs to another sweep" "resumed with another sweep"
cp whole grown
cat whole >>grown
sweep -o grown --resume
expect 2 "more lines than the sweep has"
sweep --resume
expect 2 "--resume without -o"

# killed for good half-way, twice, then resumed
long() {
    "$program" sweep "$example" --over "stem/0/bore=even(4 mm, 9 mm, 60)" --tolerance 1e-4 "$@" </dev/null
}
long -j 2 -o undisturbed || fail "a longer sweep"
for stop in 5 30; do
    long -j 2 -o killed --resume 2>/dev/null &
    pid=$!
    while kill -0 $pid 2>/dev/null && [ "$(cat killed 2>/dev/null | wc -l)" -lt $stop ]; do sleep 0.01; done
    kill -9 $pid 2>/dev/null
    wait $pid 2>/dev/null
done
[ "$(wc -l <killed)" -lt 60 ] || fail "it was done before it was killed"
long -j 1 -o killed --resume || fail "resumed after kill -9"
cmp -s killed undisturbed || fail "resumed after kill -9: other bytes"

# samples
run sweep "$example" --spreads --samples 3 --over "port/leaks/0/rate=spread(1e-8 mbar L/s, 3)"
expect 0 "samples"
python3 - out <<'PY' || fail "samples"
import json, sys
lines = [json.loads(l) for l in open(sys.argv[1])]
assert len(lines) == 3 and len(lines[0]["walls_times"]) == 4
assert abs(float(lines[0]["set"]["port/leaks/0/rate"].split()[0]) / 1e-9 - 1) < 1e-12  # the median comes first
# u = 0.75 of the second: 3^(0.67449/1.64485)
assert abs(float(lines[1]["set"]["port/leaks/0/rate"].split()[0]) / 1e-9 - 3 ** (0.6744897502 / 1.6448536270)) < 1e-9 or \
       abs(float(lines[1]["set"]["port/leaks/0/rate"].split()[0]) / 1e-9 - 3 ** (-0.6744897502 / 1.6448536270)) < 1e-9
PY
run sweep "$example" --over "port/leaks/0/rate=spread" --samples 4
expect 2 "a spread that is not stated"
says err "no spread is stated" "a spread that is not stated"
run sweep "$example" --over "port/leaks/0/rate=spread" --samples 4 \
    --set 'port/leaks/0/rate={"value": "1e-8 mbar L/s", "factor": 3}'
expect 0 "a stated spread"
run sweep "$example" --spreads
expect 2 "how many samples"
run sweep "$example" --over "stem/0/bore=6 mm" --samples 4
expect 2 "samples of nothing"
for wrong in "stem/0/bore" "=3 mm" "stem/0/bore=" "stem/0/bore=5 mm,,6 mm" "stem/0/bore=log(1 mm, 2 mm)" \
    "stem/0/bore=log(0 mm, 2 mm, 3)" "stem/0/bore=even(1 mm, 2 s, 3)" "stem/0/bor=even(1 mm, 2 mm, 3)" \
    "stem/0/bore=spread(1 mm, 0.5)" "stem/0/bore=even(1 mm, 2 mm, 3"; do
    run sweep "$example" --over "$wrong" --samples 2
    expect 2 "--over \"$wrong\""
    [ -s err ] || fail "--over \"$wrong\" is not told"
done

# descriptions, one a line; a wrong one is told in its place
python3 - <<'PY'
import json
d = json.load(open("jar.json"))
d["run"]["until"] = "1 h"
with open("lines", "w") as out:
    for volume in ("5 L", "10 L", "a lot", "20 L"):
        d["chambers"][0]["volume"] = volume
        out.write(json.dumps(d) + "\n")
    out.write("\n{]\n")
PY
run sweep --lines lines
expect 0 "lines"
cp out from_file
python3 - out <<'PY' || fail "descriptions one a line"
import json, sys
lines = [json.loads(l) for l in open(sys.argv[1])]
assert [l["status"] for l in lines] == ["done", "done", "bad", "done", "bad"], lines
assert lines[2]["problem"]["path"] == "jar/volume" and lines[2]["problem"]["column"] > 1
assert abs(lines[3]["targets"][0]["time_s"] / lines[0]["targets"][0]["time_s"] - 4) < 1e-2
PY
"$program" sweep --lines - -j 2 <lines >out 2>err || fail "lines from standard input"
cmp -s out from_file || fail "lines from standard input"
head -c 700 from_file >grown
run sweep --lines lines -o grown --resume
cmp -s grown from_file || fail "lines, resumed"
: >joined
for part in 1 2 3; do
    run sweep --lines lines --shard $part/3
    cat out >>joined
done
cmp -s joined from_file || fail "lines, in parts"
"$program" sweep --lines - --shard 1/2 <lines >out 2>err
[ $? -eq 2 ] || fail "a part of standard input"
run sweep --lines lines --over "jar/volume=1 L"
expect 2 "--lines with --over"

# Ctrl-C leaves whole lines that can be taken up
# (SIGINT as a terminal has it: a shell ignores it in the background)
python3 -c 'import os, signal, sys
signal.signal(signal.SIGINT, signal.SIG_DFL)
os.execv(sys.argv[1], sys.argv[1:])' "$program" sweep "$example" --over "stem/0/bore=even(4 mm, 9 mm, 60)" \
    --tolerance 1e-4 -o stopped 2>err </dev/null &
pid=$!
while kill -0 $pid 2>/dev/null && [ "$(cat stopped 2>/dev/null | wc -l)" -lt 5 ]; do sleep 0.01; done
kill -INT $pid 2>/dev/null
wait $pid
[ $? -eq 130 ] || fail "interrupted: exit code"
says err "--resume goes on" "interrupted"
long -o stopped --resume
cmp -s stopped undisturbed || fail "resumed after an interruption"
run sweep jar.json --over "jar/volume=1 L,2 L" -o nowhere/lines
expect 4 "a file that cannot be"
run sweep jar.json --over "jar/volume=even(1 L,2 L,3)" -o /dev/full
expect 4 "a full disk"

# schedulers: the scripts of examples/ give the lines of one sweep
one=$("$program" sweep "$source_dir/examples/photocell-bulb.json" --over "stem/0/bore=even(4 mm, 10 mm, 7)" \
    --over "port/leaks/0/rate=log(1e-9 mbar L/s, 1e-6 mbar L/s, 12)" | md5sum)
mkdir array
for part in 3 1 2; do sh "$source_dir/examples/sweep_job_array.sh" part $part 3 array || fail "job array, part $part"; done
[ "$(sh "$source_dir/examples/sweep_job_array.sh" join 3 array | md5sum)" = "$one" ] || fail "job array"
sh "$source_dir/examples/sweep_job_array.sh" 2>err && fail "job array without arguments"
if command -v parallel >/dev/null && parallel --version 2>/dev/null | grep -q GNU; then
    mkdir parallel
    [ "$(sh "$source_dir/examples/sweep_parallel.sh" parallel 2>err | md5sum)" = "$one" ] || fail "GNU parallel"
else
    echo "skipped: GNU parallel is not installed (apt-get install parallel)"
fi
finish

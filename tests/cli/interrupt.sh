# Ctrl-C once: the result so far and 130. Twice: the end, and nothing half-written.
source "$(dirname "$0")/support.bash"

make_long
"$program" check long.json >out 2>err || { echo "FAILED: long.json is not sound: $(cat out err)" >&2; exit 1; }

# Starts the run with SIGINT as a terminal has it (a shell ignores it in the background).
start() {
    python3 -c 'import os,signal,sys
signal.signal(signal.SIGINT, signal.SIG_DFL)
os.execv(sys.argv[1], sys.argv[1:])' "$program" run long.json "$@" 2>err &
    pid=$!
    # in the midst of the run: half a second of processor time, however busy the machine is
    for _ in $(seq 300); do
        used=$(cut -d' ' -f14 "/proc/$pid/stat" 2>/dev/null) || break
        [ "$used" -lt 50 ] || break
        sleep 0.1
    done
}

start --json >out
kill -INT "$pid" 2>/dev/null
wait "$pid"
code=$?
if [ "$code" -eq 0 ]; then
    echo "the run was over before it could be interrupted; nothing to see here" >&2
else
    expect 130 "interrupted"
    valid_json out "what is known when interrupted"
    holds out 'd["status"] == "interrupted" and d["end_s"] < 30000' "what is known when interrupted"
fi

start -o kept.json
kill -TERM "$pid" 2>/dev/null
wait "$pid"
code=$?
if [ "$code" -ne 0 ]; then
    expect 143 "terminated"
    [ ! -e kept.json ] || fail "a terminated run left its output"
    leftover=$(find . -name '*kept*')
    [ -z "$leftover" ] || fail "a terminated run left $leftover"
fi

finish

# Sourced by every script here: $1 is the program, $2 the source tree.
set -u
program=$(realpath "$1")
source_dir=$(realpath "$2")
example=$source_dir/examples/photocell-bulb.json
failures=0
work=$(mktemp -d) || exit 1
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1

fail() {
    failures=$((failures + 1))
    echo "FAILED: $*" >&2
    if [ -s err ]; then sed 's/^/    stderr: /' err | head -5 >&2; fi
}

# run ARGUMENTS...: leaves stdout in out, stderr in err, the exit code in $code.
run() {
    "$program" "$@" >out 2>err </dev/null
    code=$?
}

# expect CODE "what": the last exit code.
expect() {
    [ "$code" -eq "$1" ] || fail "$2: exit code $code, wanted $1"
}

# says FILE TEXT "what" / silent FILE "what"
says() {
    grep -qF -e "$2" "$1" || fail "$3: $1 does not say: $2"
}
silent() {
    [ ! -s "$1" ] || fail "$2: $1 should be empty: $(head -c 200 "$1")"
}
valid_json() {
    python3 -m json.tool "$1" >/dev/null 2>json_err || fail "$2: not JSON: $(cat json_err)"
}
# value FILE EXPRESSION: a Python expression over the parsed document d.
value() {
    python3 -c 'import json,math,sys; d=json.load(open(sys.argv[1])); print(eval(sys.argv[2]))' "$1" "$2"
}
# holds FILE EXPRESSION "what": the expression is true.
holds() {
    local got
    got=$(value "$1" "$2" 2>&1 | tail -1)
    [ "$got" = True ] || fail "$3: $2 gives $got"
}

finish() {
    if [ "$failures" -gt 0 ]; then
        echo "$failures failure(s)" >&2
        exit 1
    fi
    exit 0
}

# A jar of 10 L on a pump of 5 L/s for every gas at every pressure: p = p0 exp(-t / 2 s), so from 1e5 Pa to
# 1 Pa it takes 2 s ln(1e5) = 23.026 s.
cat >jar.json <<'JSON'
{
  "rarefy": 1,
  "title": "A jar on a constant pump",
  "gases": ["N2"],
  "chambers": [{"name": "jar", "volume": "10 L", "start": {"N2": "1e5 Pa"}}],
  "pumps": [{"name": "pump", "kind": "ideal", "from": "jar", "to": "ambient", "speed": "5 L/s"}],
  "targets": [{"name": "low", "chamber": "jar", "pressure": "1 Pa"}],
  "run": {"until": "40 s"}
}
JSON
# The same with a limit that the start already breaks.
sed 's/"targets"/"limits": [{"name": "too high", "watch": "jar", "max": "10 Pa"}],\n  "targets"/' \
    jar.json >broken_limit.json
# Two mistakes: a unit and a key.
sed 's/"10 L"/"10 LL"/; s/"until"/"untill"/' jar.json >wrong.json
# long.json: twenty thousand opens and closes of a valve at a long hose take long enough to be interrupted on any machine.
make_long() {
    python3 - <<'PY'
import json
d = json.load(open("jar.json"))
d["chambers"].append({"name": "side", "volume": "1 L"})
d["lines"] = [{"name": "branch", "between": ["jar", "side"], "cells": 800, "pieces": ["tube 10 mm x 1 m",
    {"valve": {"name": "tap", "bore": "10 mm", "length": "30 mm", "state": "closed"}}]}]
d["procedure"] = [{"when": "time > %d s" % (i + 1), "do": ["%s tap" % ("open" if i % 2 == 0 else "close")]}
                  for i in range(20000)]
d["run"]["until"] = "30000 s"
json.dump(d, open("long.json", "w"))
PY
}

# Manners on a terminal: colour there alone and not with NO_COLOR; its width; "computing" on stderr for what takes more than
# a second, and gone afterwards; Ctrl-C keeps what is done (interrupt.sh looks at that in files).
source "$(dirname "$0")/support.bash"
command -v script >/dev/null || { echo "skipped: script (bsdutils) is not here"; exit 0; }

# on_terminal WIDTH COMMAND...: what a terminal of that width receives, in the file seen
on_terminal() {
    local width=$1
    shift
    script -qec "stty cols $width rows 40 2>/dev/null; $*" /dev/null </dev/null >seen 2>&1
    code=$?
}
escape=$'\033'

TERM=xterm on_terminal 90 "'$program' run '$example'"
expect 0 "run on a terminal"
grep -q "$escape\[" seen || fail "no colour on a terminal"
python3 - 90 <<'PY' || fail "wider than the terminal"
import re, sys
lines = re.sub(r"\033\[[0-9;]*[A-Za-z]", "", open("seen", encoding="utf-8").read()).replace("\r", "").split("\n")
sys.exit(max(map(len, lines)) > int(sys.argv[1]))
PY
NO_COLOR=1 TERM=xterm on_terminal 90 "'$program' run '$example'"
if grep -q "$escape" seen; then fail "colour in spite of NO_COLOR"; fi
TERM=dumb on_terminal 90 "'$program' run '$example'"
if grep -q "$escape" seen; then fail "colour on a dumb terminal"; fi
run run "$example"
if grep -q "$escape" out err; then fail "colour in a file"; fi
TERM=xterm LC_ALL=C.UTF-8 on_terminal 70 "'$program' plot '$example'"
grep -q "$escape\[3" seen || fail "no colours of curves on a terminal"

# Something that takes its time.
make_long
slow="'$program' run long.json"
TERM=xterm on_terminal 90 "timeout -s INT 2.6 $slow"
grep -q "computing, [12] s" seen || fail "nothing said while computing"
grep -qE "INTERRUPTED" seen || fail "Ctrl-C: what is known is not told"
python3 - <<'PY' || fail "the line stays"
import re
text = open("seen", encoding="utf-8", newline="").read()
last = text.rfind("computing")
assert "\r\033[K" in text[last:]
PY
timeout -s INT 2.6 "$program" run long.json >out 2>err
if grep -q computing out err; then fail "\"computing\" in a file"; fi
finish

# Pictures: SVG, PNG, terminal, gnuplot.
source "$(dirname "$0")/support.bash"

# Every example: well-formed, the same bytes each time, nothing outside the picture, no two texts on one spot.
cat >look.py <<'PY'
import re, sys, xml.etree.ElementTree as tree
root = tree.parse(sys.argv[1]).getroot()
name = lambda e: e.tag.split("}")[1]
width, height = (float(root.get(k)) for k in ("width", "height"))
boxes = []
for e in root.iter():
    if name(e) != "text" or e.get("transform"):
        continue
    text = "".join(t for t in [e.text or ""])
    head = "head" in (e.get("class") or "")
    w, size = len(text) * (8.6 if head else 6.2), 15 if head else 12
    x, y = float(e.get("x")), float(e.get("y"))
    words = (e.get("class") or "").split()
    x -= w / 2 if "x" in words else w if "y" in words else 0
    boxes.append((x, y - 0.75 * size, x + w, y + 0.2 * size, text))
for b in boxes:
    assert b[0] > -1 and b[2] < width + 20 and b[1] > -1 and b[3] < height + 1, ("outside", b)
for i, a in enumerate(boxes):
    for b in boxes[:i]:
        assert a[2] < b[0] + 1 or b[2] < a[0] + 1 or a[3] < b[1] + 1 or b[3] < a[1] + 1, ("overlap", a, b)
print(len(boxes))
PY
for file in "$source_dir"/examples/*.json; do
    what=$(basename "$file")
    for how in "--gases" "--linear-time --pressure-unit mbar"; do
        # shellcheck disable=SC2086 # words
        run plot "$file" $how -o one.svg
        [ $code -eq 0 ] || [ $code -eq 5 ] || fail "$what $how: exit code $code"
        python3 look.py one.svg >seen 2>&1 || fail "$what $how: $(tail -1 seen)"
    done
    run plot "$file" --linear-time --pressure-unit mbar -o two.svg
    cmp -s one.svg two.svg || fail "$what: other bytes at the second time"
done

# The curve is where the numbers are: p = p0 exp(-t / 2 s) is 1 Pa at 23.026 s (support.bash); the target's circle is at
# both, and so is the curve within 1 px.
run plot jar.json --linear-time -o jar.svg
expect 0 "jar"
python3 - jar.svg <<'PY' >seen 2>&1 || fail "jar: $(tail -1 seen)"
import re, sys
text = open(sys.argv[1]).read()
cx, cy = map(float, re.search(r'circle class="target" cx="([0-9.]+)" cy="([0-9.]+)"', text).groups())
frame = [float(v) for v in re.search(r'class="frame" x="([0-9.]+)" y="([0-9.]+)" width="([0-9.]+)" height="([0-9.]+)"', text).groups()]
assert abs(cx - (frame[0] + frame[2] * 23.026 / 40)) < 0.2, (cx, frame)
path = [tuple(map(float, p.split())) for p in re.findall(r"[ML]([0-9.]+ [0-9.]+)", re.search(r'class="curve c0 d0" d="([^"]*)"', text).group(1))]
(x0, y0), (x1, y1) = max(p for p in path if p[0] <= cx), min(p for p in path if p[0] > cx)
y = y0 + (y1 - y0) * (cx - x0) / (x1 - x0)
assert abs(y - cy) < 1, (y, cy)
PY

# PNG, where librsvg is.
ASAN_OPTIONS=detect_leaks=0 run plot jar.json -o jar.png # GLib and fontconfig keep what they took
if [ $code -eq 0 ]; then
    python3 - jar.png <<'PY' || fail "jar.png is no PNG of twice the size"
import struct, sys
data = open(sys.argv[1], "rb").read()
assert data[:8] == b"\x89PNG\r\n\x1a\n" and struct.unpack(">II", data[16:24])[0] == 1920
PY
else
    expect 1 "jar.png without librsvg"
    says err "librsvg2-2" "jar.png without librsvg"
    [ ! -e jar.png ] || fail "a PNG was left behind"
fi

# On a terminal.
LC_ALL=C.UTF-8 COLUMNS=72 "$program" plot jar.json >out 2>err || fail "terminal"
python3 -c 'import sys; sys.exit(sum("\u2801" <= c <= "\u28ff" for c in open("out", encoding="utf-8").read()) < 30)' || fail "terminal: no dots"
python3 -c 'import sys; sys.exit(max(len(l.rstrip("\n")) for l in open("out", encoding="utf-8")) > 72)' || fail "terminal: wider than 72"
LC_ALL=C "$program" plot jar.json >out 2>err || fail "terminal, ASCII"
if LC_ALL=C grep -q '[^ -~]' out; then fail "ASCII: other characters"; fi
grep -q "AAA" out || fail "ASCII: no curve"
says out "low at 1 Pa: 23 s" "terminal: the target"

# gnuplot reads the script.
run plot "$example" --gnuplot -o curve.gp
expect 0 "gnuplot"
if command -v gnuplot >/dev/null; then
    gnuplot curve.gp >by_gnuplot.svg 2>err || fail "gnuplot refuses the script"
    silent err "gnuplot"
    says by_gnuplot.svg "turbo inlet" "gnuplot"
fi

# A measured curve stands beside the computed one.
printf 'time (s),pressure (Pa)\n1,60000\n5,8000\n10,700\n20,5\n' >log.csv
run plot jar.json --measured log.csv -o measured.svg
expect 0 "measured"
[ "$(grep -c 'r="1.8"' measured.svg)" = 4 ] || fail "measured: not 4 dots"

# Hostile names stay text.
sed 's/"name": "jar"/"name": "<script>\&amp;\\"quote'"'"' \\u202e \\u00e9 jar"/; s/"from": "jar"/"from": "<script>\&amp;\\"quote'"'"' \\u202e \\u00e9 jar"/; s/"chamber": "jar"/"chamber": "<script>\&amp;\\"quote'"'"' \\u202e \\u00e9 jar"/' jar.json >hostile.json
run plot hostile.json -o hostile.svg
expect 0 "hostile names"
python3 look.py hostile.svg >seen 2>&1 || fail "hostile names: $(tail -1 seen)"
if grep -q "<script" hostile.svg; then fail "hostile names: a script"; fi
run plot hostile.json --gnuplot -o hostile.gp
if command -v gnuplot >/dev/null; then gnuplot hostile.gp >/dev/null 2>err || fail "hostile names: gnuplot"; fi

# Misuse.
run plot jar.json -o curve.jpg
expect 2 "another kind of file"
run plot jar.json --chamber jrr -o x.svg
expect 2 "unknown chamber"
says err 'did you mean "jar"' "unknown chamber"
[ ! -e x.svg ] || fail "unknown chamber: a file was left behind"
run plot jar.json --from "1 h" -o x.svg
expect 2 "nothing in that stretch"
finish

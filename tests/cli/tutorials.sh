# The tutorials in examples/ cannot go stale: what they quote is still printed, what they link to exists.
source "$(dirname "$0")/support.bash"

python3 - "$source_dir" "$program" >report 2>err <<'PY'
import glob, os, re, sys
source, program = sys.argv[1:]
sys.path.insert(0, os.path.join(source, "tests/cli"))
import quoted
found = sorted(glob.glob(os.path.join(source, "examples/*.md")))
if len(found) < 4:
    print("only %d tutorials" % len(found))
for path in found:
    text = open(path, encoding="utf-8").read()
    failures, n = quoted.check(text, source, program)
    failures += ["link to %s, which is not there" % link for link in re.findall(r"\]\(([^)#]+)\)", text)
                 if not os.path.exists(os.path.join(source, "examples", link))]
    if n < 4:
        failures.append("only %d quoted lines" % n)
    for failure in failures:
        print("%s: %s" % (os.path.basename(path), failure))
PY
[ "$?" -eq 0 ] || fail "the comparison itself"
[ ! -s report ] || fail "$(cat report)"
finish

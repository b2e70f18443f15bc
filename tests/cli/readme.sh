# The README cannot go stale: its two commands are the ones .ci/run runs, its sample description is sound, what it links
# to exists, and every line it quotes still stands in what the program prints, in the same order. Words must be
# the same; numbers and times may differ by 5 %, or by one in a percentage, as between machines.
source "$(dirname "$0")/support.bash"

python3 - "$source_dir" "$program" >report 2>err <<'PY'
import json, os, re, subprocess, sys

source, program = sys.argv[1:]
text = open(os.path.join(source, "README.md"), encoding="utf-8").read()
failures = []
blocks = re.findall(r"^```(\w+)\n(.*?)^```$", text, re.M | re.S)
of = lambda kind: [body for k, body in blocks if k == kind]

# the two commands
commands = [body.strip("\n") for body in of("sh")]
if len(commands) != 2 or any("\n" in c for c in commands):
    failures.append("the sh blocks should be two, of one line each: %r" % commands)
else:
    listed = subprocess.run(["bash", os.path.join(source, ".ci/run"), "--list"], capture_output=True, text=True)
    if listed.stdout.split("\n")[:-1] != commands:
        failures.append(".ci/run --list differs: %r" % listed.stdout)
    for c, words in zip(commands, (["apt-get install", "cmake -S", "cmake --build", "rarefy run examples/"], ["ctest"])):
        failures += ["the command %r lacks %r" % (c, w) for w in words if w not in c]

# links
for link in re.findall(r"\]\(([^)#]+)\)", text):
    if not os.path.exists(os.path.join(source, link)):
        failures.append("link to %s, which is not there" % link)

# the sample description
def call(command, **more):
    return subprocess.run(command, capture_output=True, text=True, cwd=source, timeout=60, **more)
for sample in of("json"):
    for verb in ("check", "run"):
        answer = call([program, verb, "-"], input=sample)
        if answer.returncode != 0:
            failures.append("%s of the sample: exit code %d: %s" % (verb, answer.returncode, answer.stderr))

# quoted output
number = re.compile(r"(?<![A-Za-z\d.])\d+(?:\.\d+)?(?:e[+-]?\d+)?(?![A-Za-z\d])")
units = {"d": 86400, "h": 3600, "min": 60, "s": 1}
def one_time(m):
    return " %g s" % sum(float(a) * units[b] for a, b in re.findall(r"([\d.]+) (d|h|min|s)\b", m.group(0)))
def normal(line):
    line = re.sub(r"(?<![\w.])[\d.]+ (?:d|h|min|s)\b(?: [\d.]+ (?:h|min|s)\b)?", one_time, line)
    skeleton = re.sub(r"\s+", " ", number.sub("#", line)).strip()
    return skeleton, [(float(m.group(0)), line[m.end():m.end() + 2] == " %") for m in number.finditer(line)]
def same(a, b):
    (wa, na), (wb, nb) = a, b
    return wa == wb and len(na) == len(nb) and all(
        abs(x - y) <= (1.01 if percent else 0.05 * max(abs(x), abs(y))) for (x, percent), (y, _) in zip(na, nb))

quoted = 0
for block in of("console"):
    lines = block.rstrip("\n").split("\n")
    if not lines[0].startswith("$ rarefy "):
        failures.append("a console block should begin with $ rarefy: %r" % lines[0])
        continue
    command = lines[0][2:].replace("rarefy", '"$RAREFY"', 1)
    answer = subprocess.run(["bash", "-c", command + " 2>&1"], capture_output=True, text=True, cwd=source, timeout=60,
                            env=dict(os.environ, RAREFY=program))
    found = [normal(l) for l in answer.stdout.split("\n")]
    at = 0
    for line in lines[1:]:
        if line.strip() in ("…", ""):
            continue
        quoted += 1
        wanted = normal(line)
        for i in range(at, len(found)):
            if same(wanted, found[i]):
                at = i + 1
                break
        else:
            near = [l for l, f in zip(answer.stdout.split("\n"), found) if f[0] == wanted[0]]
            failures.append("%s\n    no longer prints: %s\n    nearest: %s" % (lines[0], line, near[:2]))
if quoted < 15:
    failures.append("only %d quoted lines" % quoted)
print("\n".join(failures))
PY
[ "$?" -eq 0 ] || fail "the comparison itself"
[ ! -s report ] || [ -z "$(tr -d '\n' <report)" ] || fail "README.md: $(cat report)"
finish

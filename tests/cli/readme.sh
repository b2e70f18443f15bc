# The README cannot go stale: its two commands are the ones .ci/run runs, its sample description is sound, what it links
# to exists, and every line it quotes still stands in what the program prints, in the same order. Words must be
# the same; numbers and times may differ by 5 %, or by one in a percentage, as between machines.
source "$(dirname "$0")/support.bash"

python3 - "$source_dir" "$program" >report 2>err <<'PY'
import json, os, re, subprocess, sys

source, program = sys.argv[1:]
sys.path.insert(0, os.path.join(source, "tests/cli"))
import quoted
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
more, n = quoted.check(text, source, program)
failures += more
if n < 15:
    failures.append("only %d quoted lines" % n)
print("\n".join(failures))
PY
[ "$?" -eq 0 ] || fail "the comparison itself"
[ ! -s report ] || [ -z "$(tr -d '\n' <report)" ] || fail "README.md: $(cat report)"
finish

"""Quoted output in a text: every line of a console block still stands in what the program prints, in the same order. Words
must be the same; numbers and times may differ by 5 %, or by one in a percentage, as between machines."""
import os, re, subprocess

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



def check(text, source, program):
    """(what no longer holds, how many lines were looked at)"""
    failures, quoted = [], 0
    for block in re.findall(r"^```console\n(.*?)^```$", text, re.M | re.S):
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
    return failures, quoted

"""rarefy schema against an outside validator: python3-jsonschema, draft 2020-12.

1. The schema is one (meta-schema of the draft).
2. Every example, and every other sound description of the tree, validates, as `rarefy check` finds it sound.
3. Of tests/malformed every case that is JSON and marked "j" is refused, and no other one is: the marks say exactly what a
   schema can see. `check.py ... --mark` writes the marks anew; read the difference by eye.
4. The patterns of quantities say what the reader of units says: for one unit and for two of them exactly, for longer ones
   they never refuse what is read.
"""
import glob, itertools, json, os, random, re, subprocess, sys

try:
    import jsonschema
    Validator = jsonschema.Draft202012Validator
except (ImportError, AttributeError):
    print("skipped: python3-jsonschema (4.0 or later) is not installed")
    sys.exit(77)

program, source, verdicts = sys.argv[1:4]
failures = []


def fail(text):
    failures.append(text)
    print("FAILED:", text)


def output(*arguments, **more):
    return subprocess.run(arguments, stdout=subprocess.PIPE, universal_newlines=True, **more).stdout


schema = json.loads(output(program, "schema"))
Validator.check_schema(schema)
validator = Validator(schema)


# ---- sound descriptions
def sound_ones():
    for name in sorted(glob.glob(f"{source}/examples/*.json") + glob.glob(f"{source}/tests/bench/networks/*.json") +
                       [f"{source}/tests/malformed/bench.json"]):
        yield name, open(name, encoding="utf-8").read()
    for text in re.findall(r"```json\n(.*?)```", open(f"{source}/README.md", encoding="utf-8").read(), re.S):
        yield "README.md", text
    for name in sorted(glob.glob(f"{source}/tests/fuzz/seeds/*.json")):
        text = open(name, "rb").read()
        if subprocess.run([program, "check", name], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL).returncode == 0:
            yield name, text.decode()


n_sound = 0
for name, text in sound_ones():
    n_sound += 1
    done = subprocess.run([program, "check", "-"], input=text, universal_newlines=True, stdout=subprocess.DEVNULL)
    if done.returncode != 0:
        fail(f"{name}: rarefy check refuses it")
    for error in validator.iter_errors(json.loads(text)):
        fail(f"{name}: {'/'.join(map(str, error.absolute_path))}: {error.message[:200]}")


# ---- malformed ones (the format: tests/malformed/README.md)
def bytes_of(line):
    def one(match):
        body = match.group(1)
        star = body.rfind("*")
        if star >= 0:
            return body[:star].encode() * int(body[star + 1:])
        return bytes([int(body, 16)])
    parts = re.split(r"(%\{[^}]*\})", line)
    return b"".join(one(re.fullmatch(r"%\{([^}]*)\}", p)) if p.startswith("%{") and p.endswith("}") else p.encode()
                    for p in parts)


base = open(f"{source}/tests/malformed/bench.json", encoding="utf-8").read()


def cases(path):
    case = None
    for number, line in enumerate(open(path, encoding="utf-8").read().split("\n")):
        kind, rest = line[:1], line[2:] if line[1:2] == " " else line[1:]
        if kind == "=":
            if case:
                yield case
            case = {"title": rest, "line": number, "old": "", "new": b"", "whole": b"", "is_whole": False, "set": False,
                    "marked": False}
        elif case and kind in "|&" and kind:
            case["is_whole"] = True
            case["whole"] += bytes_of(rest) + (b"\n" if kind == "|" else b"")
        elif case and kind == "-":
            case["old"] += rest
        elif case and kind == "+":
            case["new"] += bytes_of(rest)
        elif kind == "s":
            case["set"] = True
        elif kind == "j":
            case["marked"] = True
    if case:
        yield case


def refused(case):
    """None for what is no JSON (or comes from a setting): nothing for a schema."""
    if case["set"]:
        return None
    text = case["whole"] if case["is_whole"] else base.replace(case["old"], "\0", 1).encode().replace(b"\0", case["new"])
    try:
        document = json.loads(text.replace("\u00a6".encode(), b"", 1).decode("utf-8"),
                              parse_constant=lambda word: 1 / 0)
    except (ValueError, ZeroDivisionError, RecursionError):
        return None
    try:
        return not validator.is_valid(document)
    except RecursionError:
        return None


mark = "--mark" in sys.argv
counts = {"refused": 0, "not for a schema": 0, "not JSON": 0}
for path in sorted(glob.glob(f"{source}/tests/malformed/*.txt")):
    wanted = {}
    for case in cases(path):
        is_refused = refused(case)
        counts["not JSON" if is_refused is None else "refused" if is_refused else "not for a schema"] += 1
        wanted[case["line"]] = bool(is_refused)
        if not mark and bool(is_refused) != case["marked"]:
            fail(f"{path}:{case['line'] + 1}: {case['title']}: " +
                 ("the schema refuses it, and it is not marked" if is_refused else "marked, and the schema accepts it"))
    if mark:
        lines = [line for line in open(path, encoding="utf-8").read().split("\n")]
        out = []
        for number, line in enumerate(lines):
            if line == "j":
                continue
            out.append(line)
            if wanted.get(number):
                out.append("j")
        open(path, "w", encoding="utf-8").write("\n".join(out))
print("malformed:", ", ".join(f"{n} {what}" for what, n in counts.items()))
if counts["refused"] < 150:
    fail("fewer than 150 malformed descriptions are refused")

# ---- quantities
random.seed(5)
dimension = {unit["symbol"]: unit["dimension"] for unit in json.loads(output(program, "list", "units", "--json"))["units"]}
symbols = list(dimension)
names = output(verdicts, "--dimensions").split("\n")[:-1]
asked = []
for d, name in enumerate(names):
    definition = schema["$defs"].get("quantity-" + name.replace(" ", "-"))
    if not definition:
        continue
    pattern = re.compile(definition["pattern"])
    exact = ["%s %s" % (n, u) for u in symbols for n in ("1", "2.5e-3", ".5")] + ["7", "7e2", "", "mm", "1,5 mm", "1 . 5 m"]
    exact += ["3%s%s" % (u, p) for u in symbols for p in ("2", "^3", "²", "-1", "^-2", "⁻¹")]
    for _ in range(1500):
        a, b = random.choice(symbols), random.choice(symbols)
        p, q = random.choice(("", "", "2", "3", "-1", "^-2")), random.choice(("", "", "2", "3", "-1"))
        exact.append("4 %s%s%s%s%s" % (a, p, random.choice((" ", "/", " / ", "*", "·")), b, q))
    usual = ["%s %s" % (n, u.replace("mbar", p).replace("L", v).replace("/s", t))
             for n in ("1e-8", "+2", " 3 ") for p in ("Torr", "Pa", "µbar") for v in ("L", "cm3", "m³") for t in ("/s", "/min", " s-1")
             for u in ("mbar", "L", "mbar L", "L/s", "mbar L/s", "mbar L/s/cm2", "mbar·L/(s·cm²)", "mbar L s-1 m-2")]
    usual += ["20 °C", "20 degC", "5 K/min", "5 degC/min", "2 µm", "2 μm", "3 Å", "90°", "92 kJ/mol", "2 W/K", "50 mPa s",
              "3 m3 h-1", "1\u00a0mbar", "1\u202fmbar L/s", "50 %", "3 ppm", "2 N/m2", "1 J/m3"]
    asked += [(d, text, pattern, True) for text in exact] + [(d, text, pattern, False) for text in usual]
answers = output(verdicts, input="".join("%d\t%s\n" % (d, text) for d, text, _, _ in asked)).split()
read = 0
assert len(answers) == len(asked)
for (d, text, pattern, exact), answer in zip(asked, answers):
    matches = bool(pattern.search(text))
    read += answer == "1"
    # "3 in2/ft" and other products of two units of one kind that cancel each other are nobody's: not looked at
    two = re.findall("[A-Za-z%]+(?:H2O)?", text)
    cancels = len(two) == 2 and len({dimension.get(u, u) for u in two}) == 1 or "%" in text or "pp" in text
    cancels = cancels or (names[d] == "number" and len(two) > 1)
    if answer == "1" and not matches and not cancels and not (names[d] == "number" and re.fullmatch(r"[0-9.e-]+", text)):
        fail(f"\"{text}\" is read as {names[d]}, and the schema refuses it")
    if exact and answer == "0" and matches and not cancels:
        # a temperature below absolute zero, or the like, is no matter of units
        fail(f"\"{text}\" is not read as {names[d]}, and the schema takes it")
print(f"{n_sound} sound descriptions; {len(asked)} quantities, {read} of them read")
sys.exit(1 if failures else 0)

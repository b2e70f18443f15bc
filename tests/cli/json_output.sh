# JSON and CSV: valid, complete, and right where the answer is known in closed form.
source "$(dirname "$0")/support.bash"

run run jar.json --json
expect 0 "run --json"
silent err "run --json"
valid_json out "run --json"
for key in title status trouble end_s gases chambers series targets events ultimate \
    ultimate_after_s ultimate_sources rising limits bottleneck balance assumed care cautions solver; do
    holds out "'$key' in d" "run --json"
done
# 2 s ln(1e5), isothermal; see support.bash. The gas has no heat of its own in this description.
holds out 'abs(d["targets"][0]["time_s"] / (2 * math.log(1e5)) - 1) < 2e-3' "time to 1 Pa"
holds out 'd["targets"][0]["reached"] is True' "target reached"
holds out 'len(d["series"]["time_s"]) == len(d["series"]["pressure_Pa"]["jar"])' "series of one length"
holds out 'all(b > a for a, b in zip(d["series"]["time_s"], d["series"]["time_s"][1:]))' "rising times"
holds out 'all(abs(r["residue"]) < 1e-8 for r in d["balance"].values())' "balance"

run run jar.json --json --at "2 s,4 s, 10 s"
expect 0 "--at"
holds out '[t for t in (2, 4, 10) if t not in d["series"]["time_s"]] == []' "--at instants are in the series"
holds out 'all(abs(p / (1e5 * math.exp(-t / 2)) - 1) < 2e-3 for t, p in
    zip(d["series"]["time_s"], d["series"]["pressure_Pa"]["jar"]))' "the exponential"

run run jar.json --csv --at "2 s,4 s" --pressure-unit mbar
expect 0 "--csv"
head -1 out >header
says header "time_s,jar_mbar" "CSV header"
python3 - >report 2>&1 <<'PY' || fail "CSV: $(tail -1 report)"
import csv, math
rows = list(csv.reader(open("out", newline="")))
assert len({len(row) for row in rows}) == 1, "rows of unequal length"
column = rows[0].index("jar_mbar")
found = {float(r[0]): float(r[column]) for r in rows[1:]}
for t in (2, 4):
    assert abs(found[t] / (1e3 * math.exp(-t / 2)) - 1) < 2e-3, found
assert "jar N2_mbar" in rows[0], rows[0]
PY

run ultimate jar.json --json
expect 0 "ultimate --json"
valid_json out "ultimate --json"
holds out '"ultimate" in d and "ultimate_sources" in d' "ultimate --json"

run check jar.json --json
expect 0 "check --json"
valid_json out "check --json"
holds out 'd["sound"] is True and d["summary"]["chambers"] == 1' "check --json"
run check wrong.json --json
expect 3 "check --json of a wrong description"
valid_json out "check --json of a wrong description"
holds out 'd["sound"] is False and d["errors"] >= 2 and d["problems"][0]["line"] > 0' "check --json"

for topic in gases materials bores units pieces pumps actions; do
    run list $topic --json
    expect 0 "list $topic --json"
    valid_json out "list $topic --json"
    run list $topic
    expect 0 "list $topic"
    [ -s out ] || fail "list $topic says nothing"
done

run run "$example" --json
valid_json out "the example"
holds out 'len(d["targets"]) >= 1 and len(d["events"]) >= 3' "the example"
holds out 'all(abs(r["residue"]) < 1e-8 for r in d["balance"].values())' "balance of the example"
finish

# One piece without a description: text, JSON, options that come from the kinds of piece, refusals.
source "$(dirname "$0")/support.bash"

run conductance tube --bore "16 mm" --length "1 m" --gas N2 --from "1e-4 Pa" --to "1e5 Pa"
expect 0 "a tube"
silent err "a tube"
tr -s ' \n' '  ' <out >joined
for text in "tube 16 mm x 1 m: nitrogen at 20 degC" molecular transition laminar choked "transmission probability" \
    "lambda = (mu/p)" "Expected error" "Viscosity" "open chambers" "Assumed"; do
    says joined "$text" "a tube"
done
awk 'length > 100 { bad = 1 } END { exit bad }' out || fail "lines above 100 columns"
[ "$(wc -l <out)" -le 30 ] || fail "$(wc -l <out) lines are not short"
grep -qi nan out && fail "NaN in the text"
cp out long_form

run conductance "tube 16 mm x 1 m" --gas N2
cmp -s out long_form || fail "the short form differs from the long one"
run conductance tube 16 mm x 1 m --gas N2
cmp -s out long_form || fail "a short form without quotes differs"

# 12.119 D^3/L for air at 20 degC, in L/s and cm (recomputed from (pi/12) vbar D^3/L); aperture 11.573 L/s/cm2.
run conductance tube --bore "1 cm" --length "500 m" --gas air --json
expect 0 "JSON"
silent err "JSON"
valid_json out "JSON"
holds out 'abs(d["molecular_conductance_m3_s"] * 1e3 / (12.119 / 50000) - 1) < 3e-4' "12.1 D^3/L"
run conductance "orifice 1 cm" --gas air --json --pressure-unit mbar --pump "3 m3/h"
valid_json out "orifice in JSON"
holds out 'abs(d["molecular_conductance_m3_s"] * 1e3 / (11.573 * math.pi / 4) - 1) < 3e-4' "11.57 L/s/cm2"
holds out 'all(abs(r["effective_speed_m3_s"] * r["pressure_Pa"] - r["throughput_Pa_m3_s"])
    < 1e-9 * r["throughput_Pa_m3_s"] for r in d["rows"])' "speed times pressure is the flow"
holds out 'all(abs(math.log10(r["pressure_Pa"] / 100) % 1) < 1e-9
    or abs(math.log10(r["pressure_Pa"] / 100) % 1 - 1) < 1e-9 for r in d["rows"])' "whole decades of mbar"
for key in piece gas temperature_K viscosity_Pa_s molar_mass_kg_mol area_m2 transmission_probability behind \
    pump_speed_m3_s rows expected_error knudsen_is assumed care; do
    holds out "'$key' in d" "JSON"
done

# The text shows what the JSON has.
run conductance "tube 16 mm x 1 m" --pump "5 m3/h" --from "1 Pa" --to "1 Pa" --json
python3 - <<'PY' >wanted
import json
r = json.load(open("out"))["rows"][0]
print("%.3g" % (r["conductance_m3_s"] * 1e3), "%.3g" % (r["effective_speed_m3_s"] * 1e3))
PY
run conductance "tube 16 mm x 1 m" --pump "5 m3/h" --from "1 Pa" --to "1 Pa"
for number in $(cat wanted); do says out "$number" "text and JSON"; done

run conductance "tube 16 mm x 1 m" --gas "N2=0.8,O2=0.2" --drop "10 %" --json
holds out 'd["gas"] == {"N2": 0.8, "O2": 0.2} and d["drop"] == 0.1' "a mixture"
holds out 'all(abs(r["downstream_Pa"] / r["pressure_Pa"] - 0.9) < 1e-12 for r in d["rows"])' "a drop"
run conductance "tube 16 mm x 1 m" --downstream "1 Pa" --json
holds out 'all(r["downstream_Pa"] == 1 and r["pressure_Pa"] > 1 for r in d["rows"])' "a pressure behind"

run conductance "tube 16 mm x 1 m" --gas N2 -o table.txt
expect 0 "-o"
silent out "-o"
cmp -s table.txt long_form || fail "-o writes something else"
run conductance "tube 16 mm x 1 m" -o no/such/folder.txt
expect 4 "-o into nowhere"
"$program" conductance "tube 16 mm x 1 m" >/dev/full 2>err
code=$?
expect 4 "a full disk"

# refused CODE "text of the message" ARGUMENTS...
refused() {
    local wanted=$1 text=$2
    shift 2
    run conductance "$@"
    expect "$wanted" "$*"
    silent out "$*"
    says err "$text" "$*"
}
refused 2 "PIECE is missing"
refused 2 'did you mean "tube"' tub 16 mm x 1 m
refused 2 "--bore: it is missing" tube --length "1 m"
refused 2 "--length: it is missing" tube --bore "16 mm"
refused 2 "did you mean --bore" tube --bor "16 mm"
refused 2 "--angle: orifice does not have it" orifice 1 mm --angle "9 deg"
refused 3 "conductance is missing" trap --volume "1 L"
refused 3 "--inner:" annulus --outer "20 mm" --inner "30 mm" --length "1 m"
refused 2 "--reducer-to: it is missing" reducer --reducer-from "10 mm" --length "20 mm"
refused 2 "--bore: it is given twice" tube 16 mm x 1 m --bore "16 mm"
refused 2 "stands twice" tube --bore "16 mm" --bore "16 mm" --length "1 m"
refused 2 "--drop" tube 16 mm x 1 m --drop "10 %" --downstream "1 Pa"
refused 2 "not a unit of pressure" tube 16 mm x 1 m --pressure-unit mb
refused 3 '--bore: "16" has no unit' tube --bore 16 --length "1 m"
refused 3 "--length:" tube --bore "16 mm" --length "-1 m"
refused 3 '--gas: "n2"' tube 16 mm x 1 m --gas n2
refused 3 "--gas: the mole fractions" tube 16 mm x 1 m --gas "N2=0.8,O2=0.1"
refused 3 "--from:" tube 16 mm x 1 m --from "-1 Pa"
refused 3 "--to:" tube 16 mm x 1 m --from "10 Pa" --to "1 Pa"
refused 3 "--pump:" tube 16 mm x 1 m --pump "3 L"
refused 3 "--drop:" tube 16 mm x 1 m --drop "10 Pa"
refused 3 "--temperature:" tube 16 mm x 1 m --temperature "-300 degC"
refused 3 '--state: "ajar"' valve 16 mm x 50 mm --state ajar
run conductance valve 16 mm x 50 mm --moves-in "2 s"
expect 0 "a key of two words"

run conductance reducer --reducer-from "40 mm" --reducer-to "16 mm" --length "50 mm"
expect 0 "keys named like options"
cp out long_form
run conductance "reducer 40 mm x 16 mm x 50 mm"
cmp -s out long_form || fail "a reducer's short form differs"
run conductance needle --bore "6 mm" --length "30 mm" --curve '[["1 Pa", "1 mL/s"], ["1e4 Pa", "20 mL/s"]]' --json
expect 0 "a curve"
holds out 'd["rows"][0]["conductance_m3_s"] > 0.99e-6 and d["rows"][-1]["conductance_m3_s"] < 2.04e-5' "a curve"

# Every kind is accepted with the keys it requires, and every key is an option the help knows.
run list pieces --json
cp out pieces.json
run help conductance
cp out help.txt
python3 - "$program" <<'PY' >report 2>&1 || fail "kinds: $(tail -3 report)"
import json, subprocess, sys
values = {"m": "20 mm", "rad": "60 deg", "m2": "4 cm2", "m3": "0.2 L", "m3/s": "5 L/s", "s": "1 s", "Pa": "1 Pa"}
kinds = json.load(open("pieces.json"))["kinds"]
help = open("help.txt").read()
assert len(kinds) >= 6, kinds
for kind in kinds:
    arguments = [sys.argv[1], "conductance", kind["name"], "--json", "--pump", "10 m3/h"]
    for key in kind["keys"]:
        option = "--" + key["key"].replace("_", "-")
        if key["key"] not in ("name", "material", "from", "to"):
            assert option + " " in help, (kind["name"], key["key"])
        if not key["required"]:
            continue
        value = values.get(key.get("unit"), "0.4")
        if key["key"] == "curve":
            value = '[["1 Pa", "1 L/s"], ["100 Pa", "5 L/s"]]'
        if key["key"] in ("inner", "gap", "hole", "grain", "thickness", "pore"): # the smaller of two
            value = "2 mm"
        if key["key"] == "length":
            value = "500 mm"
        if option in ("--from", "--to"): # these are the command's own
            option = "--" + kind["name"] + option[1:]
        arguments += [option, value]
    if kind["name"] == "trap": # one of two is needed
        arguments += ["--conductance", "5 L/s"]
    done = subprocess.run(arguments, capture_output=True, text=True)
    assert done.returncode == 0, (arguments, done.stderr)
    d = json.loads(done.stdout)
    assert len(d["rows"]) == 10 and all(r["conductance_m3_s"] > 0 for r in d["rows"]), d
    speed = 10 / 3600
    assert all(0 < r["effective_speed_m3_s"] < speed for r in d["rows"]), (kind["name"], d["rows"])
PY
for word in --gas --from --to --pump --drop --downstream --temperature --json --output --bore "tube, elbow"; do
    says help.txt "$word" "help"
done
finish

# Options: their forms, their mistakes with suggestions, and what they do.
source "$(dirname "$0")/support.bash"

run run jar.json --jsn
expect 2 "a misspelt option"
says err "did you mean --json?" "a misspelt option"
silent out "a misspelt option"
run run jar.json --presure-unit mbar
says err "did you mean --pressure-unit?" "another"
run run jar.json --zzzz
expect 2 "an option that is nowhere near"
if grep -q "did you mean" err; then fail "a suggestion out of nowhere"; fi
run rnu jar.json
expect 2 "a misspelt command"
says err "did you mean run?" "a misspelt command"
run list gasses
expect 2 "a misspelt topic"
says err "did you mean gases?" "a misspelt topic"
run list
expect 2 "no topic"
run help nothing
expect 2 "help of nothing"
run run
expect 2 "no file"
says err "FILE" "no file"
run run jar.json jar.json
expect 2 "one file too many"
run run jar.json --at
expect 2 "a value missing"
says err "--at TIMES" "a value missing"
run run jar.json --at --json
expect 2 "an option in place of a value"
run run jar.json --json=yes
expect 2 "a switch with a value"
run run jar.json --json --json
expect 2 "a switch twice"
run run jar.json --json --csv
expect 2 "two formats"
run run jar.json -x
expect 2 "an unknown letter"
run --json run jar.json
expect 2 "an option before the command"

cp jar.json -- --odd.json
run run -- --odd.json
expect 0 "-- ends the options"

run run jar.json --pressure-unit mbar
expect 0 "--pressure-unit"
says out "below 0.01 mbar" "--pressure-unit"
run run jar.json --pressure-unit=Torr
expect 0 "--pressure-unit="
says out "Torr" "--pressure-unit="
run run jar.json --pressure-unit mm
expect 2 "a unit that is no pressure"
says err "not a unit of pressure" "a unit that is no pressure"
run ultimate jar.json --pressure-unit "mbar L/s"
expect 2 "a unit that is no pressure, ultimate"

for bad in "10" "ten s" "10 mm" "10 s,5 s" "-1 s" "" "1 s,,2 s"; do
    run run jar.json --at "$bad"
    expect 2 "--at \"$bad\""
done
run run jar.json --after "0 s"
expect 2 "--after 0 s"
run run jar.json --after "1 h,2 h"
expect 2 "--after with two times"
run ultimate jar.json --after "8 h" --json
expect 0 "--after"
holds out 'd["ultimate_after_s"] == 28800' "--after"

for bad in 0 -1 1 nan inf 1e-30 0x1p-10 1e-5x ""; do
    run run jar.json "--tolerance=$bad"
    expect 2 "--tolerance \"$bad\""
done
run run jar.json --tolerance 1e-7 --json
expect 0 "--tolerance"
holds out 'd["solver"]["tolerance"] == 1e-7' "--tolerance"
holds out 'abs(d["targets"][0]["time_s"] / (2 * math.log(1e5)) - 1) < 1e-4' "--tolerance"
run run jar.json --method msbdf --json
expect 0 "--method msbdf"
holds out 'abs(d["targets"][0]["time_s"] / (2 * math.log(1e5)) - 1) < 2e-3' "--method msbdf"
run run jar.json --method euler
expect 2 "--method euler"

# Twice the speed halves the time; twice the volume doubles it again.
run run jar.json --json --set "pump/speed=10 L/s"
expect 0 "--set"
holds out 'abs(d["targets"][0]["time_s"] / math.log(1e5) - 1) < 2e-3' "--set"
run run jar.json --json --set "pump/speed=10 L/s" --set "jar/volume=20 L"
expect 0 "--set twice"
holds out 'abs(d["targets"][0]["time_s"] / (2 * math.log(1e5)) - 1) < 2e-3' "--set twice"
run run jar.json --set "pump/sped=10 L/s"
expect 3 "--set of a key that does not exist"
run run jar.json --set "nobody/speed=10 L/s"
expect 3 "--set of a part that does not exist"
run run jar.json --set "pump/speed"
expect 2 "--set without a value"
run run jar.json --set "=10 L/s"
expect 2 "--set without a path"
run check jar.json --set "jar/volume=20 mm"
expect 3 "--set of a wrong dimension"
# A value of the command line that is wrong for two walls is told once.
cat >hot.json <<'END'
{"rarefy": 1,
 "chambers": [{"name": "bulb", "volume": "0.2 L", "walls": [
   {"name": "a", "material": "soda-lime glass", "area": "100 cm2", "model": "adsorbed water"},
   {"name": "b", "material": "soda-lime glass", "area": "50 cm2", "model": "adsorbed water"}]}],
 "pumps": [{"name": "pump", "kind": "rotary vane", "from": "bulb", "to": "ambient", "speed": "1 L/s"}],
 "bakes": [{"chambers": ["bulb"], "from": "1 min", "temperature": "100 degC", "ramp": "20 K/min", "soak": "1 min", "cool": "20 K/min"}],
 "run": {"until": "10 min"}}
END
run run hot.json --set "bakes/0/temperature=500 degC"
expect 0 "a bake that is too hot"
[ "$(grep -c "too hot for the soda-lime glass" err)" -eq 1 ] || fail "a warning is not told once: $(cat err)"

# Colour only on a terminal; width from COLUMNS.
run run jar.json
if grep -q $'\033' out; then fail "colour in a file"; fi
COLUMNS=80 "$program" run jar.json >out 2>err
awk 'length > 80 { bad = 1 } END { exit bad }' out || fail "lines wider than COLUMNS"
if command -v script >/dev/null && script -qec true /dev/null </dev/null >/dev/null 2>&1; then # a pseudo-terminal can be had
    TERM=xterm NO_COLOR='' script -qec "'$program' run jar.json" /dev/null >terminal 2>/dev/null </dev/null
    grep -q $'\033\[1m' terminal || fail "no bold on a terminal"
    TERM=xterm NO_COLOR=1 script -qec "'$program' run jar.json" /dev/null >terminal 2>/dev/null </dev/null
    if grep -q $'\033' terminal; then fail "NO_COLOR is not respected"; fi
fi
finish

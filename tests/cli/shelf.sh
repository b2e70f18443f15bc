# Ten years after the seal-off.
source "$(dirname "$0")/support.bash"

cp "$source_dir/examples/sealed-lamp.json" lamp.json
run shelf lamp.json
expect 0 "shelf"
silent err "shelf"
for word in "lamp crosses 0.01 Pa after" "10 years" "SEALED (pressures in Pa)" "WHAT BRINGS THE GAS" "He" \
    "Barium" "SAFETY"; do
    says out "$word" "shelf"
done
awk 'length > 100 { bad = 1 } END { exit bad }' out || fail "shelf: lines above 100 columns"
run shelf lamp.json --json
expect 0 "shelf --json"
valid_json out "shelf --json"
holds out '[r["when"] for r in d["after"]] == ["when sealed", "just after", "1 d", "1 month", "1 year", "limit",
    "3 years", "10 years"]' "rows"
holds out 'd["limit_crossed"] is True and d["after"][5]["time_s"] == d["limit_crossed_s"]' "the limit"
holds out 'abs(d["after"][5]["total_Pa"] / 0.01 - 1) < 1e-5' "total when the limit is crossed"
holds out 'd["limit_crossed_early_s"] < d["limit_crossed_s"] < d["limit_crossed_late_s"]' "band"
run shelf lamp.json --json --set "seal_off/limit=10 Pa"
holds out 'd["limit_crossed"] is False and d["limit_crossed_s"] is None' "a limit that is kept"
run shelf lamp.json --set "seal_off/limit=10 Pa" --pressure-unit mbar
says out "stays below 0.1 mbar" "a limit that is kept"
run shelf lamp.json --pressure-unit furlong
expect 2 "a unit that is none"
COLUMNS=80 run shelf lamp.json
awk 'length > 80 { bad = 1 } END { exit bad }' out || fail "shelf: lines above 80 columns"
says out "more gas" "gases that find no room"
run shelf lamp.json -o kept.txt
expect 0 "shelf -o"
silent out "shelf -o"
says kept.txt "SEALED" "shelf -o"
run shelf jar.json
expect 3 "a description without an envelope"
says err "seal_off" "a description without an envelope"
run shelf lamp.json --at "1 h"
expect 2 "an option of another command"
finish

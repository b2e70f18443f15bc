# Help for every command, on stdout and with exit code 0.
source "$(dirname "$0")/support.bash"

run help
expect 0 "help"
for word in "Exit codes" "130" "Example" "estimates"; do says out "$word" "help"; done
commands=$(sed -n '/^Commands:/,/^$/p' out | awk '/^  / { print $1 }')
for wanted in run check ultimate shelf list help version; do
    echo "$commands" | grep -qx "$wanted" || fail "help does not name $wanted"
done
for command in $commands; do
    run help "$command"
    expect 0 "help $command"
    silent err "help $command"
    says out "rarefy $command" "help $command"
    says out "--help" "help $command"
    awk 'length > 100 { bad = 1 } END { exit bad }' out || fail "help $command: lines above 100 columns"
    cp out by_help
    run "$command" --help
    expect 0 "$command --help"
    cmp -s out by_help || fail "$command --help differs from help $command"
    run "$command" -h
    expect 0 "$command -h"
done
run --help
expect 0 "--help"
run run --help nothing.json
expect 0 "--help before all else"
for option in json csv at after pressure-unit set method tolerance output; do
    run help run
    says out "--$option" "help run"
done
finish

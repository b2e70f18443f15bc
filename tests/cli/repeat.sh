# The same bytes from the same description: twice in a row, two at once, and whatever the machine is doing.
source "$(dirname "$0")/support.bash"

for file in "$source_dir"/examples/*.json; do
    name=$(basename "$file" .json)
    for method in rodas rodas4 msbdf; do
        [ "$method" = rodas ] || [ "$name" = photocell-bulb ] || continue
        for form in --json --csv ""; do
            # the form is one word or none
            # shellcheck disable=SC2086
            run run --method "$method" $form "$file"
            expect 0 "$name by $method"
            mv out first
            # shellcheck disable=SC2086
            "$program" run --method "$method" $form "$file" >one 2>/dev/null </dev/null &
            # shellcheck disable=SC2086
            "$program" run --method "$method" $form "$file" >two 2>/dev/null </dev/null
            wait
            [ -s first ] || fail "$name by $method ${form:-as text}: nothing came"
            for again in one two; do
                cmp -s first "$again" || fail "$name by $method ${form:-as text}: other bytes: $(cmp first "$again" 2>&1)"
            done
        done
    done
done

run ultimate --json "$example"
mv out first
run ultimate --json "$example"
cmp -s first out || fail "ultimate: other bytes"

finish

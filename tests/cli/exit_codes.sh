# What the exit code says, and that stdout carries nothing but the result.
source "$(dirname "$0")/support.bash"

run
expect 2 "no arguments"
silent out "no arguments"
says err "run, check" "no arguments"

run run jar.json
expect 0 "a sound run"
says out "A jar on a constant pump" "a sound run"
silent err "a sound run"

run run broken_limit.json
expect 5 "a broken limit"
says out "LIMIT BROKEN: too high" "a broken limit"
run run broken_limit.json --json
expect 5 "a broken limit in JSON"
valid_json out "a broken limit in JSON"
says err "limit broken: too high" "a broken limit in JSON"

run run wrong.json
expect 3 "a wrong description"
silent out "a wrong description"
says err "wrong.json:" "a wrong description"
says err "untill" "all problems at once"
says err "LL" "all problems at once"
run ultimate wrong.json
expect 3 "a wrong description, ultimate"
silent out "a wrong description, ultimate"
run check wrong.json
expect 3 "check of a wrong description"
says out "untill" "check of a wrong description"
silent err "check of a wrong description"

printf '{"rarefy": 1,' >cut.json
run run cut.json
expect 3 "a file cut short"
: >empty.json
run run empty.json
expect 3 "an empty file"
head -c 3000 /dev/zero >zeros.json
run run zeros.json
expect 3 "a file of zero bytes"

run run missing.json
expect 4 "a missing file"
says err "missing.json" "a missing file"
run run .
expect 4 "a directory"
says err "directory" "a directory"
head -c 17000000 /dev/zero | tr '\0' ' ' >large.json
run run large.json
expect 4 "a file above 16 MB"
says err "16 MB" "a file above 16 MB"
if [ "$(id -u)" -ne 0 ]; then
    cp jar.json locked.json
    chmod 000 locked.json
    run run locked.json
    expect 4 "an unreadable file"
fi

run ultimate jar.json
expect 0 "ultimate"
run check jar.json
expect 0 "check"
says out "sound" "check"
run version
expect 0 "version"
says out "rarefy " "version"
run --version
expect 0 "--version"
run help
expect 0 "help"
silent err "help"

"$program" run - <jar.json >out 2>err
code=$?
expect 0 "a description on standard input"
says out "A jar on a constant pump" "a description on standard input"
printf 'nonsense' | "$program" run - >out 2>err
code=$?
expect 3 "nonsense on standard input"
says err "standard input" "nonsense on standard input"

run run "$example"
case $code in 0 | 5) ;; *) fail "the example: exit code $code" ;; esac
run check "$example"
expect 0 "check of the example"

finish

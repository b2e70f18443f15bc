# Full disks and -o: a message and 4, and never a half-written file; a reader that left: 4.
source "$(dirname "$0")/support.bash"

if [ -w /dev/full ]; then
    for arguments in "run jar.json" "run jar.json --json" "run jar.json --csv" "ultimate jar.json" \
        "check jar.json" "list units" "help" "help run" "version"; do
        # shellcheck disable=SC2086
        "$program" $arguments >/dev/full 2>err
        code=$?
        expect 4 "a full disk: $arguments"
        says err "cannot be written: No space left on device" "a full disk: $arguments"
    done
    run run jar.json -o /dev/full
    expect 4 "-o /dev/full"
    [ -c /dev/full ] || fail "-o replaced the device"
fi

# The reader is gone before the program writes: a pipe with no reading end.
python3 - "$program" >report 2>&1 <<'PY' || fail "closed pipe: $(tail -1 report)"
import os, subprocess, sys
for arguments in (["run", "jar.json"], ["run", "jar.json", "--json"], ["help"], ["list", "gases"]):
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run([sys.argv[1]] + arguments, stdout=writing, stderr=subprocess.PIPE, timeout=60)
    os.close(writing)
    assert done.returncode == 4, (arguments, done.returncode)
    assert done.stderr == b"", done.stderr
PY

"$program" run jar.json >&- 2>err
code=$?
expect 4 "standard output closed"

run run jar.json --json -o result.json
expect 0 "-o"
silent out "-o"
valid_json result.json "-o"
run run jar.json --json --output=result.json
expect 0 "-o over a file"
[ "$(find . -name '*result.json*' | wc -l)" -eq 1 ] || fail "-o left a draft behind"

echo "mine" >keep.txt
run run wrong.json -o keep.txt
expect 3 "-o with a wrong description"
[ "$(cat keep.txt)" = mine ] || fail "-o touched the file though there was no result"
run run jar.json -o no/such/folder/result.txt
expect 4 "-o into a folder that is not there"
says err "no/such/folder" "-o into a folder that is not there"
run run jar.json -o .
expect 4 "-o onto a directory"

chmod 640 keep.txt
run run jar.json -o keep.txt
expect 0 "-o over a file with its own mode"
[ "$(stat -c %a keep.txt)" = 640 ] || fail "-o changed the mode to $(stat -c %a keep.txt)"
ln -s keep.txt link.txt
run run jar.json --csv -o link.txt
expect 0 "-o over a symbolic link"
[ -L link.txt ] || fail "-o replaced the link itself"
says keep.txt "time_s" "-o over a symbolic link"

run run jar.json -o /dev/null
expect 0 "-o /dev/null"
run run jar.json -o -
expect 0 "-o -"
says out "A jar" "-o -"
run run broken_limit.json -o limit.txt
expect 5 "-o with a broken limit"
says limit.txt "LIMIT BROKEN" "-o with a broken limit"
finish

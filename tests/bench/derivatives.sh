#!/bin/sh
# What derivatives cost in instructions, which a busy machine does not blur: those of a run that
# carries the derivatives of 20 numbers along, over those of the same run without.
#
# usage: derivatives.sh PROGRAM FILE...      PROGRAM: tests/bench/derivatives.c; needs valgrind
set -eu
program=$1
shift
command -v valgrind >/dev/null || { echo "valgrind is not installed" >&2; exit 1; }
count() { # what file
    valgrind --tool=callgrind --callgrind-out-file=/dev/null --toggle-collect="derivatives_$1" \
        "$program" "$1" "$2" 2>&1 >/dev/null | sed -n 's/.*Collected : //p'
}
printf '%-24s %10s %10s %7s\n' "millions of instructions" plain with ratio
for file; do
    plain=$(count plain "$file")
    with=$(count with "$file")
    awk -v name="$(basename "$file")" -v plain="$plain" -v with="$with" \
        'BEGIN { printf "%-24s %10.2f %10.2f %7.2f\n", name, plain / 1e6, with / 1e6, with / plain }'
done

#!/usr/bin/env bash
# The public headers' documentation: Doxygen has nothing to complain of, and every function and enum has words of its own.
# Structs and members may do without where their names say it.
#   doxygen.sh SOURCE_DIR
set -euo pipefail
command -v doxygen >/dev/null || { echo "skipped: doxygen is not installed"; exit 77; }
cd "$1"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
{ cat data/doc/Doxyfile; echo "OUTPUT_DIRECTORY=$work"; } | doxygen - 2>"$work/all"
{ cat data/doc/Doxyfile; echo "OUTPUT_DIRECTORY=$work"; echo "EXTRACT_ALL=NO"; } | doxygen - 2>"$work/bare"
if [ -s "$work/all" ]; then head -20 "$work/all" >&2; exit 1; fi
grep -vE '\(variable\)|Compound [a-z_]+ is not documented' "$work/bare" >"$work/bad" || true
if [ -s "$work/bad" ]; then
    head -20 "$work/bad" >&2
    echo "FAILED: these need a comment of their own" >&2
    exit 1
fi
n=$(grep -rl "rfy_run" "$work/html" | wc -l)
[ "$n" -gt 2 ] || { echo "FAILED: the pages do not tell of rfy_run" >&2; exit 1; }

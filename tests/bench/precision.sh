#!/bin/sh
# The picture of the curves in DIRECTORY, where there is a gnuplot: sh precision.sh DIRECTORY
set -eu
if ! command -v gnuplot >/dev/null; then
    echo "no gnuplot here; the curves: $1/precision-*.dat"
    exit 0
fi
gnuplot -e "directory='$1'" "$(dirname "$0")/precision.gp"
echo "picture: $1/precision.svg"

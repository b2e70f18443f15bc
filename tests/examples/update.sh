#!/bin/sh
# Computes the stored answers of all examples anew: sh tests/examples/update.sh BUILD
# Read what changed (git diff tests/examples) before keeping it.
set -eu
build=${1:?"the build directory"}
cmake --build "$build" --target test_examples
"$build/tests/test_examples" --update

#!/usr/bin/env bash
# cmake --install into a place of its own: everything is there, and the library example builds on it and runs.
#   install.sh BUILD_DIR SOURCE_DIR
set -euo pipefail
build=$(realpath "$1")
source_dir=$(realpath "$2")
source "$source_dir/tests/package/use_library.sh"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cmake --install "$build" --prefix "$work/there" >/dev/null
cd "$work/there"
for wanted in bin/rarefy include/rarefy/rarefy.h share/man/man1/rarefy.1.gz share/bash-completion/completions/rarefy \
    share/zsh/vendor-completions/_rarefy share/fish/vendor_completions.d/rarefy.fish share/rarefy/rarefy.schema.json \
    share/doc/rarefy/README.md share/doc/rarefy/examples/photocell-bulb.json \
    share/doc/librarefy-dev/examples/time_to_pressure.c; do
    [ -s "$wanted" ] || { echo "FAILED: $wanted is not installed" >&2; exit 1; }
done
use_library "$work/there"

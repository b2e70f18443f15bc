#!/usr/bin/env bash
# The Debian packages: made, installed, run, built against, removed. As root; changes the machine while it runs.
#   package.sh BUILD_DIR SOURCE_DIR
set -euo pipefail
build=$(realpath "$1")
source_dir=$(realpath "$2")
source "$source_dir/tests/package/use_library.sh"
work=$(mktemp -d)
trap 'rm -rf "$work"; dpkg --remove rarefy librarefy-dev >/dev/null 2>&1 || true' EXIT
fail() { echo "FAILED: $*" >&2; exit 1; }

cpack --config "$build/CPackConfig.cmake" -B "$work" >"$work/log" 2>&1 || { cat "$work/log" >&2; fail "cpack"; }
ls "$work"/*.deb
dpkg --field "$work"/rarefy_*.deb Depends | grep -q libgsl || fail "the package does not depend on libgsl"
dpkg --install "$work"/rarefy_*.deb "$work"/librarefy-dev_*.deb >/dev/null
[ "$(command -v rarefy)" = /usr/bin/rarefy ] || hash -r
/usr/bin/rarefy run /usr/share/doc/rarefy/examples/photocell-bulb.json | grep -F "bake-out may start" >/dev/null ||
    fail "the installed program does not run its example"
[ -s /usr/share/man/man1/rarefy.1.gz ] || [ -e /etc/dpkg/dpkg.cfg.d/docker ] || fail "no manual page"
bash -c 'source /usr/share/bash-completion/completions/rarefy && complete -p rarefy' >/dev/null || fail "completion"
python3 -m json.tool /usr/share/rarefy/rarefy.schema.json >/dev/null || fail "schema"
use_library ""
dpkg --remove rarefy librarefy-dev >/dev/null
left=$(find /usr/bin /usr/include /usr/lib /usr/share -path '*rarefy*' 2>/dev/null)
[ -z "$left" ] || fail "left behind: $left"
echo "packages: built, installed, run, built against, removed"

# use_library PREFIX: builds examples/time_to_pressure.c against what is installed there, once with pkg-config and once
# with find_package, and runs both. "" is the system itself. Sourced by install.sh and package.sh; $source_dir is the tree.
use_library() {
    local prefix=$1 dir pc answer
    dir=$(mktemp -d) || return 1
    pc=$(find "${prefix:-/usr}/lib" -name rarefy.pc -print -quit)
    [ -n "$pc" ] || { echo "FAILED: no rarefy.pc under ${prefix:-/usr}" >&2; return 1; }
    # shellcheck disable=SC2046 # flags are words
    PKG_CONFIG_PATH=$(dirname "$pc") cc -std=c11 -Wall -Wextra -Werror "$source_dir/examples/time_to_pressure.c" \
        $(PKG_CONFIG_PATH=$(dirname "$pc") pkg-config --cflags --libs rarefy) -o "$dir/by_pkg_config" || return 1
    cp "$source_dir/examples/time_to_pressure.c" "$dir"
    cat >"$dir/CMakeLists.txt" <<'CMAKE'
cmake_minimum_required(VERSION 3.25)
project(user C)
find_package(rarefy 0.1 REQUIRED)
find_package(PkgConfig REQUIRED)
add_executable(by_cmake time_to_pressure.c)
target_link_libraries(by_cmake rarefy::rarefy PkgConfig::GSL)
CMAKE
    cmake -S "$dir" -B "$dir/build" ${prefix:+-DCMAKE_PREFIX_PATH="$prefix"} >"$dir/log" 2>&1 &&
        cmake --build "$dir/build" >>"$dir/log" 2>&1 || { cat "$dir/log" >&2; return 1; }
    for one in "$dir/by_pkg_config" "$dir/build/by_cmake"; do
        answer=$("$one" "$source_dir/examples/photocell-bulb.json" "bake-out may start") || return 1
        case $answer in
        "bulb falls below 0.001 Pa after "*" s") ;;
        *) echo "FAILED: $one says: $answer" >&2; return 1 ;;
        esac
    done
    echo "library example, with pkg-config and with CMake: $answer"
    rm -rf "$dir"
}

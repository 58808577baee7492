#!/bin/bash
# Runs every test: three builds, their tests, the fuzz targets, the checks of the house. Ends with what ran and what did not.
#
#   ./tests/run.sh            every test, 10 s of each fuzz target
#   ./tests/run.sh --long     60 s of each fuzz target, and how often a verdict about volts and amps is wrong over 5,000 traces a limit and seed
#
# --long also kills 200 recordings, ties clocks for a minute, and tries the program in a guest with a kernel of its own.
#
# Exit code: 0 all passed, 1 something failed, 2 wrong use. Everything it makes lies in .build/, logs in .build/logs/.
set -uo pipefail

fuzz_seconds=10 long=no
for argument; do
    case $argument in
    --long) fuzz_seconds=60; export RECORD_KILLS=200 USB_SECONDS=60 long=yes ;;
    *)
        echo "usage: tests/run.sh [--long]" >&2
        exit 2
        ;;
    esac
done

cd "$(dirname "${BASH_SOURCE[0]}")/.." || exit 2
root=$PWD
logs=$root/.build/logs
jobs=$(getconf _NPROCESSORS_ONLN)
passed=0 failed=0 skipped=0
ran=() not_run=() broken=()
export LC_ALL=C.UTF-8 CTEST_PARALLEL_LEVEL=$jobs
export ASAN_OPTIONS=detect_stack_use_after_return=1:strict_string_checks=1 UBSAN_OPTIONS=print_stacktrace=1
mkdir -p "$logs"
rm -f "$logs"/*
# shellcheck source=cli/prepare.sh
. cli/prepare.sh

# What the tests need beside what the build needs. Kernel headers exist for some architectures only.
packages_of_tests() {
    local headers
    echo libcmocka-dev strace umockdev libumockdev-dev clang libclang-rt-dev tcpdump zsh fish man-db zstd gzip
    headers=linux-headers-$(dpkg --print-architecture 2>/dev/null || echo none)
    if package_there "$headers" || [ -n "$(apt-cache --names-only search "^$headers\$" 2>/dev/null)" ]; then
        echo "$headers"
    else
        # A fresh machine has no package lists yet.
        packages_apt update >/dev/null 2>&1 || true
        [ -z "$(apt-cache --names-only search "^$headers\$" 2>/dev/null)" ] || echo "$headers"
    fi
}

seconds() {
    echo $((SECONDS - $1))
}

fail() { # NAME LOG LINES
    failed=$((failed + 1))
    broken+=("$1")
    echo "  FAILED: $1 (all of it: ${2#"$root"/})"
    # What went well is left out.
    grep -vE '^ +Start +[0-9]+: |^ *[0-9]+/[0-9]+ Test +#.* Passed |^\[ (RUN|      OK) ' "$2" | tail -n "$3" | sed 's/^/    /'
}

# build NAME OPTIONS... : configures and builds into .build/NAME.
build() {
    local name=$1 log=$logs/$1-build.log since=$SECONDS
    shift
    folder_fresh ".build/$name"
    printf '%-10s ' "$name"
    if { cmake -S . -B ".build/$name" -DCMAKE_BUILD_TYPE=Release "$@" &&
         cmake --build ".build/$name" -j"$jobs"; } >"$log" 2>&1; then
        passed=$((passed + 1))
        echo "built in $(seconds "$since") s"
        ran+=("$name: the build")
        return 0
    fi
    echo
    fail "$name: the build" "$log" 40
    not_run+=("$name: its tests (the build failed)")
    return 1
}

# try NAME : runs the tests of .build/NAME and counts them.
try() {
    local name=$1 log=$logs/$1-tests.log since=$SECONDS status=0 counts p f s
    printf '%-10s ' "$name"
    ctest --test-dir ".build/$name" --output-on-failure --no-tests=error >"$log" 2>&1 || status=$?
    counts=$(awk -v skips="$logs/skips" -f tests/count.awk ".build/$name/Testing/Temporary/LastTest.log")
    read -r p f s <<<"$counts"
    passed=$((passed + p)) skipped=$((skipped + s))
    echo "$p passed, $f failed, $s skipped in $(seconds "$since") s"
    ran+=("$name: $((p + f)) tests")
    if [ "$status" -ne 0 ] || [ "$f" -ne 0 ]; then
        fail "$name: tests" "$log" 60
        failed=$((failed - 1 + (f > 0 ? f : 1)))
    fi
}

# One fuzz target, from its corpus; what it adds goes into a copy.
fuzz_one() {
    local name=$1 work=$root/.build/fuzz/work/$1
    rm -rf "$work"
    mkdir -p "$work/corpus" "$work/found"
    cp tests/fuzz/corpus/"$name"/* "$work/corpus/"
    timeout $((fuzz_seconds + 120)) ".build/fuzz/tests/fuzz/fuzz_$name" -max_total_time="$fuzz_seconds" -timeout=20 \
        -rss_limit_mb=2048 -print_final_stats=1 -artifact_prefix="$work/found/" "$work/corpus" >"$logs/fuzz-$name.log" 2>&1
}

# As many at a time as there are processors, so that each has one to itself.
fuzz() {
    local name names=() k n
    for name in tests/fuzz/corpus/*/; do
        names+=("$(basename "$name")")
    done
    for ((k = 0; k < ${#names[@]}; k += jobs)); do
        local workers=()
        for name in "${names[@]:k:jobs}"; do
            fuzz_one "$name" &
            workers+=($!)
        done
        for n in "${!workers[@]}"; do
            wait "${workers[$n]}"
            fuzz_tell "${names[$((k + n))]}" $?
        done
    done
}

fuzz_tell() { # NAME STATUS
    if [ "$2" -eq 0 ]; then
        passed=$((passed + 1))
        printf '%-10s %s: %s s, %s inputs, nothing found\n' fuzz "$1" "$fuzz_seconds" \
            "$(sed -n 's/^stat::number_of_executed_units: *//p' "$logs/fuzz-$1.log")"
        ran+=("fuzz: $1 for $fuzz_seconds s")
    else
        fail "fuzz: $1" "$logs/fuzz-$1.log" 40
    fi
}

# How often a verdict is wrong, by what the instrument may be off: the short form of it is one of the tests.
statistics() {
    local log=$logs/statistics.log since=$SECONDS
    printf '%-10s ' statistics
    export STATISTICS_TRACES=5000
    if .build/release/tests/rules/test_statistics >"$log" 2>&1 && .build/release/tests/rules/test_many_readings >>"$log" 2>&1; then
        passed=$((passed + 1))
        echo "5,000 traces for each limit and seed in $(seconds "$since") s (${log#"$root"/})"
        ran+=("statistics: 5,000 traces for each limit and seed")
    else
        fail statistics "$log" 60
    fi
    unset STATISTICS_TRACES
}

# A skip must stand in tests/skips, and only where there is no ../shared; without apt, want of a package excuses too.
judge_skips() {
    local name reason
    [ -s "$logs/skips" ] || return 0
    while IFS=$'\t' read -r name reason; do
        not_run+=("$name: ${reason:-no reason given}")
        if [ ! -e ../shared/peer ] && grep -qxF "$name" <(sed 's/ *#.*//' tests/skips); then
            continue
        fi
        if ! command -v apt-get >/dev/null; then
            continue
        fi
        failed=$((failed + 1))
        broken+=("$name was skipped, which tests/skips does not allow here")
    done < <(sort -u "$logs/skips")
}

# The program in a guest with a real kernel; it says itself what it lacks.
guest() {
    local log=$logs/guest.log status=0
    tests/guest/run.sh .build/release/cli/portassay >"$log" 2>&1 || status=$?
    case $status in
    0)
        passed=$((passed + 1))
        ran+=("guest: sniffer and port managers of a real kernel")
        ;;
    77)
        skipped=$((skipped + 1))
        not_run+=("guest: $(sed -n 's/^skipped: //p' "$log")")
        ;;
    *) fail "guest: sniffer and port managers of a real kernel" "$log" 40 ;;
    esac
}

summary() {
    echo
    echo "What ran:"
    printf '  %s\n' "${ran[@]}"
    if [ ${#not_run[@]} -gt 0 ]; then
        echo "What was skipped:"
        printf '  %s\n' "${not_run[@]}"
    fi
    if [ ${#broken[@]} -gt 0 ]; then
        echo "What failed:"
        printf '  %s\n' "${broken[@]}"
    fi
    echo "Time: $SECONDS s"
    echo "$passed passed, $failed failed, $skipped skipped"
}

# shellcheck disable=SC2086 # a list of names
packages_need $PACKAGES_BUILD
# shellcheck disable=SC2046
packages_want $(packages_of_tests)
[ "$long" = no ] || packages_want qemu-system-x86 busybox-static cpio

build release -DPORTASSAY_SANITIZE=OFF -DPORTASSAY_FUZZ=OFF -DBUILD_TESTING=ON && try release &&
    if [ "$fuzz_seconds" -gt 10 ]; then statistics; fi
build sanitize -DPORTASSAY_SANITIZE=ON -DPORTASSAY_FUZZ=OFF -DBUILD_TESTING=ON && try sanitize
if command -v clang >/dev/null; then
    CC=clang build clang -DBUILD_TESTING=ON && try clang
    CC=clang build fuzz -DPORTASSAY_FUZZ=ON -DBUILD_TESTING=ON && fuzz
else
    skipped=$((skipped + 2))
    printf '%s\t%s\n' clang "no clang here" fuzz "no clang here" >>"$logs/skips"
fi
[ "$long" = no ] || guest
judge_skips
summary
[ "$failed" -eq 0 ]

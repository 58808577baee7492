#!/bin/bash
# Breaks the rules one by one and shows which tests notice. On demand; it takes minutes.
#
#   ./tests/mutation/run.sh [PATTERN]     every mutant, or those whose line (kind rule index) matches the pattern
#
# Exit code: 0 if at least 95 % are noticed, else 1; 2 if it could not be done. What survives is listed, with the reason where
# tests/mutation/equivalent gives one (it counts as a survivor all the same). Sides of limits that a rule never reads, by its code, are no
# mutants: tests/mutation/not-read names them, each is put far off to see that it is so, and the run fails where a test notices.
# Everything it makes lies in .build/mutants/.
set -uo pipefail

cd "$(dirname "${BASH_SOURCE[0]}")/../.." || exit 2
build=$PWD/.build/mutants
pattern=${1:-.}
jobs=$(getconf _NPROCESSORS_ONLN)
mkdir -p "$build"
export LC_ALL=C.UTF-8

if ! { cmake -S . -B "$build" -DCMAKE_BUILD_TYPE=Release -DPORTASSAY_MUTANTS=ON && cmake --build "$build" -j"$jobs"; } >"$build.log" 2>&1; then
    echo "tests/mutation/run.sh: the test build failed; see .build/mutants.log" >&2
    exit 2
fi

# The quick proofs first, what plays many traces last: the first that fails has noticed.
MUTATION_TESTS=$(find "$build/tests/rules" "$build/tests/matrix" -maxdepth 1 -type f -name 'test_*' -perm -u+x 2>/dev/null | sort -r | tr '\n' ' ')
export MUTATION_TESTS

# The tests of the rule's own group before the others: most are noticed there.
tests_for() { # kind rule index
    local group=${1#* } test own= others=
    group=${group%%.*}
    for test in $MUTATION_TESTS; do
        case ${test##*/} in
            "test_$group"*) own+=" $test" ;;
            *) others+=" $test" ;;
        esac
    done
    echo "$own$others"
}

try() { # kind rule index
    local test
    export PORTASSAY_MUTANT=$1
    for test in $(tests_for "$1"); do
        if ! MATRIX_RANDOM=0 timeout 120 "$test" >/dev/null 2>&1; then
            echo "noticed $1 ${test##*/}"
            return
        fi
    done
    echo "survived $1"
}
export -f tests_for try

# No mutant: everything must pass, or nothing that follows means anything.
if [ "$(try "none none 0")" != "survived none none 0" ]; then
    echo "tests/mutation/run.sh: a test fails without any mutant: $(try "none none 0")" >&2
    exit 2
fi
"$build/tests/mutation/list_mutants" >"$build/all"
"$build/tests/mutation/list_mutants" named >"$build/limits"
grep -oE '^[a-z][^ ]+ [^ ]+ (least|most)' tests/mutation/not-read | while read -r rule parameter side; do
    if ! grep -E "^limit $rule [0-9]+ $parameter $side\$" "$build/limits"; then
        echo "tests/mutation/run.sh: tests/mutation/not-read names $rule $parameter $side, and there is no such limit" >&2
    fi
done | cut -d' ' -f1-3 >"$build/not-read"
try_all() { # list
    tr '\n' '\0' <"$1" | xargs -0 -r -P "$jobs" -I{} bash -c 'try "$1"' _ {}
}
grep -vxF -f "$build/not-read" "$build/all" | grep -E -- "$pattern" >"$build/list"
try_all "$build/list" >"$build/results"
sed 's/^limit/unread/' "$build/not-read" | grep -E -- "$pattern" >"$build/unread"
try_all "$build/unread" >"$build/unread.results"

echo "kind          mutants  noticed"
for kind in limit turned skipped edge suppression; do
    printf '%-12s %8d %8d\n' "$kind" "$(grep -c " $kind " "$build/results")" "$(grep -c "^noticed $kind " "$build/results")"
done
total=$(wc -l <"$build/results")
noticed=$(grep -c '^noticed ' "$build/results")
printf '%-12s %8d %8d  %d.%d %%\n' all "$total" "$noticed" $((noticed * 100 / (total ? total : 1))) $((noticed * 1000 / (total ? total : 1) % 10))
grep '^survived ' "$build/results" | sort | while read -r _ mutant; do
    reason=$(sed -n "s/^$mutant  *//p" tests/mutation/equivalent 2>/dev/null | head -n 1)
    echo "survived: $mutant${reason:+ - $reason}"
done
echo "sides of limits that no code of their rule reads, no mutants: $(wc -l <"$build/unread")"
if grep '^noticed ' "$build/unread.results"; then
    echo "tests/mutation/run.sh: tests/mutation/not-read is wrong about these: their rule reads them" >&2
    exit 1
fi
[ "$total" -gt 0 ] && [ $((noticed * 100)) -ge $((total * 95)) ]

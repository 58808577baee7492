#!/bin/bash
# What the documents show is what the program prints: every "$ portassay ..." of a console block is run, from the project's folder,
# and its output compared with what follows. A line of "..." stands for any lines left out.
#   test_readme.sh PORTASSAY SOURCE DOCUMENT...
set -uo pipefail
export LC_ALL=C.UTF-8 NO_COLOR=1 PATH=${1%/*}:$PATH
cd "$2" || exit 2
shift 2
wrong=0 tried=0
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

# True if the lines of file $1 match those of $2, "..." in the first standing for any.
matches() {
    awk 'FNR == NR { want[++n] = $0; next } { have[++m] = $0 }
        END { exit !fits(1, 1) }
        function fits(i, j,   k) {
            for (; i <= n; i++) {
                if (want[i] == "...") {
                    for (k = j; k <= m + 1; k++)
                        if (fits(i + 1, k))
                            return 1
                    return 0
                }
                if (j > m || want[i] != have[j++])
                    return 0
            }
            return j == m + 1
        }' "$1" "$2"
}

try() { # DOCUMENT COMMAND
    (eval "$2") >"$scratch/found" 2>&1
    tried=$((tried + 1))
    if ! matches "$scratch/shown" "$scratch/found"; then
        echo "FAILED: $1: $2 (< shown, > found)"
        diff "$scratch/shown" "$scratch/found"
        wrong=1
    fi
}

for document; do
    command='' inside=no
    while IFS= read -r line; do
        if [ "$inside" = no ]; then
            [ "$line" = '```console' ] && inside=yes
            continue
        fi
        case $line in
        '$ portassay '* | '```')
            [ -z "$command" ] || try "$document" "$command"
            command=''
            [ "$line" = '```' ] && inside=no || command=${line#\$ }
            : >"$scratch/shown"
            ;;
        '$ '*)
            [ -z "$command" ] || try "$document" "$command"
            command=''
            ;;
        *) printf '%s\n' "$line" >>"$scratch/shown" ;;
        esac
    done <"$document"
done
# How much of the catalogue is judged: a number that is easily forgotten.
judged=$(portassay rules --json | grep -o '"judged":[0-9]*,"of":[0-9]*' | head -n 1 | sed 's/"judged":\([0-9]*\),"of":\([0-9]*\)/judges \1 of the \2 rules/')
for document; do
    while read -r said; do
        [ -z "$judged" ] || [ "$said" = "$judged" ] || { echo "FAILED: $document says \"$said\", the program $judged"; wrong=1; }
    done < <(grep -o 'judges [0-9]* of the [0-9]* rules' "$document")
done
[ "$tried" -gt 0 ] || { echo "FAILED: nothing to try in $*"; wrong=1; }
exit "$wrong"

#!/bin/bash
# What holds for the project's files as a whole.
#   test_house.sh SOURCE
set -uo pipefail
cd "$1" || exit 2
export LC_ALL=C.UTF-8
wrong=0

no() {
    echo "FAILED: $*"
    wrong=1
}

# The files of the project: what git knows, or all but build folders where there is no git.
files() {
    if git rev-parse --is-inside-work-tree >/dev/null 2>&1 && [ -e .git ]; then
        git -c safe.directory='*' ls-files
    else
        find . -type f -not -path './.build/*' -not -path './build*' -not -path './.git/*' | sed 's,^\./,,'
    fi
}
files >"${list:=$(mktemp)}"
trap 'rm -f "$list"' EXIT
[ -s "$list" ] || { no "no files found"; exit 1; }

# The top level is what it is said to be.
top=$(cut -d/ -f1 "$list" | grep -v '^\.' | sort -u | tr '\n' ' ')
[ "$top" = "CMakeLists.txt DEVELOPERS.md LICENSE README.md capture cli decode rules tests traces " ] || no "top level: $top"
for script in cli/quickstart.sh tests/run.sh .ci/run; do
    [ -x "$script" ] || no "$script is not executable"
done

# DEVELOPERS.md stays short enough to be read.
lines=$(wc -l <DEVELOPERS.md)
[ "$lines" -lt 150 ] || no "DEVELOPERS.md has $lines lines, 150 are too many"

# Every link of the documents that points into the project leads somewhere.
for page in README.md DEVELOPERS.md traces/*.md; do
    while read -r link; do
        [ -e "$(dirname "$page")/$link" ] || no "$page: link to $link leads nowhere"
    done < <(grep -oE '\]\([^)#:]+' "$page" | cut -c3-)
    # So does every file named in a code span that has a folder of ours in front.
    while read -r name; do
        [ -e "$name" ] || no "$page: there is no $name"
    done < <(grep -oE '`(capture|decode|rules|cli|tests|traces)/[A-Za-z0-9_./-]+`' "$page" | tr -d '`')
done

# Nothing unfinished, no paths of somebody's machine, in what is ours.
ours=$(grep -E '\.(c|h|sh|cmake|md|1|bash|fish|awk)$|CMakeLists\.txt$|_portassay$|^\.ci/run$' "$list" | grep -v '^tests/docs/test_house.sh$')
# shellcheck disable=SC2086 # a list of names without blanks
{
    grep -nE '\b(TODO|FIXME|XXX|HACK)\b' $ours && no "something is unfinished"
    grep -nE '(^|[^a-z.])/(work|root)/' $ours && no "a path of somebody's machine"
}

# Files of code: at most 600 lines, tables exempt. A file is a table if most of its lines are rows of braces.
while read -r file; do
    lines=$(wc -l <"$file")
    [ "$lines" -le 600 ] && continue
    rows=$(grep -cE '^ *(\{|"|\[|\.[a-z_]+ =)' "$file")
    [ $((rows * 2)) -gt "$lines" ] || no "$file has $lines lines"
done < <(grep -E '^(capture|decode|rules|cli)/.*\.[ch]$' "$list")

# No function over 60 lines: from a line that ends a head, the opening brace in the first column, to the closing one.
while read -r file; do
    awk -v file="$file" '/^\{/ { from = NR } /^\}/ { if (from && NR - from - 1 > 60) { print file ":" from ": " NR - from - 1 " lines"; bad = 1 } from = 0 }
        END { exit bad }' "$file" || no "$file has a function over 60 lines"
done < <(grep -E '^(capture|decode|rules|cli)/.*\.c$' "$list")

# The libraries are silent: no printing, no exit, no environment.
while read -r file; do
    grep -nE '\b(printf|fprintf|puts|perror|exit|abort|getenv)\(' "$file" | grep -v '^ *[0-9]*: *\*' && no "$file prints, exits or reads the environment"
done < <(grep -E '^(capture|decode|rules)/.*\.[ch]$' "$list")

# A rule's numbers are what --limits made of them: nothing looks them up in the table as it stands.
while read -r file; do
    grep -nE '\bparameter_find\(' "$file" && no "$file goes by a number that --limits cannot reach; judge_parameter gives it"
done < <(grep -E '^rules/.*\.c$' "$list" | grep -v '^rules/parameters\.c$')
exit "$wrong"

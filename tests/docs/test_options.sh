#!/bin/bash
# The options that a command's --help names, those of its manual page and those that the three shells complete are the same.
#   test_options.sh PORTASSAY SOURCE
set -uo pipefail
export LC_ALL=C.UTF-8 PATH=${1%/*}:$PATH
source=$2
wrong=0

for tool in man zsh fish; do
    command -v "$tool" >/dev/null || { echo "skipped: there is no $tool"; exit 77; }
done

differ() { # WHAT EXPECTED FOUND
    [ "$2" = "$3" ] && return
    echo "FAILED: $1 (< what --help says)"
    diff <(echo "$2") <(echo "$3") | grep '^[<>]'
    wrong=1
}

# Long names of options, sorted, one a line.
names() {
    grep -oE -- '(^|[ ,/])--[a-z][a-z-]*' | grep -oE -- '--[a-z-]+' | sort -u
}

of_help() {
    portassay "$1" --help | grep -E '^ +(-[a-z], *)?--[a-z]' | sed 's/\( --[a-z-]*\).*/\1/' | names
}

# Short and long together, as "-o --output"; only long: "--json".
pairs_of_help() {
    portassay "$1" --help | grep -E '^ +(-[a-z], *)?--[a-z]' | sed -E 's/^ +((-[a-z]), *)?(--[a-z-]+).*/\2 \3/; s/^ //' | sort -u
}

rendered() {
    MANWIDTH=100 man -l "$source/cli/man/portassay-$1.1" 2>/dev/null | col -bx | sed -n '/^OPTIONS/,/^[A-Z]/p;' |
        grep -E '^ {7}-'
}

of_bash() {
    bash --norc -c '. "$1/cli/completions/portassay.bash"
        COMP_WORDS=(portassay "$2" --) COMP_CWORD=2
        _portassay
        printf "%s\n" "${COMPREPLY[@]}"' bash "$source" "$1" | names
}

# The functions that zsh completes with stand in for themselves: they print what they were given.
of_zsh() {
    zsh -f -c '_arguments() { print -rl -- "$@" }
        _describe() { }
        _files() { }
        words=(portassay $2 --) CURRENT=3
        . $1/cli/completions/_portassay' zsh "$source" "$1" | sed -E 's/^\*//; s/\[.*//' | grep -E '^--[a-z]' | sort -u
}

of_fish() {
    HOME=$(mktemp -d) fish --no-config -c "complete -e portassay; source '$source/cli/completions/portassay.fish'
        complete -C 'portassay $1 --'" 2>/dev/null | cut -f1 | grep -E '^--' | sort -u
}

commands=$(portassay --help | sed -nE 's/^  ([a-z]+) .*/\1/p')
[ -n "$commands" ] || { echo "FAILED: portassay --help lists no commands"; exit 1; }
for command in $commands; do
    help=$(of_help "$command")
    [ -n "$help" ] || { echo "FAILED: $command --help names no options"; wrong=1; continue; }
    differ "$command: manual page" "$help" "$(rendered "$command" | sed -E 's/ (--[a-z-]+).*/ \1/' | names)"
    differ "$command: short options of the manual page" "$(pairs_of_help "$command")" \
        "$(rendered "$command" | sed -E 's/^ +((-[a-z])( [A-Z]+)?, *)?(--[a-z-]+).*/\2 \4/; s/^ //' | sort -u)"
    differ "$command: bash" "$help" "$(of_bash "$command")"
    differ "$command: zsh" "$help" "$(of_zsh "$command")"
    differ "$command: fish" "$help" "$(of_fish "$command")"
    grep -q "^\.BR portassay\\\\-$command (1)" "$source/cli/man/portassay.1" || { echo "FAILED: portassay.1 does not name $command"; wrong=1; }
done

# The pages themselves are sound, and the completions can be read.
for page in "$source"/cli/man/*.1; do
    complaint=$(man --warnings -E UTF-8 -l -Tutf8 "$page" 2>&1 >/dev/null)
    [ -z "$complaint" ] || { echo "FAILED: ${page##*/}: $complaint"; wrong=1; }
done
bash -n "$source/cli/completions/portassay.bash" && zsh -n "$source/cli/completions/_portassay" &&
    fish -n "$source/cli/completions/portassay.fish" || wrong=1
exit "$wrong"

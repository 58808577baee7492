#!/bin/bash
# Every key, step and word of a scenario that synth reads stands in its manual page.
#   test_scenario.sh SOURCE
set -euo pipefail
cd "$1"
page=$(sed 's/\\-/-/g; s/\\fR//g' cli/man/portassay-synth.1)

# Rows of the tables of keys, and the strings of the tables of words; Get_... from the table of questions.
words=$( { grep -ohE '\{ "[a-z0-9_]+", KEY_' cli/synth/synth_scenario.c cli/synth/synth_read.c cli/synth/synth_output.c
           sed -nE '/^(static )?const char \*const [a-z_]+\[/,/;/p' cli/synth/synth_scenario.c cli/synth/synth_read.c cli/synth/synth_output.c
           sed -n '/^} supports\[\]/,/^};/p; /^} questions\[\]/,/^};/p' cli/synth/synth_scenario.c cli/synth/synth_get.c; } |
         grep -oE '"[^"]+"' | tr -d '"' | sort -u)
[ "$(wc -w <<<"$words")" -gt 100 ] || { echo "FAILED: the tables of keys were not found"; exit 1; }
missing=0
for word in $words; do
    if ! grep -qwF -- "$word" <<<"$page"; then
        echo "FAILED: '$word' does not stand in cli/man/portassay-synth.1"
        missing=1
    fi
done
exit "$missing"

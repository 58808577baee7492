#!/bin/bash
# Installs a build into a folder of its own, looks whether everything is in place, and builds a small program against it.
#   test_install.sh BUILD SOURCE CC
set -euo pipefail
build=$1 source=$2 cc=$3
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
prefix=$place/usr

wrong() {
    echo "FAILED: $*"
    exit 1
}

cmake --install "$build" --prefix "$prefix" >"$place/log" || { cat "$place/log"; wrong "cmake --install"; }

for file in bin/portassay share/man/man1/portassay.1 share/man/man1/portassay-{show,offers,check,rules,cut}.1 \
    share/bash-completion/completions/portassay share/zsh/site-functions/_portassay \
    share/fish/vendor_completions.d/portassay.fish include/portassay/capture/record.h include/portassay/capture/base/cursor.h \
    include/portassay/decode/port.h include/portassay/rules/engine.h; do
    [ -s "$prefix/$file" ] || wrong "$file is not installed"
done
[ -z "$(find "$prefix/include" -name '*_inside.h')" ] || wrong "headers are installed that are for nobody else"
pc=$(find "$prefix" -name portassay.pc)
[ -n "$pc" ] || wrong "portassay.pc is not installed"
export PKG_CONFIG_PATH=${pc%/*}
[ "portassay $(pkg-config --modversion portassay)" = "$("$prefix/bin/portassay" --version)" ] || wrong "the versions differ"

# Every header by itself, as a stranger would include it.
cflags=$(pkg-config --cflags portassay)
while read -r header; do
    echo "#include \"$header\"" >"$place/one.c"
    # shellcheck disable=SC2086 # a list of options
    "$cc" -std=c17 -Wall -Wextra -Werror $cflags -fsyntax-only "$place/one.c" || wrong "$header does not stand alone"
done < <(cd "$prefix/include/portassay" && find . -name '*.h' | sed 's,^\./,,')

# shellcheck disable=SC2046,SC2086
"$cc" -std=c17 -Wall -Wextra -Werror $cflags -o "$place/ten_lines" "$source/tests/install/ten_lines.c" $(pkg-config --libs portassay) ||
    wrong "ten_lines.c does not build against the installed package"
trace=$source/traces/port-managers-fixed.pcap
said=$("$place/ten_lines" "$trace")
# The installed program has the same verdict.
"$prefix/bin/portassay" check --json "$trace" >"$place/json" || [ $? -eq 1 ] || wrong "the installed program does not run"
grep -q "\"verdict\":\"$said\",\"ports\"" "$place/json" || wrong "the small program says $said, the installed one something else"

# A package is made with DESTDIR: nothing may be written elsewhere.
DESTDIR=$place/stage cmake --install "$build" --prefix /usr >"$place/log"
[ -x "$place/stage/usr/bin/portassay" ] || wrong "DESTDIR is not kept to"

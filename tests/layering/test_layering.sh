#!/bin/bash
# The build must fail when an include, or a link, runs backward: tried on copies of the project.
#   test_layering.sh SOURCE CC
set -euo pipefail
source=$1
export CC=$2
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT

wrong() {
    echo "FAILED: $*"
    exit 1
}

# A fresh copy of what a build needs.
copy() {
    rm -rf "$place/copy"
    mkdir -p "$place/copy/tests"
    cp -r "$source"/{CMakeLists.txt,capture,decode,rules,cli} "$place/copy/"
    cp "$source"/tests/*.cmake "$place/copy/tests/"
}

# build TARGET : configures and builds the copy; what it says goes to log.
build() {
    cmake -S "$place/copy" -B "$place/build" -DBUILD_TESTING=OFF >"$place/log" 2>&1 &&
        cmake --build "$place/build" --target "$1" >>"$place/log" 2>&1
}

# refused TARGET WORDS : the build of the target fails and says so in these words.
refused() {
    if build "$1"; then
        wrong "the build of $1 went through: $2"
    fi
    tr -s ' \n' ' ' <"$place/log" | grep -qF -- "$2" || { cat "$place/log"; wrong "the build of $1 failed, but not with: $2"; }
}

copy
build layering || { cat "$place/log"; wrong "the project as it is does not pass"; }

# Every folder, with the nearest to its right; the library itself is what must not come about.
for pair in capture:decode/message.h decode:rules/rule.h rules:cli/command.h; do
    part=${pair%%:*} header=${pair#*:}
    copy
    file=$(cd "$place/copy" && find "$part" -maxdepth 1 -name "*.c" | sort | sed -n 1p)
    sed -i "1i #include \"$header\"" "$place/copy/$file"
    refused "portassay_$part" "$file: #include \"$header\" reaches into ${header%%/*}/, which stands to its right"
done

copy
sed -i '1i #include "../rules/rule.h"' "$place/copy/decode/message.h"
refused portassay_decode 'decode/message.h: #include "../rules/rule.h"'

copy
sed -i '1i #include "capture/record.h"' "$place/copy/capture/base/cursor.h"
refused portassay_capture 'capture/base/cursor.h: #include "capture/record.h"'

copy
echo 'target_link_libraries(portassay_decode PRIVATE portassay_rules)' >>"$place/copy/decode/CMakeLists.txt"
refused portassay_capture 'decode: portassay_decode links portassay_rules, which stands to its right'

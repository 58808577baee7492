#!/bin/bash
# tests/count.awk counts what ctest's log tells: each cmocka case, programs without cases, failures, crashes and skips.
#   test_count.sh SOURCE
set -euo pipefail
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT

# As ctest 3.25 and cmocka 1.1.5 write it, shortened: 2 passes, a skip and a failure in one program; a program that is skipped
# as a whole; one that passes; one that crashes after a case that passed.
cat >"$place/log" <<'LOG'
1/4 Testing: one
Output:
----------------------------------------------------------
[==========] Running 4 test(s).
[ RUN      ] a
[       OK ] a
[ RUN      ] b
skipped: nothing here
[  SKIPPED ] b
[ RUN      ] c
[  ERROR   ] --- 0x1 != 0x2
[  FAILED  ] c
[ RUN      ] d
[       OK ] d
[==========] 4 test(s) run.
[  PASSED  ] 2 test(s).
[  SKIPPED ] 1 test(s), listed below:
[  SKIPPED ] b
[  FAILED  ] 1 test(s), listed below:
[  FAILED  ] c
<end of output>
Test Failed.
2/4 Testing: two
skipped: for want of something
<end of output>
Test Passed.
3/4 Testing: three
<end of output>
Test Passed.
4/4 Testing: four
[==========] Running 2 test(s).
[ RUN      ] a
[       OK ] a
[ RUN      ] b
<end of output>
Test Failed.
LOG
counts=$(awk -v skips="$place/skips" -f "$1/tests/count.awk" "$place/log")
[ "$counts" = "4 2 2" ] || { echo "FAILED: counted $counts instead of 4 passed, 2 failed, 2 skipped"; exit 1; }
printf 'one/b\tnothing here\ntwo\tfor want of something\n' | diff - "$place/skips"

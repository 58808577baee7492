# Counts the tests in a LastTest.log of ctest: prints "passed failed skipped". Each cmocka case is a test; a program without such
# cases is one test, skipped if it says "skipped: REASON". Appends "name<TAB>reason" for each skip to the file named in `skips`.
function begin(test) {
    name = test; ok = bad = left = 0; reason = ""; listing = 0
}
function skip(what) {
    left++
    print what "\t" reason >> skips
    reason = ""
}
function finish(good) {
    if (name == "")
        return
    if (ok + bad + left == 0) {
        if (good && reason != "")
            skip(name)
        else if (good)
            ok = 1
    }
    if (!good && bad == 0)
        bad = 1
    passed += ok; failed += bad; skipped += left
    name = ""
}
/^[0-9]+\/[0-9]+ Testing: / { sub(/^[0-9]+\/[0-9]+ Testing: /, ""); begin($0); next }
/^skipped: / { reason = substr($0, 10); next }
/^\[==========\] .* test\(s\) run/ { listing = 1 }
/^\[       OK \] / && !listing { ok++ }
/^\[  FAILED  \] / && !listing { bad++ }
/^\[  SKIPPED \] / && !listing { skip(name "/" substr($0, 14)) }
/^\[==========\] .*Running / { listing = 0 }
/^Test Passed\.$/ { finish(1) }
/^Test Failed\.$/ { finish(0) }
END { finish(0); print passed + 0, failed + 0, skipped + 0 }

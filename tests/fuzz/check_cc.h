/*
 * tests/fuzz/check_cc.h - what must hold of any reader of CC lines, whatever the bytes.
 */
#pragma once
#include "capture/cc_line.h"

/*
 * Blocks of a line follow one another, changes increase and lie within their block; and all of it is the same whether the bytes are read at
 * once or `piece` at a time. The notice function of options is not used.
 */
void check_cc(const struct cc_kind *kind, const uint8_t *bytes, size_t length, struct cc_options options, size_t piece);

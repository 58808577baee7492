/*
 * tests/matrix/random_lives.h - random lives of clean ports: nothing binding may fail, and every binding rule must have had its say.
 */
#pragma once
#include <stdbool.h>

/* As many as MATRIX_RANDOM says (10,000 if it says nothing, 0: none). Prints what passed how often. False: something does not fit. */
bool random_lives(void);

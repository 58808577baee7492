/*
 * cli/fault_text.h - where a fault becomes a sentence, and where complaints go: one line on standard error each.
 */
#pragma once
#include "capture/base/fault.h"
#include "capture/record.h"

#include <stddef.h>

/* What, where, what to do, in one line without newline; subject is the file's name. */
void fault_text(const struct fault *f, const char *subject, char *out, size_t cap);
/* "standard input" for "-", else the path. */
const char *subject_of(const char *path);
/* Why a record cannot be used. */
const char *record_why_text(enum record_why why);

/* "portassay: " and the text and a newline on standard error; control characters are made harmless. */
void complain(const char *format, ...) __attribute__((format(printf, 1, 2)));
void complain_fault(const struct fault *f, const char *subject);

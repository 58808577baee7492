/*
 * capture/carry.h - what must be known at the beginning of a trace that goes on from another one: what ABOUT records said so far, and
 * the last CC state of each port.
 */
#pragma once
#include "capture/record.h"

struct carry;

struct carry *carry_new(void); /* NULL: no memory */
void carry_free(struct carry *c);
/* Every record, in the order of the trace. What ABOUT says beyond CARRY_ABOUT_BYTES a port is not carried. */
void carry_take(struct carry *c, const uint8_t *bytes, size_t length);
enum { CARRY_ABOUT_BYTES = 60000 };
/* One record each, through put: ABOUT of the bench and of ports, then CC states. They are stamped t_ns, by the host. */
void carry_give(const struct carry *c, int64_t t_ns, void (*put)(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length),
                void *context);

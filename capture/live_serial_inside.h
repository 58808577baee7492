/*
 * capture/live_serial_inside.h - serial devices that are there, as text sources. Within capture only.
 */
#pragma once
#include "capture/live.h"

void live_serial_find(void (*found)(void *context, const struct live_found *one), void *context);

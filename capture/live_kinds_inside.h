/*
 * capture/live_kinds_inside.h - the kinds of sources that there are. Within capture only.
 */
#pragma once
#include "capture/live.h"

extern const struct live_kind live_text_kind, live_usb_kind;

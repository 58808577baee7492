#include "cli/sources.h"

const struct live_kind *const sources_all[] = { &live_usb_kind, &source_kernel_kind, &live_text_kind, NULL };

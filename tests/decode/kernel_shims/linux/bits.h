/* The kernel keeps its bit helpers here; ours stand in kernel.h. */
#pragma once
#include <linux/kernel.h>

/*
 * capture/live_input_inside.h - where lines come from while they are written: standard input, a file, a FIFO, a terminal device. Within
 * capture only.
 *
 * A FIFO has no end: when its writer goes, the next one is waited for. A terminal device that is pulled is looked for again. It is set raw
 * (no echo, no editing, no line ends made of others) and set back when it is closed; its baud rate stays unless one is asked for.
 */
#pragma once
#include "capture/base/fault.h"

#include <stddef.h>
#include <stdint.h>
#include <termios.h>

enum live_input_kind { LIVE_INPUT_ENDS, LIVE_INPUT_FIFO, LIVE_INPUT_TERMINAL };

struct live_input {
    const char          *path;
    int                  fd; /* -1: not there just now */
    enum live_input_kind kind;
    bool                 ours, raw;
    struct termios       before; /* what a terminal was set to; raw: it is to be set back */
    uint32_t             baud;   /* 0: as it is */
};

enum live_input_news {
    LIVE_INPUT_BYTES,
    LIVE_INPUT_NOTHING,
    LIVE_INPUT_WRITER_LEFT, /* a FIFO's: what comes next comes from another one */
    LIVE_INPUT_END,
    LIVE_INPUT_GONE,        /* errno says why, or is 0; live_input_again may find it */
};

/* path "-" is standard input. It must last as long as the input. False with FAULT_OPEN: sys EINVAL, number = baud: no such rate. */
bool live_input_open(struct live_input *in, const char *path, uint32_t baud, struct fault *f);
bool live_input_again(struct live_input *in);
/* Call it when poll says that there is something. */
enum live_input_news live_input_read(struct live_input *in, char *out, size_t room, size_t *length);
void live_input_close(struct live_input *in);

/*
 * Reads the changes of CC lines and does nothing with them: read_line KIND LINES FILE. KIND is "vcd" (signals cc1, cc2 ...) or "bits", at 24 MS/s.
 */
#include "capture/cc_line.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int main(int argc, char **argv)
{
    static const char *const names[] = { "cc1", "cc2", "cc3", "cc4" };
    struct cc_options        options = { .rate_hz = 0, .lines = argc == 4 ? (unsigned)strtoul(argv[2], NULL, 10) : 0 };
    struct fault             f = { .code = FAULT_NONE };
    struct cc_block          block;
    uint64_t                 changes = 0;

    if (options.lines < 1 || options.lines > 4) {
        fputs("usage: read_line vcd|bits 1..4 FILE\n", stderr);
        return 2;
    }
    const struct cc_kind *kind = strcmp(argv[1], "vcd") == 0 ? &cc_vcd_kind : &cc_bits_kind;

    for (unsigned k = 0; k < options.lines && kind == &cc_vcd_kind; k++)
        options.names[k] = names[k];
    if (kind == &cc_bits_kind)
        options.rate_hz = 24e6;
    struct cc_file *c = kind->open(argv[3], &options, &f);

    while (c && kind->next(c, &block, &f))
        changes += block.count;
    if (c)
        kind->close(c);
    printf("%" PRIu64 " changes\n", changes);
    return c && f.code == FAULT_NONE ? 0 : 3;
}

/*
 * Writes the files of the benchmark of CC lines: generate_line WHAT MEGABYTES FILE
 *
 *   idle   samples packed eight to a byte, of a line on which nobody talks
 *   busy   the same at 24 MS/s, messages and their GoodCRCs one after the other: 90 % of the time somebody talks
 *   one    the changes of such a line as a value change dump, in nanoseconds
 *   four   four such lines in one dump, each at another place in its talk
 *
 * A second or so of talk, and that again and again. The same file at every run.
 */
#include "tests/decode/bmc_line.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { EXCHANGES = 512, OBJECTS_MAX = 7, LINES_MAX = 4, WORD = 64, OUT_BYTES = 1 << 20, JITTER_PS = 15000 };
static const double   rate_hz = 24e6;
static const uint64_t tick_ns_3 = 125; /* three ticks of 24 MHz are 125 ns */

/* A change of a line within the period. */
struct event { uint64_t tick; unsigned line; };

struct talk { struct wave_ticks ticks; uint64_t period; /* whole words */ };

/* A message of so many objects, and after it as much of silence as makes nine tenths of talk. */
static void message_send(struct wave *w, uint16_t header, unsigned objects, uint32_t word)
{
    uint8_t bytes[2 + 4 * OBJECTS_MAX + 4] = { (uint8_t)header, (uint8_t)(header >> 8) };

    for (unsigned k = 0; k < 4 * objects; k++)
        bytes[2 + k] = (uint8_t)((word + k) * 2654435761u >> 24);
    struct wave_packet p = wave_packet_of(WAVE_SOP, bytes, wave_crc_add(bytes, 2 + 4 * (size_t)objects));
    struct wave_truth  t = wave_send(w, &p);

    wave_wait(w, (t.end_ps - t.start_ps) / 9);
}

static struct talk talk_make(void)
{
    struct wave_instrument seen = { .tick_ps = 1e12 / rate_hz, .jitter_ps = JITTER_PS, .offset_ps = 1000, .seed = 1 };
    struct wave            w;
    struct talk            t;

    wave_begin(&w, false);
    wave_wait(&w, 1e8);
    for (unsigned k = 0; k < EXCHANGES; k++) {
        uint16_t id = (uint16_t)(k % 8 << 9), revision = 2 << 6;
        unsigned objects = k * 5 % (OBJECTS_MAX + 1);

        message_send(&w, (uint16_t)(objects << 12 | id | revision | 0x100 | 1), objects, k);
        message_send(&w, (uint16_t)(id | revision | 1), 0, 0); /* GoodCRC */
    }
    t.ticks = wave_see(&w, &seen);
    t.period = (uint64_t)(w.now_ps / seen.tick_ps) / WORD * WORD + WORD;
    wave_free(&w);
    return t;
}

static bool put(FILE *f, const void *bytes, size_t length, uint64_t *left)
{
    size_t n = length < *left ? length : (size_t)*left;

    *left -= n;
    return fwrite(bytes, 1, n, f) == n && *left > 0;
}

static void write_bits(FILE *f, const struct talk *t, bool idle, uint64_t bytes)
{
    size_t   length = t->period / 8;
    uint8_t *packed = calloc(length, 1);
    bool     level = t->ticks.level;
    size_t   next = 0;

    if (!packed)
        abort();
    for (uint64_t k = 0; k < t->period && !idle; k++) {
        for (; next < t->ticks.count && (uint64_t)t->ticks.at[next] == k; next++)
            level = !level;
        packed[k / 8] |= (uint8_t)(level << k % 8);
    }
    while (put(f, packed, length, &bytes))
        continue;
    free(packed);
}

static int event_order(const void *a, const void *b)
{
    const struct event *x = a, *y = b;

    return x->tick != y->tick ? (x->tick < y->tick ? -1 : 1) : (int)x->line - (int)y->line;
}

/* What all lines do in a period; levels: at its beginning, and so at its end. */
static struct event *events_make(const struct talk *t, unsigned lines, bool levels[LINES_MAX])
{
    struct event *e = calloc(t->ticks.count * lines, sizeof *e);

    if (!e)
        abort();
    for (unsigned line = 0; line < lines; line++) {
        levels[line] = t->ticks.level;
        for (size_t k = 0; k < t->ticks.count; k++) {
            uint64_t at = (uint64_t)t->ticks.at[k] + line * t->period / lines;

            levels[line] ^= at >= t->period;
            e[line * t->ticks.count + k] = (struct event){ at % t->period, line };
        }
    }
    qsort(e, t->ticks.count * lines, sizeof *e, event_order);
    return e;
}

static size_t put_number(char *out, uint64_t n)
{
    char   digits[20];
    size_t k = sizeof digits;

    do
        digits[--k] = (char)('0' + n % 10);
    while ((n /= 10) > 0);
    memcpy(out, digits + k, sizeof digits - k);
    return sizeof digits - k;
}

static void write_dump(FILE *f, const struct talk *t, unsigned lines, uint64_t bytes)
{
    bool          levels[LINES_MAX];
    struct event *e = events_make(t, lines, levels);
    uint64_t      last = UINT64_MAX, time;
    char          text[80];

    fputs("$comment INVENTED for the benchmark $end\n$timescale 1 ns $end\n$scope module bench $end\n", f);
    for (unsigned k = 0; k < lines; k++)
        fprintf(f, "$var wire 1 %c cc%u $end\n", '!' + (int)k, k + 1);
    fputs("$upscope $end\n$enddefinitions $end\n#0\n$dumpvars\n", f);
    for (unsigned k = 0; k < lines; k++)
        fprintf(f, "%d%c\n", levels[k], '!' + (int)k);
    fputs("$end\n", f);
    for (uint64_t period = 0;; period++)
        for (size_t k = 0; k < t->ticks.count * lines; k++) {
            size_t n = 0;

            time = (period * t->period + e[k].tick) * tick_ns_3 / 3;
            if (time != last) {
                text[n++] = '#';
                n += put_number(text + n, time);
                text[n++] = '\n';
            }
            last = time;
            levels[e[k].line] = !levels[e[k].line];
            text[n++] = levels[e[k].line] ? '1' : '0';
            text[n++] = (char)('!' + (int)e[k].line);
            text[n++] = '\n';
            if (bytes < n) { /* whole lines only */
                free(e);
                return;
            }
            put(f, text, n, &bytes);
        }
}

int main(int argc, char **argv)
{
    uint64_t bytes = argc == 4 ? strtoull(argv[2], NULL, 10) * 1000000 : 0;
    FILE    *f = argc == 4 ? fopen(argv[3], "wb") : NULL;
    char    *buffer = malloc(OUT_BYTES);

    if (bytes == 0 || !f || !buffer || setvbuf(f, buffer, _IOFBF, OUT_BYTES) != 0) {
        fputs("usage: generate_line idle|busy|one|four MEGABYTES FILE\n", stderr);
        return 2;
    }
    struct talk t = talk_make();

    if (strcmp(argv[1], "idle") == 0 || strcmp(argv[1], "busy") == 0)
        write_bits(f, &t, argv[1][0] == 'i', bytes);
    else
        write_dump(f, &t, strcmp(argv[1], "four") == 0 ? LINES_MAX : 1, bytes);
    free(t.ticks.at);
    if (fclose(f) != 0) {
        perror(argv[3]);
        return 1;
    }
    free(buffer);
    return 0;
}

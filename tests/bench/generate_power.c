/*
 * Writes the trace of the power benchmark: generate_power MEGABYTES ROWS SPACING_NS FILE. A made-up charger is plugged in, gives 9 V at
 * 3 A, and a load moves for as long as the file is to be: POWER records of so many rows, VBUS and IBUS, with some millivolts of noise.
 * The same trace at every run.
 */
#include "tests/bench/talk.h"

#include "capture/record.h"
#include "capture/writer.h"
#include "decode/message.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ROWS_MAX = 1000, NS_OF_US = 1000, NS_OF_MS = 1000000, UV_OF_MV = 1000 };
/* Regulation: the level without load, what an ampere takes from it; a step's dip, and how long it lasts. */
enum { HIGH_MV = 50, OUTPUT_MOHM = 30, DIP_MOHM = 150, DIP_NS = 300000 };
enum { LEAST_MA = 600, SPAN_MA = 2000, STEP_NS_MOST = 2000000000, WANDER_MA_PER_S = 20 };

static const char about[] =
    "{\"device\":\"Lumenbrick 65\",\"note\":\"made up for the benchmark\",\"ports\":["
    "{\"port\":0,\"name\":\"C2\",\"kind\":\"source\",\"volt_at\":\"source\",\"rated_w\":27}],"
    "\"instrument\":{\"model\":\"made up\",\"clock_ppm\":5,\"time_ns\":20,\"power_time_ns\":100,"
    "\"volt\":{\"gain_ppm\":200,\"offset_uv\":500,\"noise_uv\":2500,\"bandwidth_hz\":500000},"
    "\"amp\":{\"gain_ppm\":500,\"offset_ua\":300,\"noise_ua\":1700,\"bandwidth_hz\":500000}}}";

struct supply {
    struct trace_writer *out;
    uint64_t             bytes;
    unsigned             rows;
    int64_t              spacing_ns, t_ns;           /* of the next row */
    int64_t              on_ns, move_ns;             /* VBUS on; on its way to 9 V */
    int64_t              step_ns;                    /* the last step of the load, and the next */
    int64_t              next_step_ns;
    int32_t              ma, dip_ma;                 /* of the last step */
    uint32_t             chance;
    int32_t              cells[2 * ROWS_MAX];
    uint8_t              record[16 + 8 * ROWS_MAX];
};

static uint32_t drawn(struct supply *s)
{
    s->chance = s->chance * 1664525u + 1013904223u;
    return s->chance >> 8;
}

/* Two draws added, about none: least and greatest are `most` from it. */
static int32_t noise(struct supply *s, int32_t most)
{
    uint32_t word = drawn(s);

    return (int32_t)(((word & 0xfff) + (word >> 12 & 0xfff)) * (uint32_t)most >> 12) - most;
}

/* What the source's terminals show without load. */
static int32_t level_mv(const struct supply *s)
{
    if (s->t_ns < s->on_ns)
        return 0;
    if (s->t_ns < s->on_ns + 5 * NS_OF_MS)
        return (int32_t)((s->t_ns - s->on_ns) / NS_OF_US);
    if (s->t_ns < s->move_ns)
        return 5000;
    if (s->t_ns < s->move_ns + 20 * NS_OF_MS)
        return 5000 + (int32_t)((s->t_ns - s->move_ns) * (4000 + HIGH_MV) / (20 * NS_OF_MS));
    return 9000 + HIGH_MV;
}

static void step_load(struct supply *s)
{
    int32_t before_ma = s->ma;

    s->ma = LEAST_MA + (int32_t)(drawn(s) % SPAN_MA);
    s->dip_ma = s->ma - before_ma;
    s->step_ns = s->next_step_ns;
    s->next_step_ns += STEP_NS_MOST + (int64_t)(drawn(s) % 1000) * (STEP_NS_MOST / 1000);
}

static void put_row(struct supply *s, int32_t cells[2])
{
    int64_t since_ns;
    int32_t ua = 0, uv = level_mv(s) * UV_OF_MV;

    while (s->t_ns >= s->next_step_ns)
        step_load(s);
    since_ns = s->t_ns - s->step_ns;
    if (s->ma)
        ua = s->ma * 1000 + (int32_t)(since_ns / NS_OF_MS) * WANDER_MA_PER_S;
    uv -= ua / 1000 * OUTPUT_MOHM;
    if (since_ns < DIP_NS)
        uv -= (int32_t)(DIP_NS - since_ns) / (DIP_NS / 1000) * s->dip_ma / 1000 * DIP_MOHM;
    cells[0] = uv + noise(s, 6000);
    cells[1] = ua + noise(s, 4000);
    s->t_ns += s->spacing_ns;
}

static bool put_power(struct supply *s, struct fault *fault)
{
    int64_t start_ns = s->t_ns;

    for (unsigned row = 0; row < s->rows; row++)
        put_row(s, s->cells + (size_t)2 * row);
    size_t length = record_put_power(s->record, sizeof s->record, 0, RECORD_INVENTED, 0, (uint32_t)s->spacing_ns, (uint16_t)s->rows,
                                     RECORD_VBUS | RECORD_IBUS, s->cells);

    s->bytes += length + 16;
    return trace_writer_put(s->out, start_ns, s->record, length, fault);
}

/* From the plug to the contract; the supply follows what is said. */
static void talk_contract(struct talk *t, struct supply *s)
{
    /* 5 V and 9 V at 3 A, unconstrained; the second is asked for, in 10 mA. */
    static const uint32_t offer[] = { 5000u / 50 << 10 | 300 | 1u << 27, 9000u / 50 << 10 | 300 }, request[] = { 2u << 28 | 300 << 10 | 300 };

    talk_attach(t);
    s->on_ns = t->now_ns - 60 * NS_OF_MS;
    talk_data(t, FROM_SOURCE, DATA_SOURCE_CAPABILITIES, 2, offer);
    talk_data(t, FROM_SINK, DATA_REQUEST, 1, request);
    s->move_ns = t->now_ns + 30 * NS_OF_MS;
    talk_control(t, FROM_SOURCE, CONTROL_ACCEPT);
    talk_wait_us(t, 60000);
    talk_control(t, FROM_SOURCE, CONTROL_PS_RDY);
    s->next_step_ns = t->now_ns + 200 * NS_OF_MS;
}

static bool write_trace(struct supply *s, uint64_t bytes, struct talk *t, struct fault *fault)
{
    size_t length = record_put(s->record, sizeof s->record, RECORD_ABOUT, RECORD_PORT_BENCH, RECORD_INVENTED, 0, (const uint8_t *)about,
                               strlen(about));
    bool   good = trace_writer_put(s->out, s->t_ns, s->record, length, fault);

    while (good && s->bytes < bytes) {
        for (; good && t->head < t->count && t->queue[t->head].t_ns <= s->t_ns; t->head++)
            good = trace_writer_put(s->out, t->queue[t->head].t_ns, t->bytes + t->queue[t->head].at, t->queue[t->head].length, fault);
        good = good && put_power(s, fault);
    }
    return good;
}

int main(int argc, char **argv)
{
    static struct supply s = { .chance = 4711, .step_ns = INT64_MIN / 2 };
    static struct talk   t = { .port = 0, .chance = 12345 };
    struct fault         fault = { 0 };
    unsigned long        megabytes = argc == 5 ? strtoul(argv[1], NULL, 10) : 0, rows = argc == 5 ? strtoul(argv[2], NULL, 10) : 0;

    s.spacing_ns = argc == 5 ? strtol(argv[3], NULL, 10) : 0;
    if (megabytes == 0 || rows == 0 || rows > ROWS_MAX || s.spacing_ns <= 0 || s.spacing_ns > 1000 * NS_OF_MS) {
        fputs("usage: bench_generate_power MEGABYTES ROWS SPACING_NS FILE\n", stderr);
        return 2;
    }
    s.rows = (unsigned)rows;
    s.t_ns = INT64_C(1767261600000000000); /* 2026-01-01 10:00 UTC */
    t.now_ns = s.t_ns + 100 * NS_OF_MS;
    talk_contract(&t, &s);
    s.out = trace_writer_open(argv[4], &fault);
    if (!s.out || !write_trace(&s, megabytes * 1000000, &t, &fault) || !trace_writer_close(s.out, &fault)) {
        fprintf(stderr, "%s: cannot be written (fault %d, errno %d)\n", argv[4], (int)fault.code, fault.sys);
        return 2;
    }
    return 0;
}

#include "tests/decode/bmc_trial.h"

#include "tests/decode/bmc_line.h"
#include "tests/decode/testing.h"

#include "decode/bmc.h"

#include <stdlib.h>
#include <string.h>

enum { PACKETS_A_LINE = 100, BYTES_MOST = 30 + 4 };

struct sent {
    struct wave_truth truth;
    enum wave_set     set;
    uint8_t           bytes[BYTES_MOST];
    size_t            length;
    bool              seen;
};

struct play {
    const struct trial *trial;
    struct sent         sent[PACKETS_A_LINE];
    unsigned            count;
    double              tick_ps, offset_ps;
    struct trial_result result;
};

static double cell_ps(const struct trial *t)
{
    return 1e12 / t->bit_hz;
}

/* The packet in which the frame begins (a lost beginning of its preamble allowed for). */
static struct sent *sent_find(struct play *p, const struct bmc_frame *f)
{
    double start = (double)f->start_tick * p->tick_ps - p->offset_ps;

    for (unsigned k = 0; k < p->count; k++)
        if (start > p->sent[k].truth.start_ps - cell_ps(p->trial) && start < p->sent[k].truth.preamble_end_ps)
            return &p->sent[k];
    return NULL;
}

static bool same(const struct sent *s, const struct bmc_frame *f)
{
    if (f->reset)
        return s->set == (f->which ? WAVE_CABLE_RESET : WAVE_HARD_RESET);
    return f->which == (unsigned)s->set && f->crc_good && f->end == BMC_EOP && f->length == s->length &&
           memcmp(f->bytes, s->bytes, s->length) == 0;
}

static void found(void *context, const struct bmc_frame *f)
{
    struct play *p = context;
    struct sent *s = sent_find(p, f);

    if (s && !s->seen && same(s, f)) {
        s->seen = true;
        p->result.right++;
    } else if (!s || s->seen || f->reset || (f->crc_good && f->end == BMC_EOP)) {
        p->result.wrong++;
    } else {
        p->result.broken++;
    }
}

/* One packet of any kind, most of them short, as they are; between two of them 25 to 60 us. */
static void packet_send(struct play *p, struct wave *w, uint64_t *seed)
{
    struct sent       *s = &p->sent[p->count++];
    struct wave_packet packet;

    memset(s, 0, sizeof *s);
    s->set = random_word(seed) % 16 == 0 ? WAVE_HARD_RESET + random_word(seed) % 2 : random_word(seed) % WAVE_HARD_RESET;
    s->length = 2 + 4 * (random_word(seed) % 2 ? 0 : random_word(seed) % 8);
    for (size_t k = 0; k < s->length; k++)
        s->bytes[k] = (uint8_t)random_word(seed);
    s->length = wave_crc_add(s->bytes, s->length);
    packet = wave_packet_of(s->set, s->bytes, s->length);
    packet.rate_hz = p->trial->bit_hz;
    wave_wait(w, 25e6 + random_word(seed) % 35000000);
    s->truth = wave_send(w, &packet);
}

static void line_play(struct play *p, uint64_t *seed)
{
    struct wave            w;
    struct wave_instrument i = { .tick_ps = p->tick_ps, .glitch_share = p->trial->glitch_percent / 100,
                                 .glitch_ps = p->trial->glitch_ns * 1000, .seed = *seed };
    struct bmc_options     o = { .tick_ps = p->tick_ps };
    struct bmc            *b = bmc_new(&o, found, p);
    struct wave_ticks      t;
    size_t                 piece;

    wave_begin(&w, random_word(seed) % 2);
    p->count = 0;
    while (p->count < PACKETS_A_LINE && p->result.sent + p->count < p->trial->packets)
        packet_send(p, &w, seed);
    i.jitter_ps = cell_ps(p->trial) / 2 * p->trial->jitter_percent / 100;
    i.skew_ps = cell_ps(p->trial) / 2 * p->trial->skew_percent / 100 * (random_word(seed) % 2 ? 1 : -1);
    i.offset_ps = p->offset_ps = p->tick_ps * (random_word(seed) % 1000) / 1000;
    t = wave_see(&w, &i);
    for (size_t k = 0; k < t.count; k += piece) {
        piece = random_word(seed) % 300 + 1;
        piece = piece < t.count - k ? piece : t.count - k;
        bmc_take(b, t.at + k, piece, t.level != (k % 2 != 0));
    }
    bmc_reached(b, t.at[t.count - 1] + (int64_t)(1e9 / p->tick_ps));
    bmc_finish(b);
    p->result.sent += p->count;
    bmc_free(b);
    free(t.at);
    wave_free(&w);
}

struct trial_result trial_run(const struct trial *t)
{
    struct play p = { .trial = t, .tick_ps = 1e12 / t->sample_hz };
    uint64_t    seed = t->seed;

    while (p.result.sent < t->packets)
        line_play(&p, &seed);
    return p.result;
}

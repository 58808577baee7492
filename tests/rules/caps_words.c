#include "tests/rules/caps_words.h"

enum { SCEDB_BYTES = 25 };

uint64_t say_extended_caps(struct lines *l, uint8_t spr_w, uint8_t epr_w, uint8_t peak_byte)
{
    uint8_t block[SCEDB_BYTES] = { [14] = peak_byte, [23] = spr_w, [24] = epr_w };

    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_CAP_EXTENDED);
    return lines_extended(l, SIDE_SOURCE, EXTENDED_SOURCE_CAPABILITIES, block, sizeof block);
}

uint64_t say_info(struct lines *l, uint32_t word)
{
    lines_control(l, SIDE_SINK, CONTROL_GET_SOURCE_INFO);
    return lines_data(l, SIDE_SOURCE, DATA_SOURCE_INFO, 1, &word);
}

void say_revision(struct lines *l, uint32_t word)
{
    lines_control(l, SIDE_SINK, CONTROL_GET_REVISION);
    lines_data(l, SIDE_SOURCE, DATA_REVISION, 1, &word);
}

void occupy_other(struct lines *l)
{
    l->port = 1;
    lines_cc(l, 0, 0);
    lines_wait(l, MS(1));
    lines_cc(l, 1, 3);
    lines_wait(l, MS(1));
    l->port = 0;
}

void contract_for_5v(struct lines *l)
{
    lines_request(l, FIXED(0, 0) | UINT32_C(1) << 28 | 100u << 10 | 100u);
    lines_accept_and_ready(l);
}

uint64_t offer_and_contract(struct lines *l, unsigned count, const uint32_t *words)
{
    uint64_t frame = lines_caps(l, count, words);

    contract_for_5v(l);
    return frame;
}

static unsigned row_count(const struct row *r)
{
    unsigned n = 7;

    if (r->count)
        return r->count;
    while (n > 0 && r->words[n - 1] == 0)
        n--;
    return n;
}

uint64_t row_play(struct lines *l, const struct row *r)
{
    struct engine_options o = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .standard = r->standard };
    uint64_t frame;
    uint8_t source = r->source_revision ? r->source_revision : HEADER_R3;

    if (r->about)
        lines_about(l, RECORD_PORT_BENCH, r->about);
    if (r->occupied)
        occupy_other(l);
    lines_attach(l);
    if (r->cable)
        lines_cable_identity(l, r->cable, 0, false);
    l->revision = source;
    frame = lines_caps(l, row_count(r), r->words);
    l->revision = r->sink_revision ? r->sink_revision : source;
    if (!r->no_request)
        contract_for_5v(l);
    if (r->spr_w || r->epr_w || r->peak_byte)
        say_extended_caps(l, r->spr_w, r->epr_w, r->peak_byte);
    if (r->info)
        say_info(l, r->info);
    if (r->rmdo)
        say_revision(l, r->rmdo);
    lines_wait(l, MS(50));
    lines_run(l, &o);
    return frame;
}

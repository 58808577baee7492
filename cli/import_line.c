/*
 * CC lines as inputs of an import: what capture/cc_line.h reads goes through decode/bmc.h and becomes packets, resets, and, where they
 * are asked for, edges; levels at rest become states of CC. Packets on either pin of a port are the port's.
 */
#include "cli/import.h"

#include "capture/record.h"
#include "cli/fault_text.h"
#include "cli/import_edges.h"
#include "cli/import_pins.h"
#include "cli/phrase.h"
#include "decode/bmc.h"

#include <cjson/cJSON.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PREAMBLE_BITS = 64, CRC_BYTES = 4, PACKET_BYTES_LEAST = 6, NOTICES = 3, LOST_IN_INSTRUMENT = 1, NEWS = CC_THRESHOLDS + 1 };
enum { WIRE_NAME_BYTES = 200, FRAME_BYTES = RECORD_HEADER_BYTES + 4 + BMC_BYTES_MAX, TIMES_BYTES = 64 };
#define SECOND_NS INT64_C(1000000000)

struct line_state;

/* One line. */
struct wire {
    struct import_input *in;
    struct line_state   *line;
    struct bmc          *bmc;   /* from its first stretch on */
    struct import_edges *edges; /* NULL: not wanted */
    struct import_pins  *pins;  /* of the port, with its other pin; NULL: voltages are not known */
    bool                 pins_own; /* this line lets go of them */
    const char          *name;  /* or NULL */
    uint8_t              port, pin;
    uint64_t             packets, bad, cut, hard, cable, holes;
    double               rate_least, rate_most; /* bits a second */
    double               told_u_ns; /* what ABOUT says of its times */
    double               scatter_squares; /* of changes about the clock of their packets */
    uint64_t             scattered;
};

struct line_state {
    const struct cc_kind *reader;
    struct cc_file       *file;
    struct cc_tick        tick;
    struct wire           wires[CC_LINES_MAX];
    unsigned              count;
    int64_t               newest;  /* `from` of the latest block of any line */
    bool                  stopped; /* a record could not be handed over */
    uint64_t              news[NEWS];
};

static struct line_state *state_of(const struct import_input *in)
{
    return in->state;
}

/* As messages call it. */
static const char *wire_name(const struct wire *w, char name[WIRE_NAME_BYTES])
{
    if (w->name && w->name[strspn(w->name, "0123456789")] == '\0')
        snprintf(name, WIRE_NAME_BYTES, "%s %s", w->in->kind == &import_bytes_kind ? "bit" : "column", w->name);
    else if (w->name)
        snprintf(name, WIRE_NAME_BYTES, "%s", w->name);
    else if (w->pin > 0)
        snprintf(name, WIRE_NAME_BYTES, "CC%u", w->pin);
    else
        snprintf(name, WIRE_NAME_BYTES, "the line");
    return name;
}

static void line_fault(const struct import_input *in, const struct fault *f)
{
    const struct line_state *s = state_of(in);
    bool                     named = f->number >= 0 && f->number < (int64_t)s->count && s->wires[f->number].name;
    const char              *name = named ? s->wires[f->number].name : "the CC line";

    if (f->code == FAULT_NOT_THERE)
        import_say(in, "there is no %s; there is %s; name one of them with cc1= or cc2=", name, f->detail);
    else if (f->code == FAULT_AMBIGUOUS)
        import_say(in, "which is %s? There is %s; name it with cc1= or cc2=", name, f->detail);
    else if (f->code == FAULT_RATE)
        import_say(in, "it does not tell its sample rate; say it, like %s,rate=24M:%s", in->kind->word, in->words->path);
    else
        complain_fault(f, import_subject(in));
}

static bool wire_put(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct wire *w = context;

    if (!w->line->stopped && !import_put(w->in, stamp_ns, bytes, length))
        w->line->stopped = true;
    return !w->line->stopped;
}

/* When a frame began and how long it was, as a record says it. */
struct frame_time { int64_t start_ns; uint32_t duration_ns; };

static double parts_ns(const struct line_state *s, double parts)
{
    return parts / BMC_PARTS * (double)s->tick.ps / (double)s->tick.per / 1000.0;
}

/*
 * A receiver may miss the beginning of a preamble: then the start is where 64 bits of the measured length would have begun. Where the whole
 * preamble was seen and is of another length, the length is left unmeasured: the bit rate is reckoned from it with 64.
 */
static struct frame_time frame_time(const struct line_state *s, const struct bmc_frame *f)
{
    struct frame_time t = { .start_ns = cc_ticks_ns(s->tick, f->start_tick) };
    double            span_ns = parts_ns(s, (double)f->span_parts), missing_ns = 0;

    if (!f->preamble_whole && f->preamble_bits < PREAMBLE_BITS) {
        missing_ns = (PREAMBLE_BITS - f->preamble_bits) * parts_ns(s, f->cell_ticks * BMC_PARTS);
        t.start_ns -= (int64_t)(missing_ns + 0.5);
    } else if (f->preamble_bits != PREAMBLE_BITS) {
        return t;
    }
    if (span_ns + missing_ns < (double)UINT32_MAX)
        t.duration_ns = (uint32_t)(span_ns + missing_ns + 0.5);
    return t;
}

static void rate_count(struct wire *w, const struct bmc_frame *f)
{
    double cell_ns = parts_ns(w->line, f->cell_ticks * BMC_PARTS), rate = cell_ns > 0 ? 1e9 / cell_ns : 0;

    if (rate <= 0)
        return;
    if (w->rate_most == 0 || rate < w->rate_least)
        w->rate_least = rate;
    if (rate > w->rate_most)
        w->rate_most = rate;
}

static void packet_take(struct wire *w, const struct bmc_frame *f, const struct frame_time *t)
{
    bool    whole = (f->end == BMC_EOP || f->crc_good) && f->length >= PACKET_BYTES_LEAST;
    uint8_t state = !whole ? RECORD_TRUNCATED : f->crc_good ? 0 : RECORD_CRC_BAD, bytes[FRAME_BYTES];
    size_t  length = record_put_packet(bytes, sizeof bytes, w->port, 0, t->duration_ns, f->which, state, f->bytes, f->length);

    w->packets++;
    w->bad += whole && !f->crc_good;
    w->cut += !whole;
    if (length > 0)
        wire_put(w, t->start_ns, bytes, length);
}

static void reset_take(struct wire *w, const struct bmc_frame *f, const struct frame_time *t)
{
    uint8_t bytes[RECORD_HEADER_BYTES + 4], body[4] = { f->which };

    w->hard += f->which == RECORD_HARD_RESET;
    w->cable += f->which == RECORD_CABLE_RESET;
    wire_put(w, t->start_ns, bytes, record_put(bytes, sizeof bytes, RECORD_RESET_SIGNAL, w->port, 0, t->duration_ns, body, sizeof body));
}

/* An edge is somewhere within its tick: evenly, so tick / sqrt 12 (JCGM 100:2008, 4.3.7); of readings, noise makes it worse. */
static double times_u_ns(const struct line_state *s)
{
    double u_ns = (double)s->tick.ps / (double)s->tick.per / 1000.0 / sqrt(12), edge_ns = s->reader->facts(s->file).edge_ns;

    return edge_ns > u_ns ? edge_ns : u_ns;
}

/*
 * How noisy readings are shows as they are read, by the noise at rest and by how the changes of packets are scattered: where times turn out
 * less sure than ABOUT says, another ABOUT of the port tells, from there on.
 */
static void times_tell(struct wire *w, const struct bmc_frame *f, int64_t at_ns)
{
    static const double worse = 1.25;
    double              u_ns = times_u_ns(w->line), off_ns = parts_ns(w->line, f->jitter_ticks * BMC_PARTS);
    char                text[TIMES_BYTES];
    uint8_t             bytes[RECORD_HEADER_BYTES + TIMES_BYTES];

    w->scatter_squares += off_ns * off_ns;
    w->scattered++;
    if (w->line->reader->facts(w->line->file).edge_ns > 0)
        u_ns = fmax(u_ns, sqrt(w->scatter_squares / (double)w->scattered));
    if (u_ns <= w->told_u_ns * worse || import_times_said(w->in->all))
        return;
    int length = snprintf(text, sizeof text, "{\"instrument\":{\"time_ns\":%" PRIu64 "}}", (uint64_t)ceil(u_ns));

    w->told_u_ns = u_ns;
    wire_put(w, at_ns, bytes, record_put(bytes, sizeof bytes, RECORD_ABOUT, w->port, 0, 0, (const uint8_t *)text, (size_t)length));
}

static void frame_take(void *context, const struct bmc_frame *f)
{
    struct wire      *w = context;
    struct frame_time t = frame_time(w->line, f);

    times_tell(w, f, t.start_ns);
    rate_count(w, f);
    if (f->reset)
        reset_take(w, f, &t);
    else
        packet_take(w, f, &t);
}

/* What passed while the line was not known, nobody can tell. */
static void hole_take(struct wire *w, int64_t until)
{
    uint8_t bytes[RECORD_HEADER_BYTES + 8], body[8] = { 0xFF, 0xFF, 0xFF, 0xFF, LOST_IN_INSTRUMENT };

    w->holes++;
    wire_put(w, cc_ticks_ns(w->line->tick, until), bytes, record_put(bytes, sizeof bytes, RECORD_LOST, w->port, 0, 0, body, sizeof body));
}

static bool wire_start(struct wire *w, int64_t from)
{
    const struct line_state *s = w->line;
    struct bmc_options       o = { .tick_ps = (double)s->tick.ps / (double)s->tick.per, .glitch_ps = (uint64_t)w->in->words->glitch_ps, .known_from = from };

    w->bmc = bmc_new(&o, frame_take, w);
    if (w->bmc && import_own(w->in->all)->edges)
        w->edges = import_edges_new(s->tick, w->port, wire_put, w);
    return (w->bmc && (w->edges || !import_own(w->in->all)->edges)) || import_no_memory(w->in);
}

static bool block_take(struct wire *w, const struct cc_block *b)
{
    if (!w->bmc && !wire_start(w, b->from))
        return false;
    if (b->broken) {
        bmc_broken(w->bmc, b->from);
        hole_take(w, b->from);
    }
    bmc_take(w->bmc, b->at, b->count, b->level);
    bmc_reached(w->bmc, b->until);
    if (w->pins)
        import_pins_take(w->pins, w->pin == 2, w->line->tick, b);
    if (w->in->end_ns < cc_ticks_ns(w->line->tick, b->until))
        w->in->end_ns = cc_ticks_ns(w->line->tick, b->until);
    return (!w->edges || import_edges_take(w->edges, b)) && !w->line->stopped;
}

static int64_t wire_settled(const struct wire *w)
{
    if (!w->bmc)
        return INT64_MIN;
    int64_t settled = bmc_settled(w->bmc), edges = w->edges ? import_edges_settled(w->edges) : INT64_MAX;

    return settled < edges ? settled : edges;
}

/* A line that says nothing for long is not waited for: records of different streams may stand up to a second out of order. */
static void reached_settle(struct import_input *in)
{
    struct line_state *s = state_of(in);
    int64_t            least = INT64_MAX, newest_ns = cc_ticks_ns(s->tick, s->newest) - SECOND_NS;

    for (unsigned k = 0; k < s->count; k++) {
        int64_t settled = wire_settled(&s->wires[k]);

        least = settled < least ? settled : least;
    }
    int64_t ns = least == INT64_MAX ? INT64_MAX : least == INT64_MIN ? INT64_MIN : cc_ticks_ns(s->tick, least);

    for (unsigned k = 0; k < s->count; k++)
        if (s->wires[k].pins && import_pins_settled_ns(s->wires[k].pins) < ns)
            ns = import_pins_settled_ns(s->wires[k].pins);

    in->reached_ns = ns > newest_ns ? ns : newest_ns;
}

static bool lines_finish(struct import_input *in)
{
    struct line_state *s = state_of(in);

    for (unsigned k = 0; k < s->count; k++) {
        if (s->wires[k].bmc)
            bmc_finish(s->wires[k].bmc);
        if (s->wires[k].edges)
            import_edges_finish(s->wires[k].edges);
        if (s->wires[k].pins_own)
            import_pins_finish(s->wires[k].pins);
    }
    in->reached_ns = INT64_MAX;
    return false;
}

static bool line_work(struct import_input *in)
{
    struct line_state *s = state_of(in);
    struct cc_block    b;
    struct fault       f = { .code = FAULT_NONE };

    if (!s->reader->next(s->file, &b, &f)) {
        if (f.code == FAULT_NO_MEMORY)
            return import_no_memory(in);
        if (f.code != FAULT_NONE)
            line_fault(in, &f); /* what was read up to there is kept */
        return lines_finish(in);
    }
    if (b.from > s->newest)
        s->newest = b.from;
    bool taken = block_take(&s->wires[b.line], &b);

    if (taken)
        reached_settle(in);
    return taken;
}

static void notice_take(void *context, const struct cc_notice *n)
{
    struct import_input *in = context;
    struct line_state   *s = state_of(in);
    const char          *words = n->words ? n->words : "";
    char                 name[WIRE_NAME_BYTES];

    if (s->news[n->news]++ >= NOTICES && n->news != CC_CUT_OFF)
        return;
    if (import_common(in->all)->quiet && n->news != CC_CUT_OFF)
        return;
    switch (n->news) {
    case CC_UNREADABLE:
        import_say(in, "line %" PRIu64 " cannot be read and is passed over%s%.*s%s", n->number, n->words ? ": \"" : "", (int)n->words_length, words,
                   n->words ? "\"" : "");
        return;
    case CC_UNKNOWN_LEVEL:
        import_say(in, "%s is not known (x or z) from line %" PRIu64 " on; what passed then is lost", wire_name(&s->wires[n->line], name), n->number);
        return;
    case CC_TIME_BACK:
        import_say(in, "line %" PRIu64 ": its time goes back; passed over", n->number);
        return;
    case CC_CUT_OFF:
        import_say(in, "ends in the middle of something; read as far as it goes");
        return;
    case CC_THRESHOLDS:
        import_say(in, "%s is low below %" PRId32 " and high above %" PRId32 " %s, as its readings show", wire_name(&s->wires[n->line], name), n->low_mv,
                   n->high_mv, (in->kind->keys & IMPORT_SCALE) && in->words->scale_uv == 0 ? "steps" : "mV");
        return;
    }
}

/* No wire was named: the only one there is, on port 0. */
static void wires_fill(struct import_input *in)
{
    struct line_state         *s = state_of(in);
    const struct import_words *w = in->words;

    s->count = w->wire_count > 0 ? w->wire_count : 1;
    for (unsigned k = 0; k < s->count; k++) {
        const struct import_wire none = { 0 }, *from = w->wire_count > 0 ? &w->wires[k] : &none;

        s->wires[k] = (struct wire){ .in = in, .line = s, .name = from->name, .port = (uint8_t)(from->port + w->port), .pin = from->pin };
    }
}

/* The lines of one port are its pins; without a word which, the first. */
static bool pins_new(struct line_state *s, struct wire *w)
{
    bool measured[2] = { false, false };

    for (unsigned k = 0; k < s->count; k++)
        if (s->wires[k].port == w->port)
            measured[s->wires[k].pin == 2] = true;
    w->pins = import_pins_new(w->port, measured, wire_put, w);
    w->pins_own = w->pins != NULL;
    for (unsigned k = 0; k < s->count; k++)
        if (s->wires[k].port == w->port)
            s->wires[k].pins = w->pins;
    return w->pins_own || import_no_memory(w->in);
}

static bool pins_fill(struct import_input *in)
{
    struct line_state *s = state_of(in);
    bool               volts = (in->kind->keys & IMPORT_LEVELS) && (!(in->kind->keys & IMPORT_SCALE) || in->words->scale_uv != 0);

    for (unsigned k = 0; k < s->count && volts; k++)
        if (!s->wires[k].pins && !pins_new(s, &s->wires[k]))
            return false;
    return true;
}

static bool ports_sound(const struct import_input *in)
{
    const struct import_words *w = in->words;

    for (unsigned k = 0; k < w->wire_count; k++)
        if (w->wires[k].port + w->port >= RECORD_PORT_BENCH) {
            import_say(in, "port %u with port=%u would lie beyond 254; choose a lower one", w->wires[k].port, w->port);
            return false;
        }
    return true;
}

static void line_close(struct import_input *in)
{
    struct line_state *s = state_of(in);

    for (unsigned k = 0; k < s->count; k++) {
        bmc_free(s->wires[k].bmc);
        import_edges_free(s->wires[k].edges);
        if (s->wires[k].pins_own)
            import_pins_free(s->wires[k].pins);
    }
    s->reader->close(s->file);
    free(s);
}

static bool line_open(struct import_input *in, const struct cc_kind *reader)
{
    const struct import_words *w = in->words;
    struct cc_options          o = { .notice = notice_take, .context = in, .rate_hz = w->rate_hz, .low_mv = w->low_mv, .high_mv = w->high_mv,
                                     .scale_uv = w->scale_uv, .offset_mv = w->offset_mv, .most_first = w->most_first };
    struct fault               f = { .code = FAULT_NONE };
    struct line_state         *s = in->state = calloc(1, sizeof *s);

    if (!s)
        return import_no_memory(in);
    s->reader = reader;
    wires_fill(in);
    o.lines = s->count;
    for (unsigned k = 0; k < s->count; k++)
        o.names[k] = s->wires[k].name;
    s->file = ports_sound(in) ? reader->open(w->path, &o, &f) : NULL;
    if (!s->file) {
        if (f.code != FAULT_NONE)
            line_fault(in, &f);
        free(s);
        return false;
    }
    struct cc_facts facts = reader->facts(s->file);

    s->tick = reader->tick(s->file);
    for (unsigned k = 0; k < s->count; k++)
        s->wires[k].told_u_ns = times_u_ns(s);
    if (!pins_fill(in)) {
        line_close(in);
        return false;
    }
    in->relative = true;
    in->first_ns = facts.has_start ? facts.start_ns : INT64_MAX;
    return true;
}

static void line_instrument(const struct import_input *in, struct cJSON *instrument)
{
    cJSON_AddNumberToObject(instrument, "time_ns", ceil(state_of(in)->wires[0].told_u_ns * 1000) / 1000);
    cJSON_AddNumberToObject(instrument, "clock_ppm", IMPORT_CLOCK_PPM);
}

static void line_ports(const struct import_input *in, bool ports[256])
{
    const struct line_state *s = state_of(in);

    for (unsigned k = 0; k < s->count; k++)
        ports[s->wires[k].port] = true;
}

static struct import_progress line_progress(const struct import_input *in)
{
    const struct line_state *s = state_of(in);
    struct cc_facts          facts = s->reader->facts(s->file);

    return (struct import_progress){ .done = facts.bytes, .total = facts.bytes_total };
}

static void news_sum(const struct import_input *in)
{
    const struct line_state *s = state_of(in);
    struct cc_facts          facts = s->reader->facts(s->file);

    if (facts.unreadable > 1)
        import_say(in, "%" PRIu64 " lines in all were passed over", facts.unreadable);
}

/* One pin of a port talks, the other rests or feeds the cable. */
static bool port_talks(const struct wire *w)
{
    for (unsigned k = 0; k < w->line->count; k++)
        if (w->line->wires[k].port == w->port && w->line->wires[k].packets + w->line->wires[k].hard + w->line->wires[k].cable > 0)
            return true;
    return false;
}

static void wire_say(const struct wire *w)
{
    struct phrase p = phrase_empty();
    char          name[WIRE_NAME_BYTES];

    wire_name(w, name);
    if (w->packets + w->hard + w->cable == 0 && port_talks(w)) {
        import_say(w->in, "%s: no packet", name);
        return;
    }
    if (w->packets + w->hard + w->cable == 0) {
        import_say(w->in, "%s: no packet was found; is it the CC line, and its rate as was said?", name);
        return;
    }
    phrase_count(&p, w->packets, "packet", "packets");
    if (w->bad > 0)
        phrase_format(&p, ", %" PRIu64 " with a wrong CRC", w->bad);
    if (w->cut > 0)
        phrase_format(&p, ", %" PRIu64 " broken off", w->cut);
    if (w->hard > 0)
        phrase_format(&p, ", %" PRIu64 " Hard Reset%s", w->hard, w->hard > 1 ? "s" : "");
    if (w->cable > 0)
        phrase_format(&p, ", %" PRIu64 " Cable Reset%s", w->cable, w->cable > 1 ? "s" : "");
    phrase_format(&p, "; %.1f to %.1f kbit/s", w->rate_least / 1000, w->rate_most / 1000);
    if (w->pins_own)
        phrase_format(&p, "; %" PRIu64 " state%s of CC", import_pins_count(w->pins), import_pins_count(w->pins) == 1 ? "" : "s");
    if (w->holes > 0)
        phrase_format(&p, "; %" PRIu64 " time%s not known, packets may be missing there", w->holes, w->holes > 1 ? "s" : "");
    import_say(w->in, "%s: %s", name, p.text);
}

static void line_summary(const struct import_input *in)
{
    const struct line_state *s = state_of(in);

    for (unsigned k = 0; k < s->count; k++)
        wire_say(&s->wires[k]);
    news_sum(in);
}

/* One row a kind: they differ in their reader alone, and in what has to be said of the file. */
static bool samples_open(struct import_input *in)
{
    return line_open(in, &cc_samples_kind);
}

const struct import_kind import_samples_kind = {
    .word = "samples", .keys = IMPORT_ALL | IMPORT_WIRES | IMPORT_GLITCH | IMPORT_RATE | IMPORT_SCALE | IMPORT_LEVELS, .open = samples_open,
    .work = line_work, .instrument = line_instrument, .ports = line_ports, .progress = line_progress, .summary = line_summary,
    .close = line_close,
};

static bool vcd_open(struct import_input *in)
{
    return line_open(in, &cc_vcd_kind);
}

const struct import_kind import_vcd_kind = {
    .word = "vcd", .keys = IMPORT_ALL | IMPORT_WIRES | IMPORT_GLITCH, .open = vcd_open, .work = line_work,
    .instrument = line_instrument, .ports = line_ports, .progress = line_progress, .summary = line_summary, .close = line_close,
};

static bool bits_open(struct import_input *in)
{
    return line_open(in, &cc_bits_kind);
}

const struct import_kind import_bits_kind = {
    .word = "bits", .keys = IMPORT_ALL | IMPORT_WIRES | IMPORT_GLITCH | IMPORT_RATE | IMPORT_FIRST, .open = bits_open, .work = line_work,
    .instrument = line_instrument, .ports = line_ports, .progress = line_progress, .summary = line_summary, .close = line_close,
};

static bool bytes_open(struct import_input *in)
{
    return line_open(in, &cc_bytes_kind);
}

const struct import_kind import_bytes_kind = {
    .word = "bytes", .keys = IMPORT_ALL | IMPORT_WIRES | IMPORT_GLITCH | IMPORT_RATE, .open = bytes_open, .work = line_work,
    .instrument = line_instrument, .ports = line_ports, .progress = line_progress, .summary = line_summary, .close = line_close,
};

static bool volts_open(struct import_input *in)
{
    return line_open(in, &cc_volts_kind);
}

const struct import_kind import_volts_kind = {
    .word = "volts", .keys = IMPORT_ALL | IMPORT_WIRES | IMPORT_GLITCH | IMPORT_RATE | IMPORT_LEVELS, .open = volts_open, .work = line_work,
    .instrument = line_instrument, .ports = line_ports, .progress = line_progress, .summary = line_summary, .close = line_close,
};

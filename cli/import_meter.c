/* The CSV log of a meter as an input of an import: capture/meter_log.h reads it, here its notices become sentences. */
#include "cli/import.h"

#include "capture/meter_log.h"
#include "cli/fault_text.h"
#include "cli/phrase.h"

#include <cjson/cJSON.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { NOTICES = 3, NEWS = METER_COUNTER_DIFFERS + 1 };
static const int64_t hour_ns = INT64_C(3600000000000);

struct meter_state {
    struct meter_log *log;
    struct meter_map  map;
    const uint8_t    *bytes;  /* of the next record, not handed over; NULL: there is none */
    size_t            length;
    int64_t           stamp_ns;
    bool              broken; /* what ended it is said */
    uint64_t          news[NEWS];
};

static struct meter_state *state_of(const struct import_input *in)
{
    return in->state;
}

static void line_notice(const struct import_input *in, const struct meter_notice *n)
{
    const char *words = n->words ? n->words : "", *quote = n->words ? "\"" : "";

    if (n->column > 0)
        import_say(in, "line %" PRIu64 " is passed over: its column %u cannot be read%s%s%.*s%s", n->line, n->column, n->words ? ": " : "", quote,
                   (int)n->words_length, words, quote);
    else
        import_say(in, "line %" PRIu64 " cannot be read and is passed over%s%s%.*s%s", n->line, n->words ? ": " : "", quote,
                   (int)n->words_length, words, quote);
}

static void time_notice(const struct import_input *in, const struct meter_notice *n)
{
    double seconds = (double)n->step_ns / 1e9;

    if (n->news == METER_TIME_BACK)
        import_say(in, "line %" PRIu64 ": its time goes back by %.3f s; passed over", n->line, seconds);
    else if (n->news == METER_TIME_AHEAD)
        import_say(in, "line %" PRIu64 ": its time stands %.3f s ahead of the lines around it; passed over", n->line, seconds);
    else
        import_say(in, "line %" PRIu64 ": times go back by %.3f s from here on; the clock was set, and they are moved so that they go on",
                   n->line, seconds);
}

static void notice_say(const struct import_input *in, const struct meter_notice *n)
{
    switch (n->news) {
    case METER_UNREADABLE:
        line_notice(in, n);
        return;
    case METER_TIME_BACK:
    case METER_TIME_AHEAD:
    case METER_CLOCK_SET:
        time_notice(in, n);
        return;
    case METER_MIDNIGHT:
        import_say(in, "line %" PRIu64 ": the time of day begins anew; taken as midnight", n->line);
        return;
    case METER_WRAPPED:
        import_say(in, "line %" PRIu64 ": the count of time begins anew; taken as the end of its 32 bits", n->line);
        return;
    case METER_UNIT_TAKEN:
        import_say(in, "column %u (%.*s) names no unit; %s is taken; --columns says otherwise", n->column, (int)n->words_length,
                   n->words ? n->words : "", meter_unit_word(n->unit));
        return;
    case METER_NOT_USED:
        import_say(in, "column %u (%.*s) is not used; --columns says what it is", n->column, (int)n->words_length, n->words ? n->words : "");
        return;
    case METER_ZONE_TAKEN:
        import_say(in, "its times name no zone; taken as UTC; shift= moves them");
        return;
    case METER_POWER_DIFFERS:
        import_say(in, "in %" PRIu64 " of %" PRIu64 " rows, from line %" PRIu64 " on, the watts are not volts times amperes; are unit, sign and column right?",
                   n->count, n->of, n->line);
        return;
    case METER_COUNTER_DIFFERS:
        import_say(in, "column %u counts %.3f %s, its volts and amperes make %.3f; are unit, sign and column right?", n->column,
                   (double)n->told_u * 1e-6, meter_unit_word(n->unit), (double)n->reckoned_u * 1e-6);
        return;
    }
}

static void notice_take(void *context, const struct meter_notice *n)
{
    struct import_input *in = context;

    if (state_of(in)->news[n->news]++ < NOTICES && !import_common(in->all)->quiet)
        notice_say(in, n);
}

/* Takes the next record in hand. */
static void advance(struct import_input *in)
{
    struct meter_state *s = state_of(in);
    struct fault        f = { .code = FAULT_NONE };

    if (!meter_log_next(s->log, &s->bytes, &s->length, &s->stamp_ns, &f)) {
        s->bytes = NULL;
        if (f.code != FAULT_NONE && !s->broken) {
            s->broken = true;
            in->failed = f.code == FAULT_NO_MEMORY;
            complain_fault(&f, import_subject(in));
        }
    }
    in->reached_ns = s->bytes ? s->stamp_ns : INT64_MAX;
}

static bool map_read(struct import_input *in, struct fault *f)
{
    const char *text = in->words->columns ? in->words->columns : import_own(in->all)->columns;

    return !text || meter_map_read(text, &state_of(in)->map, f);
}

static bool log_open(struct import_input *in)
{
    const struct import_words *w = in->words;
    struct meter_state        *s = state_of(in);
    struct fault               f = { .code = FAULT_NONE };

    if (map_read(in, &f)) {
        struct meter_options o = { .notice = notice_take, .context = in, .map = s->map.count > 0 ? &s->map : NULL, .rate_hz = w->rate_hz,
                                   .turned = w->turned, .port = (uint8_t)w->port };

        s->log = meter_log_open(w->path, &o, &f);
    }
    if (!s->log)
        complain_fault(&f, import_subject(in));
    return s->log != NULL;
}

static bool meter_open(struct import_input *in)
{
    struct meter_state *s = in->state = calloc(1, sizeof *s);

    if (!s)
        return import_no_memory(in);
    if (!log_open(in)) {
        free(s);
        return false;
    }
    advance(in);
    enum meter_clock clock = meter_log_facts(s->log)->clock;

    in->relative = clock != METER_CLOCK_1970;
    in->first_ns = s->bytes && !in->relative ? s->stamp_ns : INT64_MAX;
    /* A time of day says nothing about the day: its first row is the beginning, unless it counts from near zero. */
    if (clock == METER_CLOCK_DAY && s->bytes && s->stamp_ns >= hour_ns)
        in->begin_ns = s->stamp_ns;
    if (in->relative && s->bytes && s->stamp_ns < 0) /* zero is the moment of a trigger */
        in->begin_ns = s->stamp_ns;
    return true;
}

static bool meter_work(struct import_input *in)
{
    struct meter_state *s = state_of(in);

    if (!s->bytes || !import_put(in, s->stamp_ns, s->bytes, s->length))
        return false;
    advance(in);
    return true;
}

static void meter_instrument(const struct import_input *in, struct cJSON *instrument)
{
    double u_ns = meter_log_time_u_ns(meter_log_facts(state_of(in)->log));

    if (u_ns > 0)
        cJSON_AddNumberToObject(instrument, "power_time_ns", ceil(u_ns));
    cJSON_AddNumberToObject(instrument, "power_clock_ppm", IMPORT_CLOCK_PPM);
}

static void meter_ports(const struct import_input *in, bool ports[256])
{
    const struct meter_facts *facts = meter_log_facts(state_of(in)->log);

    for (unsigned k = 0; k < facts->columns; k++)
        if (facts->column[k].port != RECORD_PORT_BENCH && facts->column[k].port + in->words->port < RECORD_PORT_BENCH)
            ports[facts->column[k].port + in->words->port] = true;
}

static struct import_progress meter_progress(const struct import_input *in)
{
    return (struct import_progress){ .done = meter_log_facts(state_of(in)->log)->bytes, .total = import_file_bytes(in) };
}

/* port: of the trace, -1 where all columns are of one. */
static void column_say(struct phrase *p, const struct meter_column *c, int port)
{
    static const char *const words[] = {
        [METER_NOTHING] = "nothing", [METER_TIME] = "time", [METER_DATE] = "date", [METER_VBUS] = "VBUS", [METER_IBUS] = "IBUS",
        [METER_VCONN] = "VCONN", [METER_TEMPERATURE] = "temperature", [METER_POWER] = "power", [METER_ENERGY] = "energy",
        [METER_CHARGE] = "charge",
    };

    phrase_format(p, "%s", words[c->quantity]);
    if (port >= 0)
        phrase_format(p, " of port %d", port);
    if (c->unit)
        phrase_format(p, " (%s)", meter_unit_word(c->unit));
    phrase_format(p, " from column %u", c->number);
}

static bool columns_of_ports(const struct meter_facts *facts)
{
    int port = -1;

    for (unsigned k = 0; k < facts->columns; k++) {
        if (facts->column[k].port == RECORD_PORT_BENCH)
            continue;
        if (port >= 0 && facts->column[k].port != port)
            return true;
        port = facts->column[k].port;
    }
    return false;
}

static void meter_summary(const struct import_input *in)
{
    const struct meter_facts *facts = meter_log_facts(state_of(in)->log);
    struct phrase             p = phrase_empty();
    bool                      ports = columns_of_ports(facts);

    phrase_count(&p, facts->rows, "row", "rows");
    if (facts->rows > 1)
        phrase_format(&p, " in %.3f s", (double)(facts->last_ns - facts->first_ns) / 1e9);
    if (facts->even_rows > 0)
        phrase_format(&p, ", %" PRIu64 " of them evenly spaced", facts->even_rows);
    phrase_add(&p, ": ");
    for (unsigned k = 0; k < facts->columns; k++) {
        const struct meter_column *c = &facts->column[k];
        bool                       told = ports && c->port != RECORD_PORT_BENCH && c->quantity != METER_TIME && c->quantity != METER_DATE;

        phrase_add(&p, k > 0 ? ", " : "");
        column_say(&p, c, told ? (int)(c->port + in->words->port) : -1);
    }
    import_say(in, "%s", p.text);
    if (facts->unreadable + facts->misplaced > 1)
        import_say(in, "%" PRIu64 " lines in all were passed over", facts->unreadable + facts->misplaced);
}

static void meter_close(struct import_input *in)
{
    meter_log_close(state_of(in)->log);
    free(in->state);
}

const struct import_kind import_meter_kind = {
    .word = "meter", .readings = true, .keys = IMPORT_ALL | IMPORT_COLUMNS | IMPORT_RATE | IMPORT_SIGN, .open = meter_open, .work = meter_work,
    .instrument = meter_instrument, .ports = meter_ports, .progress = meter_progress, .summary = meter_summary, .close = meter_close,
};

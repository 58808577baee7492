/*
 * Fuzz target: a meter's CSV log. The first byte chooses options (1: a rate, 2: the current turned, 4: the first line is a map of columns,
 * 8 and 16: separator and decimal mark told). Whatever it holds: records are sound, in order of time, and no more rows come out than there are lines.
 */
#include "capture/base/cursor.h"
#include "capture/meter_log.h"
#include "tests/fuzz/check.h"

#include <string.h>

enum { RATE = 1, TURNED = 2, MAP = 4, SEPARATOR = 8, DECIMAL = 16, MAP_MAX = 200 };

struct seen {
    uint64_t rows[256], temperatures, notices, unreadable, misplaced;
    int64_t  last_ns, last_row_ns[256];
};

static void hear(void *context, const struct meter_notice *n)
{
    struct seen *s = context;
    unsigned     sum = 0;

    s->notices++;
    s->unreadable += n->news == METER_UNREADABLE;
    s->misplaced += n->news == METER_TIME_BACK || n->news == METER_TIME_AHEAD;
    MUST(n->step_ns >= 0 && n->news <= METER_COUNTER_DIFFERS);
    for (size_t k = 0; k < n->words_length; k++) /* they are there to be read */
        sum += (uint8_t)n->words[k];
    MUST(sum <= 255 * n->words_length);
}

static void see(struct seen *s, int64_t stamp_ns, const uint8_t *bytes, size_t length, uint8_t flags)
{
    struct record r;

    record_read(bytes, length, false, stamp_ns, 1, &r);
    check_record(&r);
    MUST(r.soundness == RECORD_SOUND && r.flags == flags && r.t_ns == stamp_ns);
    MUST(r.t_ns >= s->last_ns);
    s->last_ns = r.t_ns;
    if (r.kind != RECORD_POWER) {
        MUST(r.kind == RECORD_TEMPERATURE);
        s->temperatures++;
        return;
    }
    MUST(r.t_ns >= s->last_row_ns[r.port]);
    MUST(r.power.rows == 1 || (int64_t)r.power.rows * r.power.interval_ns <= METER_BLOCK_NS);
    s->rows[r.port] += r.power.rows;
    s->last_row_ns[r.port] = r.t_ns + (int64_t)(r.power.rows - 1) * r.power.interval_ns;
}

static uint64_t lines_of(struct cursor c)
{
    uint64_t lines = 1;

    while (c.left > 0)
        lines += cursor_u8(&c) == '\n';
    return lines;
}

static void check_facts(const struct meter_facts *f, const struct seen *s, uint64_t lines)
{
    MUST(f->columns > 0 && f->columns <= METER_COLUMNS_MAX);
    MUST(f->unreadable == s->unreadable && f->misplaced == s->misplaced);
    MUST(f->rows + f->unreadable + f->misplaced <= lines);
    MUST(f->even_rows <= f->rows && f->power_off <= f->power_rows);
    for (unsigned port = 0; port < 256; port++)
        MUST(s->rows[port] <= f->rows * (port == RECORD_PORT_BENCH ? METER_COLUMNS_MAX : 1));
    for (unsigned i = 0; i < f->columns; i++)
        MUST(f->column[i].unit && f->column[i].number > 0 && memchr(f->column[i].name, 0, METER_NAME_MAX));
    MUST(meter_log_time_u_ns(f) >= 0 && meter_log_volt_u_uv(f) >= 0 && meter_log_amp_u_ua(f) >= 0);
}

static void one_log(struct cursor c, struct meter_options *o)
{
    static struct seen s;
    struct fault       f = { .code = FAULT_NONE };
    struct meter_log  *m;
    const uint8_t     *bytes;
    size_t             length;
    int64_t            stamp_ns;

    memset(&s, 0, sizeof s);
    s.last_ns = INT64_MIN;
    for (unsigned port = 0; port < 256; port++)
        s.last_row_ns[port] = INT64_MIN;
    o->context = &s;
    m = meter_log_open_memory(c.at, c.left, o, &f);
    MUST((m == NULL) == (f.code != FAULT_NONE));
    if (!m)
        return;
    while (meter_log_next(m, &bytes, &length, &stamp_ns, &f))
        see(&s, stamp_ns, bytes, length, o->flags);
    check_facts(meter_log_facts(m), &s, lines_of(c));
    meter_log_close(m);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
    struct cursor        c = cursor_over(bytes, length);
    uint8_t              choice = cursor_u8(&c);
    struct meter_options o = { .notice = hear, .flags = choice & 0x80 ? RECORD_INVENTED : 0, .turned = choice & TURNED };
    struct meter_map     map;
    char                 text[MAP_MAX + 1] = "";
    struct fault         f = { .code = FAULT_NONE };

    if (choice & RATE)
        o.rate_hz = 48000;
    if (choice & SEPARATOR)
        o.separator = ';';
    if (choice & DECIMAL)
        o.decimal = ',';
    for (size_t n = 0; choice & MAP && n < MAP_MAX && c.left > 0; n++) {
        text[n] = (char)cursor_u8(&c);
        if (text[n] == '\n' || text[n] == 0) {
            text[n] = 0;
            break;
        }
    }
    if (choice & MAP) {
        MUST(meter_map_read(text, &map, &f) == (f.code == FAULT_NONE));
        if (f.code == FAULT_NONE)
            o.map = &map;
    }
    meter_log_fits(c.at, c.left);
    one_log(c, &o);
    return 0;
}

#include "capture/meter_log_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WRAP_TICKS (INT64_C(1) << 32)
#define HALF_A_DAY_NS INT64_C(43200000000000)
enum { WORDS_MAX = 120, QUEUE_MAX = 2, AHEAD_SPACINGS = 8 };

/* A row with its time as it was written. */
struct waiting { struct meter_values v; int64_t raw_ns; uint64_t line; };

struct meter_log {
    struct meter_options options;
    struct byte_source  *bytes;
    struct csv_table    *table;
    struct meter_layout  layout;
    struct meter_names   heading;
    struct meter_rows   *rows;
    struct meter_facts   facts;
    struct fault         end;
    bool                 ended, flushed;

    /* Times as they go on: raw + offset never goes back. */
    bool           has_last, zone_taken;
    int64_t        offset_ns, last_ns, last_raw_ns, spacing_ns;
    struct waiting ahead, back; /* rows that stand out, until the next one tells what they are */
    bool           has_ahead, has_back;
    struct waiting queue[QUEUE_MAX];
    unsigned       queued;
    uint64_t       lines; /* of data, for rows that are counted */
    struct meter_check check;
};

static void tell(struct meter_log *m, struct meter_notice n)
{
    if (m->options.notice)
        m->options.notice(m->options.context, &n);
}

static void tell_column(struct meter_log *m, enum meter_news news, unsigned number, const struct meter_unit *unit)
{
    const struct cursor *cell = number <= m->heading.count ? &m->heading.cell[number - 1] : NULL;

    tell(m, (struct meter_notice){ .news = news, .line = m->heading.line, .column = number, .unit = unit, .words = cell ? (const char *)cell->at : NULL,
                                   .words_length = cell ? cell->left : 0 });
}

/* What is taken for granted, and what is left aside. */
static void tell_columns(struct meter_log *m)
{
    bool used[CSV_CELLS_MAX] = { false };

    for (unsigned i = 0; i < m->layout.columns; i++) {
        const struct meter_column *c = &m->layout.column[i];

        used[c->number - 1] = true;
        if (!c->unit_told && c->quantity != METER_DATE)
            tell_column(m, METER_UNIT_TAKEN, c->number, c->unit);
    }
    for (unsigned i = 0; i < m->heading.count; i++) {
        if (!used[i] && m->heading.cell[i].left > 0)
            tell_column(m, METER_NOT_USED, i + 1, NULL);
    }
}

/* A hundred million seconds after 1970 is 1973: no log began there, and none ran for so long. */
static enum meter_clock clock_of(const struct meter_layout *l)
{
    if (l->time < 0)
        return METER_CLOCK_ROWS;
    if (l->column[l->time].unit->form == METER_NUMBER)
        return l->first.clock_ns >= INT64_C(100000000000000000) ? METER_CLOCK_1970 : METER_CLOCK_LOG;
    return l->first.has_date ? METER_CLOCK_1970 : METER_CLOCK_DAY;
}

/* What the last digit of the readings is worth: the coarsest where ports differ. */
static int32_t digit_step(const struct meter_layout *l, enum meter_quantity quantity)
{
    double step = 0;

    for (unsigned i = 0; i < l->columns; i++) {
        if (l->column[i].quantity == quantity && l->exponent[i] < METER_NO_DIGIT)
            step = fmax(step, fmax(1, pow(10, l->exponent[i])));
    }
    return step < INT32_MAX ? (int32_t)step : INT32_MAX;
}

static void facts_begin(struct meter_log *m)
{
    const struct meter_layout *l = &m->layout;
    struct meter_facts        *f = &m->facts;

    memcpy(f->column, l->column, sizeof f->column);
    f->columns = l->columns;
    f->heading_line = l->heading_line;
    f->separator = l->separator;
    f->decimal = l->decimal;
    f->clock = clock_of(l);
    f->zone_told = l->first.zone_told;
    f->time_step_ns = l->time_step_ns;
    f->step_uv = digit_step(l, METER_VBUS);
    f->step_ua = digit_step(l, METER_IBUS);
}

/* Where rows are counted there is no last digit: a hundredth of their distance, a microsecond at most, is room for whole nanoseconds. */
static int64_t row_tolerance(const struct meter_log *m)
{
    double room = 1e9 / m->options.rate_hz / 100;

    if (m->layout.time >= 0)
        return m->layout.time_step_ns > 0 ? m->layout.time_step_ns : 1;
    return room < 1 ? 1 : room > 1000 ? 1000 : (int64_t)room;
}

static struct meter_log *log_open(struct byte_source *bytes, const struct meter_options *options, struct fault *f)
{
    struct meter_log *m = bytes ? calloc(1, sizeof *m) : NULL;

    if (!m) {
        byte_source_close(bytes);
        if (bytes)
            fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        return NULL;
    }
    m->options = *options;
    m->bytes = bytes;
    m->table = csv_table_new(bytes, f);
    if (!m->table || !meter_layout_find(m->table, &m->options, &m->layout, &m->heading, f)) {
        meter_log_close(m);
        return NULL;
    }
    m->rows = meter_rows_new(&m->layout, &m->options, row_tolerance(m), &m->facts);
    if (!m->rows) {
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
        meter_log_close(m);
        return NULL;
    }
    facts_begin(m);
    meter_check_begin(&m->check, &m->layout);
    tell_columns(m);
    return m;
}

struct meter_log *meter_log_open(const char *path, const struct meter_options *options, struct fault *f)
{
    return log_open(byte_source_open(path, f), options, f);
}

struct meter_log *meter_log_open_memory(const uint8_t *bytes, size_t length, const struct meter_options *options, struct fault *f)
{
    return log_open(byte_source_over(bytes, length, f), options, f);
}

void meter_log_close(struct meter_log *m)
{
    if (!m)
        return;
    meter_rows_free(m->rows);
    csv_table_free(m->table);
    byte_source_close(m->bytes);
    free(m->heading.text);
    free(m);
}

/* Within what a record can say. a may be any time of the calendar, b within the limit. */
static int64_t time_sum(int64_t a, int64_t b)
{
    int64_t sum = b > 0 && a > INT64_MAX - b ? INT64_MAX : b < 0 && a < INT64_MIN - b ? INT64_MIN : a + b;

    return sum > RECORD_TIME_LIMIT ? RECORD_TIME_LIMIT : sum < -RECORD_TIME_LIMIT ? -RECORD_TIME_LIMIT : sum;
}

/* The row goes on its way, at the time that it has by now. */
static void row_commit(struct meter_log *m, const struct waiting *w)
{
    int64_t now_ns = time_sum(w->raw_ns, m->offset_ns);

    if (m->check.counts)
        meter_check_counters(&m->check, &w->v, now_ns, (now_ns - m->last_ns) / AHEAD_SPACINGS <= m->spacing_ns || m->spacing_ns == 0);
    if (m->has_last && now_ns > m->last_ns)
        m->spacing_ns = now_ns - m->last_ns;
    m->has_last = true;
    m->last_ns = now_ns;
    m->last_raw_ns = w->raw_ns;
    if (m->queued == 0 && meter_rows_add(m->rows, now_ns, &w->v))
        return;
    m->queue[m->queued] = *w;
    m->queue[m->queued++].raw_ns = now_ns;
}

static void row_drop(struct meter_log *m, enum meter_news news, const struct waiting *w)
{
    int64_t at_ns = time_sum(w->raw_ns, m->offset_ns);

    m->facts.misplaced++;
    tell(m, (struct meter_notice){ .news = news, .line = w->line, .step_ns = llabs(at_ns - m->last_ns) });
}

/* Times of day at midnight, counters of 32 bits at their end: a step back that means that time goes on. */
static bool clock_rolls(struct meter_log *m, const struct waiting *w)
{
    const struct meter_unit *unit = m->layout.time >= 0 ? m->layout.column[m->layout.time].unit : NULL;
    int64_t                  back_ns = m->last_raw_ns - w->raw_ns, wrap_ns = 0;
    enum meter_news          news = METER_MIDNIGHT;

    if (m->facts.clock == METER_CLOCK_DAY && m->last_raw_ns < 2 * HALF_A_DAY_NS && back_ns > HALF_A_DAY_NS)
        wrap_ns = 2 * HALF_A_DAY_NS;
    if (m->facts.clock == METER_CLOCK_LOG && unit && unit->power < 9) {
        int64_t tick_ns = unit->power == 6 ? 1000000 : unit->power == 3 ? 1000 : 1, all_ns = WRAP_TICKS * tick_ns;

        if (m->last_raw_ns < all_ns && m->last_raw_ns > all_ns / 10 * 9 && w->raw_ns >= 0 && w->raw_ns < all_ns / 10)
            wrap_ns = all_ns;
        news = METER_WRAPPED;
    }
    if (wrap_ns == 0)
        return false;
    m->offset_ns = time_sum(m->offset_ns, wrap_ns);
    tell(m, (struct meter_notice){ .news = news, .line = w->line });
    return true;
}

/* The clock was set back: times go on from the last row by the spacing seen before, or, if there was none, by that to the next row. */
static void clock_was_set(struct meter_log *m, const struct waiting *next)
{
    int64_t at_ns = time_sum(m->back.raw_ns, m->offset_ns), back_ns = m->last_ns - at_ns;

    tell(m, (struct meter_notice){ .news = METER_CLOCK_SET, .line = m->back.line, .step_ns = back_ns });
    if (m->spacing_ns == 0)
        m->spacing_ns = time_sum(next->raw_ns, -m->back.raw_ns);
    m->offset_ns = time_sum(m->offset_ns, time_sum(back_ns, m->spacing_ns));
    row_commit(m, &m->back);
}

/* A row stood out ahead of the others: w tells whether time went on there. */
static void settle_ahead(struct meter_log *m, const struct waiting *w)
{
    int64_t now_ns = time_sum(w->raw_ns, m->offset_ns);

    if (!m->has_ahead)
        return;
    m->has_ahead = false;
    if (now_ns < time_sum(m->ahead.raw_ns, m->offset_ns) && now_ns >= m->last_ns)
        row_drop(m, METER_TIME_AHEAD, &m->ahead);
    else
        row_commit(m, &m->ahead);
}

/* A row went back: w goes on from before it, or from it. */
static void settle_back(struct meter_log *m, const struct waiting *w)
{
    if (!m->has_back)
        return;
    m->has_back = false;
    if (time_sum(w->raw_ns, m->offset_ns) < m->last_ns && w->raw_ns >= m->back.raw_ns)
        clock_was_set(m, w);
    else
        row_drop(m, METER_TIME_BACK, &m->back);
}

/* At most one row waits besides w, so the queue has room for both. */
static void row_place(struct meter_log *m, const struct waiting *w)
{
    int64_t now_ns;

    settle_ahead(m, w);
    settle_back(m, w);
    now_ns = time_sum(w->raw_ns, m->offset_ns);
    if (m->has_last && now_ns < m->last_ns && !clock_rolls(m, w)) {
        m->back = *w;
        m->has_back = true;
    } else if (m->has_last && m->spacing_ns > 0 && (now_ns - m->last_ns) / AHEAD_SPACINGS > m->spacing_ns && now_ns >= m->last_ns) {
        m->ahead = *w;
        m->has_ahead = true;
    } else {
        row_commit(m, w);
    }
}

static void row_unreadable(struct meter_log *m, const struct csv_row *row, unsigned column)
{
    m->facts.unreadable++;
    tell(m, (struct meter_notice){ .news = METER_UNREADABLE, .line = row->line, .column = column, .words = (const char *)row->whole.at,
                                   .words_length = row->whole.left < WORDS_MAX ? row->whole.left : WORDS_MAX });
}

static void turn_current(const struct meter_log *m, struct meter_values *v)
{
    for (unsigned i = 0; m->options.turned && i < m->layout.columns; i++) {
        if (m->layout.column[i].quantity == METER_IBUS && v->value[i] != METER_NO_VALUE)
            v->value[i] = -v->value[i];
    }
}

/* When the row was taken, as written. False: *bad as in meter_time_read. */
static bool row_time(struct meter_log *m, const struct csv_row *row, int64_t *raw_ns, unsigned *bad)
{
    struct meter_moment at;
    double              counted = (double)(m->lines - 1) / m->options.rate_hz * 1e9;

    if (m->layout.time < 0) {
        *raw_ns = counted < 4e18 ? (int64_t)llround(counted) : RECORD_TIME_LIMIT;
        return true;
    }
    if (!meter_time_read(&m->layout, row, &at, bad) || at.has_date != m->layout.first.has_date)
        return false;
    if (at.has_date && !at.zone_told && !m->zone_taken) {
        m->zone_taken = true;
        tell(m, (struct meter_notice){ .news = METER_ZONE_TAKEN, .line = row->line });
    }
    *raw_ns = time_sum(at.date_ns, at.clock_ns);
    return true;
}

static void log_end(struct meter_log *m)
{
    m->ended = true;
    if (m->has_ahead)
        row_commit(m, &m->ahead);
    if (m->has_back)
        row_drop(m, METER_TIME_BACK, &m->back);
    m->has_ahead = m->has_back = false;
    meter_check_tell(&m->check, &m->layout, &m->facts, &m->options);
}

/* One line of the file. */
static void log_read(struct meter_log *m)
{
    struct csv_row row;
    struct waiting w;
    unsigned       bad = 0;

    if (!csv_table_next(m->table, &row, &m->end)) {
        log_end(m);
        return;
    }
    m->facts.bytes = csv_table_taken(m->table);
    if (row.whole.left > 0 && row.whole.at[0] == '#')
        return; /* a comment */
    m->lines++;
    m->facts.decimal = m->layout.decimal;
    w.line = row.line;
    if (!meter_values_read(&m->layout, &row, &w.v, &bad) || !row_time(m, &row, &w.raw_ns, &bad)) {
        row_unreadable(m, &row, bad);
        return;
    }
    if (m->check.power >= 0)
        meter_check_power(&m->check, &w.v, w.line, &m->facts);
    turn_current(m, &w.v);
    row_place(m, &w);
}

/* The next row of the queue, unless the rows that wait have to come out first. */
static void queue_move(struct meter_log *m)
{
    if (!meter_rows_add(m->rows, m->queue[0].raw_ns, &m->queue[0].v))
        return;
    m->queued--;
    m->queue[0] = m->queue[1];
}

bool meter_log_next(struct meter_log *m, const uint8_t **bytes, size_t *length, int64_t *stamp_ns, struct fault *f)
{
    while (!meter_rows_take(m->rows, bytes, length, stamp_ns)) {
        if (m->queued > 0) {
            queue_move(m);
        } else if (!m->ended) {
            log_read(m);
        } else if (!m->flushed) {
            m->flushed = true;
            meter_rows_end(m->rows);
        } else {
            *f = m->end;
            return false;
        }
    }
    return true;
}

const struct meter_facts *meter_log_facts(const struct meter_log *m)
{
    return &m->facts;
}

bool meter_log_fits(const uint8_t *bytes, size_t length)
{
    struct meter_options options = { .notice = NULL };
    struct fault         f = { .code = FAULT_NONE };
    struct meter_log    *m = meter_log_open_memory(bytes, length, &options, &f);
    bool                 volts = false, amps = false;

    for (unsigned i = 0; m && i < m->facts.columns; i++) {
        volts = volts || m->facts.column[i].quantity == METER_VBUS;
        amps = amps || m->facts.column[i].quantity == METER_IBUS;
    }
    meter_log_close(m);
    return volts && amps;
}

double meter_log_time_u_ns(const struct meter_facts *facts)
{
    return (double)facts->time_step_ns / sqrt(3);
}

double meter_log_volt_u_uv(const struct meter_facts *facts)
{
    return facts->step_uv / sqrt(12);
}

double meter_log_amp_u_ua(const struct meter_facts *facts)
{
    return facts->step_ua / sqrt(12);
}

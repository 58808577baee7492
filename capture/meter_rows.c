#include "capture/meter_log_inside.h"

#include "capture/json.h"

#include <stdlib.h>
#include <string.h>

#define SPAN_MOST_NS INT64_C(1000000000000000) /* of a window: 4096 intervals of 32 bits are shorter by far */
enum { WINDOW_ROWS = 4096, POWER_HEAD_BYTES = 16, LABEL_MAX = 64, PORTS = 256 };

/* The columns of one port, in the order of their bits. */
struct port_columns { uint8_t port, bits, width, at[RECORD_COLUMNS_MAX]; };
/* A temperature: its place among the cells, and what its records begin with. */
struct probe { uint8_t port, probe; unsigned at; size_t label_length; char label[LABEL_MAX]; };

/*
 * Rows wait in a window for as long as they lie on a line: row k at origin + k x interval, each within step_ns of its stamp. least and most are
 * what interval may still be. Then they come out, a block after the other.
 */
struct meter_rows {
    const struct meter_options *o;
    struct meter_facts         *facts;
    struct port_columns         port[METER_COLUMNS_MAX];
    unsigned                    ports;
    struct probe                probe[METER_COLUMNS_MAX];
    unsigned                    probes, widest, width;
    unsigned                    cell_of[METER_COLUMNS_MAX]; /* of a column, its place in a row; METER_COLUMNS_MAX: not kept */
    unsigned                    columns;
    int64_t                     step_ns;

    int64_t *stamp;
    int32_t *cells;  /* width a row */
    int32_t *block;  /* of one port, on its way out */
    uint8_t *record;
    unsigned count;
    int64_t  origin_ns, least_ns, most_ns;

    bool     out, even;     /* coming out */
    int64_t  interval_ns;
    int64_t  given_ns;      /* time of the last row that came out */
    int64_t  expected_ns;   /* where the next would be, after an even stretch */
    bool     has_given, has_expected;
    unsigned from, to;      /* the block that is coming out: its rows, then what of it comes next */
    unsigned next_port, next_row, next_probe;
};

static unsigned bit_of(enum meter_quantity quantity)
{
    return quantity == METER_VBUS ? RECORD_VBUS : quantity == METER_IBUS ? RECORD_IBUS : quantity == METER_VCONN ? RECORD_VCONN : 0;
}

static uint8_t port_from(const struct meter_options *o, uint8_t port)
{
    unsigned sum = (unsigned)o->port + port;

    return port == RECORD_PORT_BENCH || sum > RECORD_PORT_BENCH ? RECORD_PORT_BENCH : (uint8_t)sum;
}

/* The heading without its unit, cut at a whole character; what is no UTF-8 is left out. */
static void probe_label(struct probe *p, const char *name)
{
    struct meter_heading h;
    size_t               n;

    meter_heading_read(name, strlen(name), &h);
    n = h.name_length < LABEL_MAX ? h.name_length : LABEL_MAX;
    while (n > 0 && !utf8_valid(name, n))
        n--;
    memcpy(p->label, name, n);
    p->label_length = n;
}

/* Columns of volts and amperes by port and bit, temperatures behind them. */
static void rows_lay_out(struct meter_rows *r, const struct meter_layout *l)
{
    for (unsigned i = 0; i < l->columns; i++)
        r->cell_of[i] = METER_COLUMNS_MAX;
    for (unsigned port = 0; port < PORTS; port++) {
        struct port_columns *p = &r->port[r->ports];

        *p = (struct port_columns){ .port = port_from(r->o, (uint8_t)port) };
        for (unsigned bit = 1; bit <= RECORD_VCONN; bit <<= 1) {
            for (unsigned i = 0; i < l->columns; i++) {
                if (l->column[i].port != port || bit_of(l->column[i].quantity) != bit || p->bits & bit)
                    continue;
                p->bits = (uint8_t)(p->bits | bit);
                p->at[p->width++] = (uint8_t)r->width;
                r->cell_of[i] = r->width++;
            }
        }
        r->widest = p->width > r->widest ? p->width : r->widest;
        r->ports += p->width > 0;
    }
    for (unsigned i = 0; i < l->columns; i++) {
        if (l->column[i].quantity != METER_TEMPERATURE)
            continue;
        r->probe[r->probes] = (struct probe){ .port = port_from(r->o, l->column[i].port), .probe = l->column[i].probe, .at = r->width };
        probe_label(&r->probe[r->probes++], l->column[i].name);
        r->cell_of[i] = r->width++;
    }
}

struct meter_rows *meter_rows_new(const struct meter_layout *l, const struct meter_options *o, int64_t step_ns, struct meter_facts *facts)
{
    struct meter_rows *r = calloc(1, sizeof *r);

    if (!r)
        return NULL;
    r->o = o;
    r->facts = facts;
    r->columns = l->columns;
    r->step_ns = step_ns < SPAN_MOST_NS ? step_ns : SPAN_MOST_NS;
    rows_lay_out(r, l);
    r->stamp = malloc(WINDOW_ROWS * sizeof *r->stamp);
    r->cells = malloc((size_t)WINDOW_ROWS * (r->width ? r->width : 1) * sizeof *r->cells);
    r->block = malloc(RECORD_BYTES_MAX);
    r->record = malloc(RECORD_BYTES_MAX);
    if (r->stamp && r->cells && r->block && r->record)
        return r;
    meter_rows_free(r);
    return NULL;
}

void meter_rows_free(struct meter_rows *r)
{
    if (!r)
        return;
    free(r->stamp);
    free(r->cells);
    free(r->block);
    free(r->record);
    free(r);
}

static int64_t later_of(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

/* The window begins: where an even stretch is expected to go on if that is as true as the stamp, else at the stamp, never before what came out. */
static void window_begin(struct meter_rows *r, int64_t stamp_ns)
{
    r->origin_ns = r->has_given ? later_of(stamp_ns, r->given_ns) : stamp_ns;
    if (r->has_expected && llabs(r->expected_ns - stamp_ns) <= r->step_ns)
        r->origin_ns = r->expected_ns;
    r->least_ns = 1;
    r->most_ns = UINT32_MAX; /* interval_ns has 32 bits */
}

static int64_t divide_down(int64_t a, int64_t b)
{
    return a / b - (a % b < 0);
}

/*
 * Rows that are a record each in any case, and that their stamps tell apart, gain nothing from being moved onto a line: they are even if
 * the stamps are, to the nanosecond.
 */
static bool window_is_exact(const struct meter_rows *r, int64_t first_step_ns)
{
    return first_step_ns > METER_BLOCK_NS && first_step_ns >= r->step_ns;
}

/* Does the row lie on a line with those that wait? */
static bool window_takes(struct meter_rows *r, int64_t stamp_ns)
{
    int64_t since = stamp_ns - r->origin_ns, k = r->count, least, most;

    if (since > SPAN_MOST_NS || r->count == WINDOW_ROWS || r->ports == 0 || (k == 1 && since > UINT32_MAX))
        return false;
    if (k > 1 && window_is_exact(r, r->stamp[1] - r->stamp[0]) && stamp_ns - r->stamp[0] != k * (r->stamp[1] - r->stamp[0]))
        return false;
    least = later_of(-divide_down(-(since - r->step_ns), k), r->least_ns);
    most = divide_down(since + r->step_ns, k);
    most = most < r->most_ns ? most : r->most_ns;
    if (least > most)
        return false;
    r->least_ns = least;
    r->most_ns = most;
    return true;
}

static void window_close(struct meter_rows *r)
{
    r->out = r->count > 0;
    r->even = r->count >= METER_EVEN_ROWS;
    r->from = r->to = 0;
    r->has_expected = false;
    if (!r->even)
        return;
    if (window_is_exact(r, r->stamp[1] - r->stamp[0])) {
        r->origin_ns = later_of(r->stamp[0], r->has_given ? r->given_ns : r->stamp[0]);
        r->interval_ns = r->stamp[1] - r->stamp[0];
        return;
    }
    r->interval_ns = (r->stamp[r->count - 1] - r->origin_ns) / (r->count - 1);
    if (r->interval_ns < r->least_ns)
        r->interval_ns = r->least_ns;
    if (r->interval_ns > r->most_ns)
        r->interval_ns = r->most_ns;
    r->has_expected = true;
    r->expected_ns = r->origin_ns + r->count * r->interval_ns;
}

bool meter_rows_add(struct meter_rows *r, int64_t stamp_ns, const struct meter_values *v)
{
    int32_t *cells;

    if (r->out)
        return false;
    if (r->count == 0) {
        window_begin(r, stamp_ns);
    } else if (!window_takes(r, stamp_ns)) {
        window_close(r);
        return false;
    }
    cells = r->cells + (size_t)r->count * r->width;
    for (unsigned i = 0; i < r->columns; i++) {
        if (r->cell_of[i] < METER_COLUMNS_MAX)
            cells[r->cell_of[i]] = v->value[i] == METER_NO_VALUE ? RECORD_NO_READING : (int32_t)v->value[i];
    }
    r->stamp[r->count++] = stamp_ns;
    return true;
}

void meter_rows_end(struct meter_rows *r)
{
    if (!r->out)
        window_close(r);
}

static int64_t row_time(const struct meter_rows *r, unsigned k)
{
    if (r->even)
        return r->origin_ns + k * r->interval_ns;
    return r->has_given ? later_of(r->stamp[k], r->given_ns) : r->stamp[k];
}

/* The next block: rows from..to. False: the window is empty. */
static bool block_begin(struct meter_rows *r)
{
    unsigned rows = 1, room;

    if (r->to == r->count) {
        r->count = 0;
        r->out = false;
        return false;
    }
    if (r->even) {
        room = (RECORD_BYTES_MAX - POWER_HEAD_BYTES) / (unsigned)sizeof(int32_t) / r->widest;
        rows = (unsigned)later_of(1, METER_BLOCK_NS / r->interval_ns);
        rows = rows < room ? rows : room;
    }
    r->from = r->to;
    r->to = rows < r->count - r->from ? r->from + rows : r->count;
    r->next_port = r->next_probe = 0;
    r->next_row = r->from;
    r->facts->rows += r->to - r->from;
    r->facts->even_rows += r->even ? r->to - r->from : 0;
    return true;
}

static void block_end(struct meter_rows *r)
{
    int64_t last_ns = row_time(r, r->to - 1);

    if (!r->facts->started)
        r->facts->first_ns = row_time(r, r->from);
    r->facts->started = true;
    r->facts->last_ns = last_ns;
    r->given_ns = last_ns;
    r->has_given = true;
    r->from = r->to;
}

/* The readings of a port, 0 if there are none at all. */
static size_t port_record(struct meter_rows *r, const struct port_columns *p)
{
    size_t n = 0;
    bool   any = false;

    for (unsigned row = r->from; row < r->to; row++) {
        for (unsigned k = 0; k < p->width; k++) {
            int32_t cell = r->cells[(size_t)row * r->width + p->at[k]];

            r->block[n++] = cell;
            any = any || cell != RECORD_NO_READING;
        }
    }
    if (!any)
        return 0;
    return record_put_power(r->record, RECORD_BYTES_MAX, p->port, r->o->flags, 0, r->even ? (uint32_t)r->interval_ns : 0,
                            (uint16_t)(r->to - r->from), p->bits, r->block);
}

static size_t probe_record(struct meter_rows *r, const struct probe *p, unsigned row)
{
    int32_t  reading = r->cells[(size_t)row * r->width + p->at];
    uint32_t mc = (uint32_t)reading;
    uint8_t  body[8 + LABEL_MAX] = { p->probe, 0, 0, 0, (uint8_t)mc, (uint8_t)(mc >> 8), (uint8_t)(mc >> 16), (uint8_t)(mc >> 24) };

    if (reading == RECORD_NO_READING)
        return 0;
    memcpy(body + 8, p->label, p->label_length);
    return record_put(r->record, RECORD_BYTES_MAX, RECORD_TEMPERATURE, p->port, r->o->flags, 0, body, 8 + p->label_length);
}

bool meter_rows_take(struct meter_rows *r, const uint8_t **bytes, size_t *length, int64_t *stamp_ns)
{
    *bytes = r->record;
    while (r->out) {
        if (r->from == r->to && !block_begin(r))
            return false;
        while (r->next_port < r->ports) {
            *stamp_ns = row_time(r, r->from);
            *length = port_record(r, &r->port[r->next_port++]);
            if (*length > 0)
                return true;
        }
        for (; r->next_row < r->to; r->next_row++, r->next_probe = 0) {
            while (r->next_probe < r->probes) {
                *stamp_ns = row_time(r, r->next_row);
                *length = probe_record(r, &r->probe[r->next_probe++], r->next_row);
                if (*length > 0)
                    return true;
            }
        }
        block_end(r);
    }
    return false;
}

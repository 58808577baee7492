/* Meters' logs, whole: what goes in was written by hand or by printf, what has to come out was typed beside it. */
#include "tests/capture/made.h"

#include "capture/meter_log.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum { ROWS_MAX = 70000, NOTICES_MAX = 64 };
#define NOTHING RECORD_NO_READING
#define MS INT64_C(1000000)
#define SEC INT64_C(1000000000)

struct reading { int64_t t_ns; int32_t uv, ua, vconn_uv; uint8_t port, flags; uint32_t interval_ns; };
struct warmth { int64_t t_ns; int32_t mc; uint8_t port, probe; char label[64]; };
struct heard {
    struct reading      row[ROWS_MAX]; /* of POWER records, one by one */
    struct warmth       warm[64];
    struct meter_notice notice[NOTICES_MAX];
    char                words[NOTICES_MAX][160];
    struct meter_facts  facts;
    struct fault        fault;
    unsigned            rows, warms, notices, records, blocks; /* blocks: records of several rows */
    bool                opened;
};

static void hear_notice(void *context, const struct meter_notice *n)
{
    struct heard *h = context;

    if (h->notices == NOTICES_MAX)
        return;
    if (n->words)
        snprintf(h->words[h->notices], sizeof h->words[0], "%.*s", (int)n->words_length, n->words);
    h->notice[h->notices++] = *n;
}

static void hear_power(struct heard *h, const struct record *r)
{
    h->blocks += r->power.rows > 1;
    for (unsigned k = 0; k < r->power.rows; k++) {
        struct reading *row = &h->row[h->rows++];
        unsigned        at = 0;

        assert_true(h->rows < ROWS_MAX);
        *row = (struct reading){ .t_ns = r->t_ns + (int64_t)k * r->power.interval_ns, .uv = NOTHING, .ua = NOTHING, .vconn_uv = NOTHING,
                                 .port = r->port, .flags = r->flags, .interval_ns = r->power.interval_ns };
        if (r->power.columns & RECORD_VBUS)
            row->uv = record_cell(r, k, at++);
        if (r->power.columns & RECORD_IBUS)
            row->ua = record_cell(r, k, at++);
        if (r->power.columns & RECORD_VCONN)
            row->vconn_uv = record_cell(r, k, at++);
    }
}

static void hear_temperature(struct heard *h, const struct record *r)
{
    struct warmth *w = &h->warm[h->warms++];

    assert_true(h->warms < 64);
    *w = (struct warmth){ .t_ns = r->t_ns, .mc = r->temperature.mc, .port = r->port, .probe = r->temperature.probe };
    snprintf(w->label, sizeof w->label, "%.*s", (int)r->temperature.length, r->temperature.label);
}

static struct heard *hear_bytes(const void *bytes, size_t length, const struct meter_options *options)
{
    struct heard        *h = calloc(1, sizeof *h);
    struct meter_options o = *options;
    struct meter_log    *m;
    const uint8_t       *record;
    int64_t              stamp_ns, last_ns = INT64_MIN;
    size_t               n;

    assert_non_null(h);
    o.notice = hear_notice;
    o.context = h;
    m = meter_log_open_memory(bytes, length, &o, &h->fault);
    h->opened = m != NULL;
    while (m && meter_log_next(m, &record, &n, &stamp_ns, &h->fault)) {
        struct record r;

        record_read(record, n, false, stamp_ns, ++h->records, &r);
        assert_int_equal(r.soundness, RECORD_SOUND);
        assert_true(stamp_ns >= last_ns); /* in order of start times */
        last_ns = stamp_ns;
        if (r.kind == RECORD_POWER)
            hear_power(h, &r);
        else
            hear_temperature(h, &r);
    }
    if (m)
        h->facts = *meter_log_facts(m);
    meter_log_close(m);
    return h;
}

static struct heard *hear(const char *text, const struct meter_options *options)
{
    return hear_bytes(text, strlen(text), options);
}

static const struct meter_options plain = { .notice = NULL };

static struct heard *hear_mapped(const char *text, const char *map_text, double rate_hz)
{
    struct meter_map     map;
    struct fault         f = { .code = FAULT_NONE };
    struct meter_options o = { .map = &map, .rate_hz = rate_hz };

    assert_true(meter_map_read(map_text, &map, &f));
    return hear(text, &o);
}

static void check_row(const struct heard *h, unsigned k, int64_t t_ns, int32_t uv, int32_t ua)
{
    assert_true(k < h->rows);
    assert_int_equal(h->row[k].t_ns, t_ns);
    assert_int_equal(h->row[k].uv, uv);
    assert_int_equal(h->row[k].ua, ua);
}

static unsigned notices_of(const struct heard *h, enum meter_news news)
{
    unsigned count = 0;

    for (unsigned i = 0; i < h->notices; i++)
        count += h->notice[i].news == news;
    return count;
}

static const struct meter_notice *notice_of(const struct heard *h, enum meter_news news)
{
    for (unsigned i = 0; i < h->notices; i++) {
        if (h->notice[i].news == news)
            return &h->notice[i];
    }
    fail_msg("no notice %d", news);
    return NULL;
}

/* The same three rows, as a dozen instruments would write them: 0, 100 and 250 ms; 5.0123, 9.0, 8.95 V; 1.5, 0, -0.25 A. */
static const char *const same_rows[] = {
    "Time (s),Voltage (V),Current (A)\n0,5.0123,1.5\n0.1,9,0\n0.25,8.95,-0.25\n",
    "Current(A);Voltage(V);Time(s)\n1.5;5.0123;0\n0;9;0.1\n-0.25;8.95;0.25\n",
    "Zeit s;Spannung V;Strom mA\r\n0,000;5,0123;1500,0\r\n0,100;9,0000;0,0\r\n0,250;8,9500;-250,0\r\n",
    "t_ms\tVBUS_mv\tIBUS_ma\n0\t5012.3\t1500\n100\t9000\t0\n250\t8950\t-250\n",
    "\xEF\xBB\xBFt/us|U/mV|I/uA\n0|5012.3|1500000\n100000|9000|0\n250000|8950|-250000",
    "Logged on the bench of Lumenbrick 65\nSerial, 12\n\nRange: 20 V\nTime [ms],I [mA],U [V]\n0,1500,5.0123\n100,0,9\n250,-250,8.95\n",
    "\"Time (s)\",\"Voltage, bus (V)\",\"Current (A)\"\n\"0\",\"5.0123\",\"1.5\"\n\"0.1\",\"9\",\"0\"\n\"0.25\",\"8.95\",\"-0.25\"\n",
    "Time,Voltage,Current\ns,V,mA\n0,5.0123,1500\n0.1,9,0\n0.25,8.95,-250\n",
    "Time;Voltage;Current\n[ms];[V];[A]\n0;5.0123;1.5\n100;9;0\n250;8.95;-0.25\n",
    "Time,Voltage (V),Current (A)\n1970-01-01T00:00:00.000Z,5.0123,1.5\n1970-01-01T00:00:00.100Z,9,0\n1970-01-01T00:00:00.250Z,8.95,-0.25\n",
    "No.,Elapsed,Voltage (V),Note,Current (A)\n1,00:00:00.000,5.0123,begin,1.5\n2,00:00:00.100,9,,0\n3,00:00:00.250,8.95,\"a, b\",-0.25\n",
    "Date,Time,Voltage (V),Current (A)\n1970-01-01,00:00:00.000,5.0123,1.5\n1970-01-01,00:00:00.100,9,0\n1970-01-01,00:00:00.250,8.95,-0.25\n",
    "Datum;Uhrzeit;Spannung V;Strom A\n01.01.1970;00:00:00,000;5,0123;1,5\n01.01.1970;00:00:00,100;9,0;0\n01.01.1970;00:00:00,250;8,95;-0,25\n",
    "time,vbus,ibus\n0 s,5.0123 V,1500 mA\n0.1 s,9000 mV,0 A\n250 ms,8.95 V,-0.25 A\n",
    "Elapsed (min),VBUS (V),IBUS (A)\n0,5.0123,1.5\n0.0016666666666667,9,0\n0.0041666666666667,8.95,-0.25\n",
    "# of Harbor 96\n# Time (s), Voltage (V), Current (A)\n0, 5.0123, 1.5\n# plugged here, by hand\n0.1, 9, 0\n0.25, 8.95, -0.25\n",
    "Time (h);VBUS (V);IBUS (A)\n0;5.0123;1.5\n2.7777777778e-5;9;0\n6.9444444444e-5;8.95;-0.25\n",
};

static void the_same_rows_come_out_of_every_way_to_write_them(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof same_rows / sizeof same_rows[0]; i++) {
        struct heard *h = hear(same_rows[i], &plain);

        if (!h->opened || h->rows != 3)
            fail_msg("file %zu: fault %d, trouble %d, %u rows", i, h->fault.code, (int)h->fault.number, h->rows);
        check_row(h, 0, 0, 5012300, 1500000);
        check_row(h, 1, 100 * MS, 9000000, 0);
        check_row(h, 2, 250 * MS, 8950000, -250000);
        assert_int_equal(h->blocks, 0);
        assert_int_equal(h->row[0].interval_ns, 0);
        assert_int_equal(h->facts.unreadable, 0);
        assert_int_equal(h->fault.code, FAULT_NONE);
        free(h);
    }
}

/* Numbers that look drawn, the same each time: xorshift64 (G. Marsaglia, Journal of Statistical Software 8(14), 2003). */
static uint64_t draw(uint64_t *s)
{
    *s ^= *s << 13;
    *s ^= *s >> 7;
    *s ^= *s << 17;
    return *s;
}

static void put_scaled(char *out, size_t cap, int64_t value, unsigned decimals, char mark, unsigned style)
{
    int64_t whole = llabs(value), unit = 1;

    for (unsigned k = 0; k < decimals; k++)
        unit *= 10;
    if (decimals == 0)
        snprintf(out, cap, style & 1 ? "%lld" : "%+lld", (long long)value);
    else if (style % 5 == 4)
        snprintf(out, cap, "%lldE-%u", (long long)value, decimals);
    else
        snprintf(out, cap, style & 2 ? "\"%s%lld%c%0*lld\"" : "%s%lld%c%0*lld", value < 0 ? "-" : "", (long long)(whole / unit), mark, (int)decimals,
                 (long long)(whole % unit));
}

/* Units of a millionth, thousandth and one: so many decimals hold a microvolt. */
static const struct { const char *volt, *amp; unsigned decimals; } scales[] = { { "V", "A", 6 }, { "mV", "mA", 3 }, { "uV", "\xC2\xB5" "A", 0 } };

static void one_style(unsigned style, uint64_t *s)
{
    static const char separators[] = { ';', '\t', '|', ',' };
    enum { ROWS = 40 };
    char    text[16384], mark = style & 4 && style % 4 != 3 ? ',' : '.', separator = separators[style % 4];
    int32_t uv[ROWS], ua[ROWS];
    int64_t t_ns[ROWS], now = 0;
    size_t  used;
    unsigned a = (unsigned)(draw(s) % 3), b = (unsigned)(draw(s) % 3);

    used = (size_t)snprintf(text, sizeof text, "Time (s)%cVBUS (%s)%cIBUS (%s)\n", separator, scales[a].volt, separator, scales[b].amp);
    for (unsigned k = 0; k < ROWS; k++) {
        char t[64], v[64], i[64];

        now += 1 + (int64_t)(draw(s) % 3000000000);
        t_ns[k] = now;
        uv[k] = (int32_t)(draw(s) % 60000000) - 1000000;
        ua[k] = (int32_t)(draw(s) % 12000000) - 6000000;
        put_scaled(t, sizeof t, now, 9, mark, (unsigned)draw(s));
        put_scaled(v, sizeof v, uv[k], scales[a].decimals, mark, (unsigned)draw(s));
        put_scaled(i, sizeof i, ua[k], scales[b].decimals, mark, (unsigned)draw(s));
        used += (size_t)snprintf(text + used, sizeof text - used, "%s%c%s%c%s%s", t, separator, v, separator, i, style & 8 ? "\r\n" : "\n");
    }
    struct heard *h = hear(text, &plain);

    assert_true(h->opened);
    assert_int_equal(h->rows, ROWS);
    for (unsigned k = 0; k < ROWS; k++)
        check_row(h, k, t_ns[k], uv[k], ua[k]);
    free(h);
}

static void readings_of_every_style_come_back_to_the_microvolt(void **state)
{
    uint64_t s = 88172645463325252;

    (void)state;
    for (unsigned round = 0; round < 640; round++)
        one_style(round % 16, &s);
}

/* A log of n rows at times that the caller makes. */
static struct heard *hear_times(unsigned n, const char *format, double (*at)(unsigned k))
{
    size_t        cap = (size_t)n * 48 + 64, used;
    char         *text = malloc(cap);
    struct heard *h;

    assert_non_null(text);
    used = (size_t)snprintf(text, cap, "t (s),V (V)\n");
    for (unsigned k = 0; k < n; k++) {
        used += (size_t)snprintf(text + used, cap - used, format, at(k));
        used += (size_t)snprintf(text + used, cap - used, ",%u.%06u\n", k % 20, k);
    }
    h = hear(text, &plain);
    free(text);
    assert_int_equal(h->rows, n);
    assert_int_equal(h->notices, 0);
    for (unsigned k = 0; k < n; k++)
        assert_int_equal(h->row[k].uv, k % 20 * 1000000 + k);
    return h;
}

static double every_millisecond(unsigned k)
{
    return k * 0.001;
}

static void even_rows_are_blocks_of_fifty_milliseconds_with_the_exact_spacing(void **state)
{
    struct heard *h = hear_times(1000, "%.3f", every_millisecond);

    (void)state;
    assert_int_equal(h->facts.even_rows, 1000);
    assert_int_equal(h->records, 20);
    for (unsigned k = 0; k < 1000; k++) {
        assert_int_equal(h->row[k].t_ns, k * MS);
        assert_int_equal(h->row[k].interval_ns, MS);
    }
    free(h);
}

static double every_second(unsigned k)
{
    return k;
}

static void slow_even_rows_are_a_record_each_that_tells_the_spacing(void **state)
{
    struct heard *h = hear_times(20, "%.1f", every_second);

    (void)state;
    assert_int_equal(h->records, 20);
    for (unsigned k = 0; k < 20; k++) {
        assert_int_equal(h->row[k].t_ns, k * SEC);
        assert_int_equal(h->row[k].interval_ns, SEC);
    }
    free(h);
}

static double every_second_but_one(unsigned k)
{
    return k + (k >= 10);
}

static double tenths_that_tremble(unsigned k)
{
    return k * 0.1 + (k * 7 % 5) * 0.001;
}

static void slow_rows_that_their_stamps_tell_apart_stay_where_they_are(void **state)
{
    struct heard *h = hear_times(20, "%.0f", every_second_but_one);

    (void)state;
    for (unsigned k = 0; k < 20; k++) {
        assert_int_equal(h->row[k].t_ns, (k + (k >= 10)) * SEC);
        assert_int_equal(h->row[k].interval_ns, SEC);
    }
    free(h);
    h = hear_times(200, "%.3f", tenths_that_tremble);
    for (unsigned k = 0; k < 200; k++) {
        assert_int_equal(h->row[k].t_ns, (k * 100 + k * 7 % 5) * MS);
        assert_int_equal(h->row[k].interval_ns, 0);
    }
    free(h);
}

/* interval_ns ends at 4.29 s: what is slower is told without. */
static double every_ten_seconds(unsigned k)
{
    return k * 10;
}

static void rows_slower_than_an_interval_can_say_have_none(void **state)
{
    struct heard *h = hear_times(30, "%.0f", every_ten_seconds);

    (void)state;
    for (unsigned k = 0; k < 30; k++) {
        assert_int_equal(h->row[k].t_ns, k * 10 * SEC);
        assert_int_equal(h->row[k].interval_ns, 0);
    }
    free(h);
}

static double uneven(unsigned k)
{
    return k * 0.01 + k * k * 0.001;
}

static void uneven_rows_are_a_record_each_at_their_stamp(void **state)
{
    struct heard *h = hear_times(200, "%.3f", uneven);

    (void)state;
    assert_int_equal(h->facts.even_rows, 0);
    assert_int_equal(h->records, 200);
    for (unsigned k = 0; k < 200; k++) {
        assert_int_equal(h->row[k].t_ns, (k * 10 + k * k) * MS);
        assert_int_equal(h->row[k].interval_ns, 0);
    }
    free(h);
}

/* Even in truth, written with few digits and cut off there: no row is more than a digit from its stamp, nor from the truth. */
static void check_coarse(unsigned n, const char *format, double (*at)(unsigned k), double (*truth)(unsigned k), int64_t step_ns)
{
    struct heard *h = hear_times(n, format, at);

    assert_int_equal(h->facts.time_step_ns, step_ns);
    assert_true(h->facts.even_rows >= n - METER_EVEN_ROWS);
    for (unsigned k = 0; k < n; k++) {
        int64_t stamp_ns = llround(at(k) * 1e9);

        assert_true(llabs(h->row[k].t_ns - stamp_ns) <= step_ns);
        assert_true(fabs((double)h->row[k].t_ns - truth(k) * 1e9) <= 2 * (double)step_ns);
        assert_true(k == 0 || h->row[k].t_ns >= h->row[k - 1].t_ns);
    }
    free(h);
}

static double third_true(unsigned k)
{
    return 0.0004 + k * 0.0033333;
}

static double third_cut(unsigned k)
{
    return floor(third_true(k) * 1000) / 1000;
}

static double tenth_true(unsigned k)
{
    return 0.3 + k * 0.1;
}

static double tenth_cut(unsigned k)
{
    return floor(tenth_true(k) + 1e-9);
}

static double fast_true(unsigned k)
{
    return k * 0.00012;
}

static double fast_cut(unsigned k)
{
    return floor(fast_true(k) * 1000 + 1e-9) / 1000;
}

static void stamps_of_few_digits_about_an_even_spacing_are_blocks_within_a_digit(void **state)
{
    (void)state;
    check_coarse(9000, "%.3f", third_cut, third_true, MS);
    check_coarse(9000, "%.0f", tenth_cut, tenth_true, SEC);
    check_coarse(60000, "%.3f", fast_cut, fast_true, MS);
}

static double gap_in_the_middle(unsigned k)
{
    return k * 0.001 + (k >= 100 ? 0.5 : 0);
}

static void a_gap_ends_a_block_and_is_left_open(void **state)
{
    struct heard *h = hear_times(200, "%.3f", gap_in_the_middle);

    (void)state;
    assert_int_equal(h->facts.even_rows, 200);
    for (unsigned k = 0; k < 200; k++)
        assert_int_equal(h->row[k].t_ns, k * MS + (k >= 100 ? 500 * MS : 0));
    free(h);
}

static void a_line_that_cannot_be_read_costs_itself_and_is_named(void **state)
{
    struct heard *h = hear("Time (s),Voltage (V),Current (A)\n"
                           "1,5.0,1\n"          /* 2 */
                           "2,5.0 bananas,1\n"  /* 3: column 2 */
                           "3,5.1\n"            /* 4: too short */
                           "4,\"5.2,1\n"        /* 5: a quote left open */
                           "\n"
                           "x,5.3,1\n"          /* 7: column 1 */
                           ",5.3,1\n"           /* 8: no time */
                           "5,1,2,3,4\n"        /* more cells than headings: read */
                           "6,2200,1\n"         /* 10: more than 32 bits of microvolt */
                           "7,5.4,5 V\n"        /* 11: a current in volts */
                           "8,5.5,1\r9,5.6,1\n" /* 12: a line end amid the line */
                           "10,5.7,1", &plain);
    static const struct { unsigned line, column; const char *words; } bad[] = {
        { 3, 2, "2,5.0 bananas,1" }, { 4, 0, "3,5.1" }, { 5, 0, "4,\"5.2,1" }, { 7, 1, "x,5.3,1" }, { 8, 1, ",5.3,1" }, { 10, 2, "6,2200,1" },
        { 11, 3, "7,5.4,5 V" }, { 12, 0, "8,5.5,1\r9,5.6,1" },
    };

    (void)state;
    assert_int_equal(h->rows, 3);
    check_row(h, 0, 1 * SEC, 5000000, 1000000);
    check_row(h, 1, 5 * SEC, 1000000, 2000000);
    check_row(h, 2, 10 * SEC, 5700000, 1000000);
    assert_int_equal(h->facts.unreadable, 8);
    assert_int_equal(h->notices, 8);
    for (unsigned i = 0; i < 8; i++) {
        assert_int_equal(h->notice[i].news, METER_UNREADABLE);
        assert_int_equal(h->notice[i].line, bad[i].line);
        assert_int_equal(h->notice[i].column, bad[i].column);
        assert_string_equal(h->words[i], bad[i].words);
    }
    free(h);
}

static void a_line_of_megabytes_costs_itself(void **state)
{
    enum { LONG = 3000000 };
    char         *text = malloc(LONG + 200);
    size_t        used = (size_t)snprintf(text, 100, "Time (s),Voltage (V)\n1,5\n");
    struct heard *h;

    (void)state;
    memset(text + used, '7', LONG);
    snprintf(text + used + LONG, 100, "\n2,6\n");
    h = hear(text, &plain);
    assert_int_equal(h->rows, 2);
    check_row(h, 1, 2 * SEC, 6000000, NOTHING);
    assert_int_equal(h->facts.unreadable, 1);
    assert_int_equal(h->notice[0].line, 3);
    free(h);
    free(text);
}

/* A file of many blocks, a wrong line in the midst: one line is lost, by its number, all else is there. */
static void a_bad_line_among_many_loses_one_row(void **state)
{
    enum { MANY = 60000, BAD = 34567 };
    char         *text = malloc((size_t)MANY * 40);
    size_t        used = (size_t)snprintf(text, 100, "t (us),V (mV),I (mA)\n");
    struct heard *h;

    (void)state;
    for (unsigned k = 0; k < MANY; k++) {
        if (k == BAD)
            used += (size_t)snprintf(text + used, 60, "\"\x01\xFF,5000,\n");
        else
            used += (size_t)snprintf(text + used, 60, "%u,%u,%u\n", k * 100, 5000 + k % 100, k % 3000);
    }
    h = hear(text, &plain);
    assert_int_equal(h->rows, MANY - 1);
    assert_int_equal(h->facts.unreadable, 1);
    assert_int_equal(notice_of(h, METER_UNREADABLE)->line, BAD + 2);
    for (unsigned k = 0; k < MANY; k++) {
        if (k != BAD)
            check_row(h, k - (k > BAD), (int64_t)k * 100000, (int32_t)(5000 + k % 100) * 1000, (int32_t)(k % 3000) * 1000);
    }
    free(h);
    free(text);
}

static void cells_without_a_reading_are_no_reading(void **state)
{
    struct heard *h = hear("Time (s),Voltage (V),Current (A),T1 (\xC2\xB0" "C)\n1,5,,20\n2,-,1,--\n3,NaN,n/a,21.5\n4,OL,2,\n", &plain);

    (void)state;
    assert_int_equal(h->rows, 3);
    check_row(h, 0, 1 * SEC, 5000000, NOTHING);
    check_row(h, 1, 2 * SEC, NOTHING, 1000000);
    check_row(h, 2, 4 * SEC, NOTHING, 2000000);
    assert_int_equal(h->warms, 2);
    assert_int_equal(h->warm[1].mc, 21500);
    assert_int_equal(h->warm[1].t_ns, 3 * SEC);
    assert_int_equal(h->facts.unreadable, 0);
    free(h);
}

static void a_row_whose_time_stands_out_is_passed_over(void **state)
{
    struct heard *h = hear("Time (s),Voltage (V)\n10,1\n11.5,2\n3,3\n12,4\n912.5,5\n14,6\n15.25,7\n2,8\n", &plain);

    (void)state;
    assert_int_equal(h->rows, 5);
    check_row(h, 2, 12 * SEC, 4000000, NOTHING);
    check_row(h, 3, 14 * SEC, 6000000, NOTHING);
    check_row(h, 4, 15 * SEC + SEC / 4, 7000000, NOTHING);
    assert_int_equal(h->facts.misplaced, 3);
    assert_int_equal(h->notice[0].news, METER_TIME_BACK);
    assert_int_equal(h->notice[0].line, 4);
    assert_int_equal(h->notice[0].step_ns, 8 * SEC + SEC / 2);
    assert_int_equal(h->notice[1].news, METER_TIME_AHEAD);
    assert_int_equal(h->notice[1].line, 6);
    assert_int_equal(h->notice[2].news, METER_TIME_BACK);
    assert_int_equal(h->notice[2].line, 9);
    free(h);
}

static void a_clock_that_was_set_back_goes_on_and_says_so(void **state)
{
    struct heard *h = hear("Time (s),Voltage (V)\n100,1\n101,2\n103,3\n3,4\n4,5\n5.5,6\n", &plain);

    (void)state;
    assert_int_equal(h->rows, 6);
    check_row(h, 2, 103 * SEC, 3000000, NOTHING);
    check_row(h, 3, 105 * SEC, 4000000, NOTHING); /* by the spacing before: 2 s */
    check_row(h, 4, 106 * SEC, 5000000, NOTHING);
    check_row(h, 5, 107 * SEC + SEC / 2, 6000000, NOTHING);
    assert_int_equal(h->notices, 1);
    assert_int_equal(h->notice[0].news, METER_CLOCK_SET);
    assert_int_equal(h->notice[0].line, 5);
    assert_int_equal(h->notice[0].step_ns, 100 * SEC);
    free(h);
}

/* No spacing is known yet: that to the next row serves. */
static void a_clock_that_was_set_after_the_first_row_goes_on(void **state)
{
    struct heard *h = hear("Time (s),Voltage (V)\n50,1\n2,2\n3.5,3\n", &plain);

    (void)state;
    assert_int_equal(h->rows, 3);
    check_row(h, 0, 50 * SEC, 1000000, NOTHING);
    check_row(h, 1, 51 * SEC + SEC / 2, 2000000, NOTHING);
    check_row(h, 2, 53 * SEC, 3000000, NOTHING);
    assert_int_equal(notice_of(h, METER_CLOCK_SET)->line, 3);
    free(h);
}

static void a_real_gap_is_kept(void **state)
{
    struct heard *h = hear("Time (s),Voltage (V)\n1,1\n2,2\n4,3\n900,4\n901,5\n1000000,6\n", &plain);

    (void)state;
    assert_int_equal(h->rows, 6);
    check_row(h, 3, 900 * SEC, 4000000, NOTHING);
    check_row(h, 5, 1000000 * SEC, 6000000, NOTHING);
    assert_int_equal(h->notices, 0);
    free(h);
}

static void times_of_day_go_on_over_midnight_and_counters_over_their_end(void **state)
{
    struct heard *h = hear("Time,Voltage (V)\n23:59:58,1\n23:59:59,2\n00:00:01,3\n00:00:05,4\n", &plain);

    (void)state;
    assert_int_equal(h->facts.clock, METER_CLOCK_DAY);
    check_row(h, 2, 86401 * SEC, 3000000, NOTHING);
    check_row(h, 3, 86405 * SEC, 4000000, NOTHING);
    assert_int_equal(notice_of(h, METER_MIDNIGHT)->line, 4);
    free(h);
    /* 2^32 us = 4294.967296 s */
    h = hear("t (us),Voltage (V)\n4294967000,1\n4294967200,2\n104,3\n1104,4\n", &plain);
    assert_int_equal(h->facts.clock, METER_CLOCK_LOG);
    check_row(h, 2, INT64_C(4294967400000), 3000000, NOTHING);
    check_row(h, 3, INT64_C(4294968400000), 4000000, NOTHING);
    assert_int_equal(notice_of(h, METER_WRAPPED)->line, 4);
    free(h);
}

static void times_since_1970_tell_their_unit_by_their_size(void **state)
{
    static const struct { const char *text; int64_t step_ns; } logs[] = {
        { "Timestamp,Voltage (V)\n1769853600,5\n", SEC },
        { "Timestamp,Voltage (V)\n1769853600.000,5\n", MS },
        { "Timestamp,Voltage (V)\n1769853600000,5\n", MS },
        { "Timestamp (unix),Voltage (V)\n1769853600000000,5\n", 1000 },
        { "epoch,Voltage (V)\n1769853600000000000,5\n", 1 },
        { "Time (ms),Voltage (V)\n1769853600000,5\n", MS },
    };

    (void)state;
    for (size_t i = 0; i < sizeof logs / sizeof logs[0]; i++) {
        struct heard *h = hear(logs[i].text, &plain);

        assert_int_equal(h->rows, 1);
        check_row(h, 0, INT64_C(1769853600) * SEC, 5000000, NOTHING);
        assert_int_equal(h->facts.clock, METER_CLOCK_1970);
        assert_int_equal(h->facts.time_step_ns, logs[i].step_ns);
        assert_int_equal(h->notices, 0);
        free(h);
    }
}

/* 146 years on, where the times of records end. */
static void times_beyond_what_a_record_can_say_are_its_last(void **state)
{
    struct heard *h = hear("Time,Voltage (V)\n2026-01-31T10:00:00Z,4\n2199-12-31T00:00:00Z,5\n2200-01-01T00:00:00Z,6\n", &plain);

    (void)state;
    assert_int_equal(h->rows, 3);
    check_row(h, 1, RECORD_TIME_LIMIT, 5000000, NOTHING);
    check_row(h, 2, RECORD_TIME_LIMIT, 6000000, NOTHING);
    free(h);
}

static void a_time_of_day_without_a_zone_is_taken_as_utc_and_said_once(void **state)
{
    struct heard *h = hear("Time,Voltage (V)\n2026-01-31 10:00:00,5\n2026-01-31 10:00:02,5\n", &plain);

    (void)state;
    check_row(h, 0, INT64_C(1769853600) * SEC, 5000000, NOTHING); /* as in traces/FORMAT.md, section 7 */
    assert_int_equal(notices_of(h, METER_ZONE_TAKEN), 1);
    assert_int_equal(h->notice[0].line, 2);
    assert_false(h->facts.zone_told);
    free(h);
    h = hear("Time,Voltage (V)\n2026-01-31 11:00:00+01:00,5\n", &plain);
    check_row(h, 0, INT64_C(1769853600) * SEC, 5000000, NOTHING);
    assert_int_equal(h->notices, 0);
    assert_true(h->facts.zone_told);
    free(h);
}

/* 8 a second: 125 ms. The line that cannot be read has its time, too. */
static void rows_without_times_are_counted_by_the_rate(void **state)
{
    const struct meter_options o = { .rate_hz = 8 };
    struct heard              *h = hear("Voltage (V),Current (A)\n5,1\n6,1\nx,1\n7,1\n", &o);

    (void)state;
    assert_int_equal(h->rows, 3);
    check_row(h, 1, 125 * MS, 6000000, 1000000);
    check_row(h, 2, 375 * MS, 7000000, 1000000);
    assert_int_equal(h->facts.clock, METER_CLOCK_ROWS);
    assert_int_equal(h->facts.time_step_ns, 0);
    free(h);
}

static void numbered_columns_are_ports(void **state)
{
    const struct meter_options o = { .port = 2, .flags = RECORD_INVENTED };
    struct heard              *h = hear("Time (s),V1 (V),I1 (A),V2 (V),I2 (A)\n1,5,0.5,9,0.9\n2.5,5,0.5,,\n", &o);

    (void)state;
    assert_int_equal(h->rows, 3); /* nothing of the second port in the second row */
    check_row(h, 0, 1 * SEC, 5000000, 500000);
    check_row(h, 1, 1 * SEC, 9000000, 900000);
    assert_int_equal(h->row[0].port, 2);
    assert_int_equal(h->row[1].port, 3);
    assert_int_equal(h->row[2].port, 2);
    assert_int_equal(h->row[0].flags, RECORD_INVENTED);
    free(h);
    /* one of each belongs together, whatever the channels are called */
    h = hear("Time (s),CH1 (V),CH2 (A)\n1,5,0.5\n", &plain);
    check_row(h, 0, 1 * SEC, 5000000, 500000);
    free(h);
}

static void temperatures_are_probes_with_their_headings(void **state)
{
    struct heard *h = hear("Time (s),Case (\xC2\xB0" "C),Voltage (V),Plug temp [\xC2\xB0" "C],Room (\xC2\xB0" "F)\n1,31.25,5,-2.5,70\n", &plain);

    (void)state;
    assert_int_equal(h->warms, 2);
    assert_int_equal(h->warm[0].mc, 31250);
    assert_string_equal(h->warm[0].label, "Case");
    assert_int_equal(h->warm[0].port, RECORD_PORT_BENCH);
    assert_int_equal(h->warm[1].mc, -2500);
    assert_int_equal(h->warm[1].probe, 1);
    assert_string_equal(h->warm[1].label, "Plug temp");
    assert_int_equal(notice_of(h, METER_NOT_USED)->column, 5);
    assert_string_equal(h->words[0], "Room (\xC2\xB0" "F)");
    free(h);
}

/* Temperatures in the midst of a block come out behind its beginning and before the next. */
static void temperatures_keep_their_order_beside_blocks(void **state)
{
    char          text[4000];
    size_t        used = (size_t)snprintf(text, sizeof text, "Time (ms),V (V),T (\xC2\xB0" "C)\n");
    struct heard *h;

    (void)state;
    for (unsigned k = 0; k < 120; k++)
        used += (size_t)snprintf(text + used, sizeof text - used, k % 40 == 25 ? "%u,5,%u\n" : "%u,5,\n", k, 20 + k);
    h = hear(text, &plain); /* which checks the order of start times */
    assert_int_equal(h->rows, 120);
    assert_int_equal(h->blocks, 3);
    assert_int_equal(h->warms, 3);
    assert_int_equal(h->warm[1].t_ns, 65 * MS);
    assert_int_equal(h->warm[1].mc, 85000);
    free(h);
}

static void a_map_says_which_column_is_what(void **state)
{
    const char   *text = "a,b,c,d,e\n1,5,2,9,3\n2.5,5,2,9,3\n";
    struct heard *h = hear_mapped(text, "time=a,vbus=2,ibus=c:mA,port=4,vbus=\"d\",ibus=E:uA", 0);

    (void)state;
    assert_int_equal(h->rows, 4);
    check_row(h, 0, 1 * SEC, 5000000, 2000);
    check_row(h, 1, 1 * SEC, 9000000, 3);
    assert_int_equal(h->row[1].port, 4);
    check_row(h, 3, 2 * SEC + SEC / 2, 9000000, 3);
    free(h);
    /* no heading at all, numbers only */
    h = hear_mapped("0;5,5;100\n10;5,6;200\n", "time=1:ms,vbus=2,ibus=3:mA", 0);
    assert_int_equal(h->rows, 2);
    check_row(h, 1, 10 * MS, 5600000, 200000);
    assert_int_equal(h->facts.heading_line, 0);
    free(h);
    /* the map outranks the heading, which tells the rest */
    h = hear_mapped("Time (s),Voltage (V),Battery (V),Current (A)\n1,5,3.7,2\n", "vbus=Battery", 0);
    check_row(h, 0, 1 * SEC, 3700000, 2000000);
    free(h);
    h = hear_mapped("Time (s),Voltage (V),Current (A)\n1,5,2\n", "ibus=-", 0);
    check_row(h, 0, 1 * SEC, 5000000, NOTHING);
    free(h);
    h = hear_mapped("time,V (V)\n03/04/2026 00:00:00,5\n", "time=1:dd/mm/yyyy", 0);
    check_row(h, 0, INT64_C(1775174400) * SEC, 5000000, NOTHING); /* date -u -d 2026-04-03 +%s */
    free(h);
}

static void the_current_can_be_turned(void **state)
{
    const struct meter_options o = { .turned = true };
    struct heard              *h = hear("Time (s),Voltage (V),Current (A),Power (W)\n1,5,2,10\n2.5,5,-1.5,-7.5\n4,5,,\n", &o);

    (void)state;
    check_row(h, 0, 1 * SEC, 5000000, -2000000);
    check_row(h, 1, 2 * SEC + SEC / 2, 5000000, 1500000);
    check_row(h, 2, 4 * SEC, 5000000, NOTHING);
    assert_int_equal(h->facts.power_rows, 2);
    assert_int_equal(h->facts.power_off, 0); /* watts go with the current as the log has it */
    free(h);
}

static void watts_that_are_not_volts_times_amperes_are_told_once(void **state)
{
    struct heard *h = hear("Time (s),Voltage (V),Current (A),Power (W)\n1,5.0,1.00,5.0\n2,5.0,1.00,5.2\n3,5.0,1.00,-5.0\n4,5.0,1.00,5000\n5,5.0,,5\n", &plain);

    (void)state;
    assert_int_equal(h->rows, 5);
    assert_int_equal(h->facts.power_rows, 4);
    assert_int_equal(h->facts.power_off, 2);
    assert_int_equal(h->notices, 1);
    assert_int_equal(h->notice[0].news, METER_POWER_DIFFERS);
    assert_int_equal(h->notice[0].line, 4);
    assert_int_equal(h->notice[0].count, 2);
    assert_int_equal(h->notice[0].of, 4);
    free(h);
}

/* 5 to 9 V and 0 to 3 A, each along a straight line in a second, are 11.5 J = 3.194 mWh, and 1.5 C = 0.4167 mAh; the products of the ends joined make 13.5 J. */
static void counters_are_held_against_volts_and_amperes(void **state)
{
    struct heard *h = hear("Time (s),Voltage (V),Current (A),Energy (mWh),Charge (mAh)\n0,5,0,10.000,1.0000\n1,9,3,13.194,1.4167\n", &plain);

    (void)state;
    assert_int_equal(h->rows, 2);
    assert_int_equal(h->notices, 0);
    free(h);
    h = hear("Time (s),Voltage (V),Current (A),Energy (mWh),Charge (%)\n0,5,0,10.000,80\n1,9,3,13.750,81\n", &plain);
    assert_int_equal(notice_of(h, METER_NOT_USED)->column, 5);
    assert_int_equal(notice_of(h, METER_COUNTER_DIFFERS)->column, 4);
    assert_int_equal(notice_of(h, METER_COUNTER_DIFFERS)->told_u, 3750);
    assert_int_equal(notice_of(h, METER_COUNTER_DIFFERS)->reckoned_u, 3194);
    assert_string_equal(meter_unit_word(notice_of(h, METER_COUNTER_DIFFERS)->unit), "Wh");
    free(h);
    /* what is missing between two rows is counted on neither side, and the counter may begin anew */
    h = hear("Time (h);Voltage (V);Current (A);Wh\n0;5;1;0\n1;5;1;5\n2;5;1;10\n90;5;1;800\n91;5;1;805\n92;5;;811\n93;5;1;3\n94;5;1;8\n", &plain);
    assert_int_equal(h->rows, 8);
    assert_int_equal(h->notices, 0);
    free(h);
    /* a column of milliamperes taken for amperes */
    h = hear_mapped("Time (h);Voltage (V);Current;Wh\n0;5;10;0\n1;5;10;0.05\n", "ibus=3:A", 0);
    assert_int_equal(notice_of(h, METER_COUNTER_DIFFERS)->reckoned_u, 50000000);
    free(h);
}

static void units_that_nobody_told_are_taken_and_said_or_refused(void **state)
{
    struct heard *h = hear("Time,Voltage,Current\n1,5.0,1.0\n2.5,5.1,1.0\n", &plain);

    (void)state;
    check_row(h, 1, 2 * SEC + SEC / 2, 5100000, 1000000);
    assert_int_equal(notices_of(h, METER_UNIT_TAKEN), 3);
    assert_string_equal(h->words[0], "Voltage");
    free(h);
    h = hear("Time (s),Voltage,Current (A)\n1,5012,1.0\n", &plain); /* no port has 5012 V */
    assert_false(h->opened);
    assert_int_equal(h->fault.number, TABLE_UNIT);
    assert_string_equal(h->fault.detail, "Voltage");
    free(h);
}

static void a_file_that_cannot_be_used_says_why(void **state)
{
    static const struct { const char *text; enum fault_code code; enum table_trouble trouble; const char *detail; } files[] = {
        { "", FAULT_EMPTY, 0, "" },
        { "\xFF\xFET\0i\0", FAULT_TABLE, TABLE_UTF16, "" },
        { "hello\nworld\n", FAULT_TABLE, TABLE_NO_HEADING, "" },
        { "Time (s),Voltage (V)\n", FAULT_TABLE, TABLE_NO_HEADING, "" },
        { "Time (s),Power (W)\n1,5\n", FAULT_TABLE, TABLE_NO_HEADING, "" },
        { "Voltage (V),Current (A)\n5,1\n", FAULT_TABLE, TABLE_NO_TIME, "" },
        { "Zeit;Spannung V\n1;5\n", FAULT_TABLE, TABLE_NO_TIME, "" },
        { "Time,Voltage (V)\n03/04/2026 10:00:00,5\n", FAULT_TABLE, TABLE_UNIT, "Time" }, /* March or April */
        { "Date,Time,Voltage (V)\n03/04/2026,10:00:00,5\n", FAULT_TABLE, TABLE_UNIT, "Date" },
        { "Time,Voltage (V)\n10:30,5\n", FAULT_TABLE, TABLE_UNIT, "Time" },              /* hours or minutes */
        { "Timestamp (unix),Voltage (V)\n12,5\n", FAULT_TABLE, TABLE_UNIT, "Timestamp (unix)" },
        { "Time (s),Bus voltage (V),Load voltage (V)\n1,5,5\n", FAULT_TABLE, TABLE_TWICE, "vbus" },
        { "Time (s),V1 (V),V2 (V),Current (A)\n1,5,5,1\n", FAULT_TABLE, TABLE_TWICE, "ibus" },
        { "\n\n\n", FAULT_TABLE, TABLE_NO_HEADING, "" },
    };

    (void)state;
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        struct heard *h = hear(files[i].text, &plain);

        if (h->opened || h->fault.code != files[i].code || h->fault.number != (int64_t)files[i].trouble || strcmp(h->fault.detail, files[i].detail) != 0)
            fail_msg("file %zu: opened %d, fault %d, trouble %d, \"%s\"", i, h->opened, h->fault.code, (int)h->fault.number, h->fault.detail);
        free(h);
    }
    struct heard *h = hear_mapped("Time (s),Voltage (V)\n1,5\n", "vbus=Volume", 0);

    assert_int_equal(h->fault.number, TABLE_NO_COLUMN);
    assert_string_equal(h->fault.detail, "Volume");
    free(h);
    h = hear_mapped("Time (s),Voltage (V),Voltage (mV)\n1,5,5\n", "vbus=Voltage", 0);
    assert_int_equal(h->fault.number, TABLE_TWICE);
    assert_string_equal(h->fault.detail, "Voltage");
    free(h);
    h = hear_mapped("Time (s),Voltage (V)\n1,5\n", "vbus=2,ibus=2", 0);
    assert_int_equal(h->fault.number, TABLE_TWICE);
    free(h);
}

static void what_the_last_digits_are_worth_is_known(void **state)
{
    struct heard *h = hear("Time (s),Voltage (V),Current (mA)\n1.5,5.01,100\n2.125,5.0123,101\n3,5,102\n", &plain);

    (void)state;
    assert_int_equal(h->facts.time_step_ns, MS);
    assert_int_equal(h->facts.step_uv, 100);
    assert_int_equal(h->facts.step_ua, 1000);
    assert_true(fabs(meter_log_time_u_ns(&h->facts) - 577350.27) < 0.01); /* 1e6 / sqrt 3 */
    assert_true(fabs(meter_log_volt_u_uv(&h->facts) - 28.8675) < 0.0001); /* 100 / sqrt 12 */
    assert_true(fabs(meter_log_amp_u_ua(&h->facts) - 288.6751) < 0.0001);
    free(h);
}

static void a_log_is_known_by_its_heading(void **state)
{
    static const char log[] = "t_ms,VBUS_mv,IBUS_ma\n0,5000,10\n1,50", line[] = "Time (s),CC1 (V)\n0,0.4\n1e-7,0.4\n", text[] = "1769853600.0 0 V 5 I 1\n";

    (void)state;
    assert_true(meter_log_fits((const uint8_t *)log, sizeof log - 1));
    assert_false(meter_log_fits((const uint8_t *)line, sizeof line - 1));
    assert_false(meter_log_fits((const uint8_t *)text, sizeof text - 1));
    assert_false(meter_log_fits((const uint8_t *)"", 0));
}

/* gzip, made by zlib itself. */
static void a_packed_log_is_unpacked(void **state)
{
    const char   *text = "Time (s),Voltage (V),Current (A)\n0,5.0123,1.5\n0.1,9,0\n0.25,8.95,-0.25\n\n";
    uint8_t       packed[512];
    z_stream      z = { .next_in = (Bytef *)(uintptr_t)text, .avail_in = (uInt)strlen(text), .next_out = packed, .avail_out = sizeof packed };
    struct heard *h;

    (void)state;
    assert_int_equal(deflateInit2(&z, 9, Z_DEFLATED, 15 + 16, 8, Z_DEFAULT_STRATEGY), Z_OK);
    assert_int_equal(deflate(&z, Z_FINISH), Z_STREAM_END);
    deflateEnd(&z);
    h = hear_bytes(packed, z.total_out, &plain);
    assert_int_equal(h->rows, 3);
    check_row(h, 2, 250 * MS, 8950000, -250000);
    assert_int_equal(h->fault.code, FAULT_NONE);
    free(h);
    /* broken off: what could be unpacked is there, and why it ended is told */
    h = hear_bytes(packed, z.total_out - 8, &plain);
    assert_int_equal(h->rows, 3);
    assert_int_equal(h->fault.code, FAULT_COMPRESSION);
    free(h);
}

static void separator_and_decimal_mark_can_be_told(void **state)
{
    const struct meter_options bars = { .separator = '|' }, comma = { .decimal = ',' };
    struct heard              *h = hear("Time (s)|V, bus (V);A|I (A)\n1|5.5|2\n", &bars);

    (void)state;
    assert_int_equal(h->facts.separator, '|');
    check_row(h, 0, 1 * SEC, 5500000, 2000000);
    free(h);
    h = hear("Time (s);V (V)\n1;5,5\n2;5.5\n4;6\n", &comma); /* a point is no mark then */
    assert_int_equal(h->rows, 2);
    check_row(h, 0, 1 * SEC, 5500000, NOTHING);
    check_row(h, 1, 4 * SEC, 6000000, NOTHING);
    assert_int_equal(h->facts.unreadable, 1);
    free(h);
}

static void a_file_that_is_not_there_is_a_fault(void **state)
{
    struct fault f = { .code = FAULT_NONE };

    (void)state;
    assert_null(meter_log_open("no/such/file.csv", &plain, &f));
    assert_int_equal(f.code, FAULT_OPEN);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_rows_come_out_of_every_way_to_write_them),
        cmocka_unit_test(readings_of_every_style_come_back_to_the_microvolt),
        cmocka_unit_test(even_rows_are_blocks_of_fifty_milliseconds_with_the_exact_spacing),
        cmocka_unit_test(slow_even_rows_are_a_record_each_that_tells_the_spacing),
        cmocka_unit_test(slow_rows_that_their_stamps_tell_apart_stay_where_they_are),
        cmocka_unit_test(rows_slower_than_an_interval_can_say_have_none),
        cmocka_unit_test(uneven_rows_are_a_record_each_at_their_stamp),
        cmocka_unit_test(stamps_of_few_digits_about_an_even_spacing_are_blocks_within_a_digit),
        cmocka_unit_test(a_gap_ends_a_block_and_is_left_open),
        cmocka_unit_test(a_line_that_cannot_be_read_costs_itself_and_is_named),
        cmocka_unit_test(a_line_of_megabytes_costs_itself),
        cmocka_unit_test(a_bad_line_among_many_loses_one_row),
        cmocka_unit_test(cells_without_a_reading_are_no_reading),
        cmocka_unit_test(a_row_whose_time_stands_out_is_passed_over),
        cmocka_unit_test(a_clock_that_was_set_back_goes_on_and_says_so),
        cmocka_unit_test(a_clock_that_was_set_after_the_first_row_goes_on),
        cmocka_unit_test(a_real_gap_is_kept),
        cmocka_unit_test(times_of_day_go_on_over_midnight_and_counters_over_their_end),
        cmocka_unit_test(times_since_1970_tell_their_unit_by_their_size),
        cmocka_unit_test(times_beyond_what_a_record_can_say_are_its_last),
        cmocka_unit_test(a_time_of_day_without_a_zone_is_taken_as_utc_and_said_once),
        cmocka_unit_test(rows_without_times_are_counted_by_the_rate),
        cmocka_unit_test(numbered_columns_are_ports),
        cmocka_unit_test(temperatures_are_probes_with_their_headings),
        cmocka_unit_test(temperatures_keep_their_order_beside_blocks),
        cmocka_unit_test(a_map_says_which_column_is_what),
        cmocka_unit_test(the_current_can_be_turned),
        cmocka_unit_test(watts_that_are_not_volts_times_amperes_are_told_once),
        cmocka_unit_test(counters_are_held_against_volts_and_amperes),
        cmocka_unit_test(units_that_nobody_told_are_taken_and_said_or_refused),
        cmocka_unit_test(a_file_that_cannot_be_used_says_why),
        cmocka_unit_test(what_the_last_digits_are_worth_is_known),
        cmocka_unit_test(a_log_is_known_by_its_heading),
        cmocka_unit_test(a_packed_log_is_unpacked),
        cmocka_unit_test(separator_and_decimal_mark_can_be_told),
        cmocka_unit_test(a_file_that_is_not_there_is_a_fault),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}

#include "capture/cc_volts_inside.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { HEAD_ROWS = 200, HEADING_ROWS = 3, HEADING_BYTES = 64, LAST_ROWS = 16 };

struct head_row { uint64_t line, numeric, filled; };
struct head {
    struct csv_table        *table;
    struct volts_cells       cells;
    const struct cc_options *o;
    struct volts_layout     *l;
    struct head_row          rows[HEAD_ROWS];
    unsigned                 count, data; /* data: the first row of readings */
    uint64_t                 columns;     /* of numbers in them, a bit each */
    char                     heading[VOLTS_COLUMNS_MAX][HEADING_BYTES];
    char                     unit[VOLTS_COLUMNS_MAX][HEADING_BYTES];
    bool                     has_heading;
    double                   interval_ps; /* told in words before the readings; 0: not */
};

static struct cursor words_of(const char *text)
{
    return cursor_over((const uint8_t *)text, strlen(text));
}

static bool cell_numeric(struct cursor cell)
{
    struct csv_number n;
    char              mark = 0;

    return volts_cell_number(cell, &mark, &n, NULL);
}

static struct head_row head_row_of(const struct csv_row *row)
{
    struct head_row r = { .line = row->line };

    for (size_t k = 0; k < row->count && k < VOLTS_COLUMNS_MAX; k++) {
        r.filled |= (uint64_t)(row->cells[k].left > 0) << k;
        r.numeric |= (uint64_t)cell_numeric(row->cells[k]) << k;
    }
    return r;
}

static unsigned bits_set(uint64_t word)
{
    unsigned count = 0;

    for (; word; word &= word - 1)
        count++;
    return count;
}

/* The rows with this separator; returns how many numbers stand beside one another. */
static unsigned rows_look(struct head *h, char separator)
{
    struct csv_row row;
    struct fault   f;
    unsigned       numbers = 0;

    h->l->separator = separator;
    csv_table_rewind(h->table);
    csv_table_separator(h->table, separator);
    h->count = 0;
    while (h->count < HEAD_ROWS && csv_table_in_head(h->table) && volts_row_next(h->table, h->l->separator, &h->cells, &row, &f)) {
        if (row.state != CSV_SOUND && row.state != CSV_QUOTE_OPEN)
            continue;
        struct head_row r = head_row_of(&row);

        numbers += row.count > 1 ? bits_set(r.numeric) : 0;
        h->rows[h->count++] = r;
    }
    return numbers;
}

static void separator_find(struct head *h)
{
    static const char candidates[] = { ';', '\t', '|', ',', ' ' };
    unsigned          most = 0;
    char              best = ',';

    for (size_t k = 0; k < sizeof candidates; k++) {
        unsigned numbers = rows_look(h, candidates[k]);

        if (numbers > most) {
            most = numbers;
            best = candidates[k];
        }
    }
    rows_look(h, best);
}

/* Of the last rows the pattern of numbers that most of them have; then the first of two rows on end that have it. */
static bool data_find(struct head *h)
{
    unsigned from = h->count > LAST_ROWS ? h->count - LAST_ROWS : h->count / 2, best = 0;

    for (unsigned k = from; k < h->count; k++) {
        unsigned same = 0;

        for (unsigned j = from; j < h->count; j++)
            same += h->rows[j].numeric == h->rows[k].numeric;
        if (h->rows[k].numeric && same > best) {
            best = same;
            h->columns = h->rows[k].numeric;
        }
    }
    for (h->data = 0; best > 0 && h->data < h->count; h->data++) {
        const struct head_row *r = &h->rows[h->data];

        if ((r[0].numeric & h->columns) == h->columns && (h->data + 1 == h->count || (r[1].numeric & h->columns) == h->columns))
            break;
    }
    if (best == 0 || h->data == h->count)
        return false;
    h->l->data_line = h->rows[h->data].line;
    return true;
}

static void words_keep(char *out, struct cursor words)
{
    size_t n = words.left < HEADING_BYTES - 1 ? words.left : HEADING_BYTES - 1;

    if (n > 0)
        memcpy(out, cursor_take(&words, n), n);
    out[n] = 0;
}

/* A row before the readings that heads their columns, or gives their units alone. */
static void heading_take(struct head *h, const struct csv_row *row)
{
    bool     seconds, units = true, numbers = false;
    int      power;
    unsigned named = 0;

    for (size_t k = 0; k < row->count && k < VOLTS_COLUMNS_MAX; k++) {
        struct cursor name, unit;

        numbers = numbers || cell_numeric(row->cells[k]);
        if ((h->columns >> k & 1) == 0 || row->cells[k].left == 0 || cell_numeric(row->cells[k]))
            continue;
        volts_heading_part(row->cells[k], &name, &unit);
        named++;
        units = units && (volts_unit_read(name, &seconds, &power) || volts_words_same(name, "sequence"));
    }
    if (named == 0 || (numbers && !units)) /* something that was set, and to what */
        return;
    for (size_t k = 0; k < row->count && k < VOLTS_COLUMNS_MAX; k++) {
        struct cursor name, unit;

        if ((h->columns >> k & 1) == 0 || row->cells[k].left == 0)
            continue;
        volts_heading_part(row->cells[k], &name, &unit);
        if (units) {
            words_keep(h->unit[k], name);
            continue;
        }
        words_keep(h->heading[k], name);
        words_keep(h->unit[k], unit);
        h->has_heading = true;
    }
}

/* What follows a word for the distance of the rows: the number itself, a unit behind it or in the words. */
static void interval_read(struct head *h, struct cursor key, struct cursor value)
{
    struct cursor     name, unit, rest;
    struct csv_number n;
    char              mark = 0;
    int64_t           scaled;
    bool              seconds, rate = volts_words_hold(key, "rate") || volts_words_hold(key, "frequency");
    int               power = 0;

    if (!volts_cell_number(value, &mark, &n, &rest) || n.negative || n.digits == 0)
        return;
    volts_heading_part(key, &name, &unit);
    if (!rate && (!volts_unit_read(rest.left > 0 ? rest : unit, &seconds, &power) || !seconds))
        power = 0;
    double number = (double)n.digits * pow(10, n.exponent);

    scaled = 0;
    if (!rate && number * pow(10, power + 12) >= 1 && number * pow(10, power + 12) < 1e15)
        h->interval_ps = number * pow(10, power + 12);
    else if (rate && csv_number_scaled(&n, 3, 1, &scaled) && scaled > 0)
        h->interval_ps = 1e15 / (double)scaled;
}

static bool tells_interval(struct cursor key)
{
    static const char *const words[] = { "increment", "sample interval", "sampling interval", "sample period", "sampling period", "sample rate", "sampling rate",
                                         "samplerate", "sample frequency", "sampling frequency", "interval", "time step", "delta t", "dt" };

    for (size_t k = 0; k < sizeof words / sizeof words[0]; k++) {
        if (k + 1 < sizeof words / sizeof words[0] ? volts_words_hold(key, words[k]) : volts_words_begin(key, words[k]))
            return !cell_numeric(key);
    }
    return false;
}

/* The number stands in the next cell, or below. above: which cells of the row before told of it, and how. */
struct interval_keys { char key[VOLTS_COLUMNS_MAX][HEADING_BYTES]; };

static void intervals_look(struct head *h, const struct csv_row *row, struct interval_keys *above)
{
    for (size_t k = 0; k < row->count && k < VOLTS_COLUMNS_MAX; k++) {
        if (above->key[k][0])
            interval_read(h, words_of(above->key[k]), row->cells[k]);
        above->key[k][0] = 0;
        if (!tells_interval(row->cells[k]))
            continue;
        words_keep(above->key[k], row->cells[k]);
        if (k + 1 < row->count)
            interval_read(h, row->cells[k], row->cells[k + 1]);
    }
}

/* Units that stand beside the numbers. */
static void units_beside(struct head *h, const struct csv_row *row)
{
    struct csv_number n;
    struct cursor     rest;

    for (size_t k = 0; k < row->count && k < VOLTS_COLUMNS_MAX; k++) {
        if ((h->columns >> k & 1) && h->unit[k][0] == 0 && volts_cell_number(row->cells[k], &h->l->mark, &n, &rest))
            words_keep(h->unit[k], rest);
    }
}

static void headings_read(struct head *h)
{
    static const struct interval_keys none;
    struct interval_keys above = none;
    struct csv_row       row;
    struct fault         f;
    unsigned             k = 0;

    csv_table_rewind(h->table);
    while (csv_table_in_head(h->table) && volts_row_next(h->table, h->l->separator, &h->cells, &row, &f) && k <= h->data) {
        if (row.state != CSV_SOUND && row.state != CSV_QUOTE_OPEN)
            continue;
        intervals_look(h, &row, &above);
        if (k < h->data && k + HEADING_ROWS >= h->data)
            heading_take(h, &row);
        if (k == h->data)
            units_beside(h, &row);
        k++;
    }
}

static bool column_there(const struct head *h, unsigned k)
{
    return h->columns >> k & 1;
}

static bool heads_time(const struct head *h, unsigned k)
{
    static const char *const words[] = { "time", "zeit", "temps", "tiempo", "tempo", "elapsed", "second" };
    bool                     seconds;
    int                      power;

    if (h->unit[k][0] && volts_unit_read(words_of(h->unit[k]), &seconds, &power))
        return seconds;
    for (size_t j = 0; j < sizeof words / sizeof words[0]; j++) {
        if (volts_words_begin(words_of(h->heading[k]), words[j]))
            return true;
    }
    return volts_words_same(words_of(h->heading[k]), "t") || volts_words_same(words_of(h->heading[k]), "x");
}

static bool heads_number(const struct head *h, unsigned k)
{
    static const char *const words[] = { "sample", "index", "sequence", "point", "row", "no.", "number" };

    for (size_t j = 0; j < sizeof words / sizeof words[0]; j++) {
        if (volts_words_begin(words_of(h->heading[k]), words[j]))
            return true;
    }
    return volts_words_same(words_of(h->heading[k]), "n") || volts_words_same(words_of(h->heading[k]), "#") ||
           volts_words_same(words_of(h->unit[k]), "sequence");
}

/* Which column holds times. VOLTS_COLUMNS_MAX: none. *numbers: the one that only counts rows, likewise. */
static unsigned time_find(const struct head *h, unsigned *numbers)
{
    unsigned first = VOLTS_COLUMNS_MAX, time = VOLTS_COLUMNS_MAX;

    *numbers = VOLTS_COLUMNS_MAX;
    for (unsigned k = VOLTS_COLUMNS_MAX; k-- > 0;) {
        if (!column_there(h, k))
            continue;
        first = k;
        if (heads_number(h, k))
            *numbers = k;
        else if (heads_time(h, k))
            time = k;
    }
    if (time != VOLTS_COLUMNS_MAX || h->has_heading || bits_set(h->columns) < 2)
        return time;
    return first;
}

static void columns_list(const struct head *h, uint64_t columns, char *out, size_t cap)
{
    size_t used = 0;

    out[0] = 0;
    for (unsigned k = 0; k < VOLTS_COLUMNS_MAX; k++) {
        char words[HEADING_BYTES + 4];

        if ((columns >> k & 1) == 0)
            continue;
        if (h->heading[k][0])
            snprintf(words, sizeof words, "%s%s", used ? ", " : "", h->heading[k]);
        else
            snprintf(words, sizeof words, "%s%u", used ? ", " : "", k + 1);
        if (used + strlen(words) >= cap)
            return;
        memcpy(out + used, words, strlen(words) + 1);
        used += strlen(words);
    }
}

/* The column that is called so, or has that number. */
static bool column_named(const struct head *h, const char *name, uint64_t columns, unsigned *index)
{
    struct cursor wanted, unit;
    char          plain[HEADING_BYTES], *end;
    unsigned long number = strtoul(name, &end, 10);

    volts_heading_part(words_of(name), &wanted, &unit);
    words_keep(plain, wanted);
    for (unsigned k = 0; k < VOLTS_COLUMNS_MAX; k++) {
        if ((columns >> k & 1) && h->heading[k][0] && volts_words_same(words_of(h->heading[k]), plain)) {
            *index = k;
            return true;
        }
    }
    if (*name == 0 || *end != 0 || number < 1 || number > VOLTS_COLUMNS_MAX || (columns >> (number - 1) & 1) == 0)
        return false;
    *index = (unsigned)number - 1;
    return true;
}

static bool columns_choose(const struct head *h, uint64_t columns, struct fault *f)
{
    char list[sizeof f->detail];

    columns_list(h, columns, list, sizeof list);
    for (unsigned line = 0; line < h->o->lines; line++) {
        const char *name = h->o->names[line];
        unsigned    index = 0;

        if (!name && bits_set(columns) != 1)
            return fault_set(f, columns ? FAULT_AMBIGUOUS : FAULT_FORMAT, 0, columns ? line : 0, columns ? list : "a column of times and no other");
        if (name && !column_named(h, name, columns, &index))
            return fault_set(f, FAULT_NOT_THERE, 0, line, list);
        while (!name && (columns >> index & 1) == 0)
            index++;
        h->l->column[line] = (struct volts_column){ .index = index };
    }
    return true;
}

/* The units of the columns; a reading without one is volts, unless many of them would be more than a CC line can have. */
static void units_settle(struct head *h, const unsigned great[CC_LINES_MAX], unsigned rows)
{
    bool seconds;
    int  power;

    for (unsigned line = 0; line < h->o->lines; line++) {
        struct volts_column *c = &h->l->column[line];

        if (volts_unit_read(words_of(h->unit[c->index]), &seconds, &power) && !seconds)
            c->power = power;
        else
            c->power = great[line] * 8 > rows ? -3 : 0;
    }
}

struct head_times { int64_t at[HEAD_ROWS]; unsigned count; };

static int double_order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

/* The usual distance of the rows, in units that times are kept in; 0: not to be told, as when a quarter of them or more do not differ. */
static double distance_of(const struct head_times *t)
{
    double   apart[HEAD_ROWS];
    unsigned count = 0, still = 0;

    for (unsigned k = 1; k < t->count; k++) {
        still += t->at[k] == t->at[k - 1];
        if (t->at[k] > t->at[k - 1])
            apart[count++] = (double)((uint64_t)t->at[k] - (uint64_t)t->at[k - 1]);
    }
    if (count == 0 || still * 4 > count)
        return 0;
    qsort(apart, count, sizeof apart[0], double_order);
    double middle = apart[count / 2], sum = 0;
    unsigned near = 0;

    for (unsigned k = 0; k < count; k++) {
        if (apart[k] < middle * 1.5) {
            sum += apart[k];
            near++;
        }
    }
    return sum / near;
}

/* Once more over the first readings: their times, and how great they are. */
static void readings_look(struct head *h, struct head_times *times, unsigned great[CC_LINES_MAX], unsigned *rows)
{
    const int64_t  most_uv = 25000000;
    struct csv_row row;
    struct fault   f;

    csv_table_rewind(h->table);
    while (*rows < HEAD_ROWS && csv_table_in_head(h->table) && volts_row_next(h->table, h->l->separator, &h->cells, &row, &f)) {
        struct csv_number n;
        int64_t           value;

        if (row.line < h->l->data_line || row.state != CSV_SOUND)
            continue;
        ++*rows;
        for (unsigned line = 0; line < h->o->lines; line++) {
            unsigned index = h->l->column[line].index;

            if (index < row.count && volts_cell_number(row.cells[index], &h->l->mark, &n, NULL))
                great[line] += !csv_number_scaled(&n, 6, 1, &value) || value > most_uv || value < -most_uv;
        }
        if (h->l->timed && h->l->time_index < row.count && volts_cell_number(row.cells[h->l->time_index], &h->l->mark, &n, NULL) &&
            csv_number_scaled(&n, h->l->time_power - h->l->keep_power, 1, &value) && times->count < HEAD_ROWS)
            times->at[times->count++] = value;
    }
}

/* Times that are seconds since 1970 do not fit 64 bits of picoseconds. */
static void readings_look_kept(struct head *h, struct head_times *times, unsigned great[CC_LINES_MAX], unsigned *rows)
{
    const int64_t most = INT64_C(1) << 62;

    h->l->keep_power = -12;
    readings_look(h, times, great, rows);
    if (!h->l->timed || (times->count * 2 >= *rows && (times->count == 0 || (times->at[0] < most && times->at[0] > -most))))
        return;
    h->l->keep_power = -9;
    times->count = *rows = 0;
    memset(great, 0, CC_LINES_MAX * sizeof *great);
    readings_look(h, times, great, rows);
}

static bool time_settle(struct head *h, unsigned time, struct fault *f)
{
    struct head_times times = { .count = 0 };
    unsigned          great[CC_LINES_MAX] = { 0 }, rows = 0;
    bool              seconds, told = h->o->rate_hz > 0;
    int               power;

    h->l->timed = !told && time != VOLTS_COLUMNS_MAX;
    h->l->time_index = time;
    if (time != VOLTS_COLUMNS_MAX && volts_unit_read(words_of(h->unit[time]), &seconds, &power) && seconds)
        h->l->time_power = power;
    readings_look_kept(h, &times, great, &rows);
    units_settle(h, great, rows);
    if (told)
        h->l->sample_ps = 1e12 / h->o->rate_hz;
    else if (h->l->timed)
        h->l->sample_ps = distance_of(&times) * (h->l->keep_power == -9 ? 1000 : 1);
    else
        h->l->sample_ps = h->interval_ps;
    if (h->l->timed && h->l->sample_ps == 0 && h->interval_ps > 0) { /* the times are too coarse, but the distance is told */
        h->l->timed = false;
        h->l->sample_ps = h->interval_ps;
    }
    return (h->l->sample_ps > 0 && h->l->sample_ps <= 1e15) || fault_set(f, FAULT_RATE, 0, 0, NULL);
}

static bool layout_settle(struct head *h, struct fault *f)
{
    unsigned numbers, time;
    uint64_t columns;

    separator_find(h);
    if (!data_find(h))
        return fault_set(f, FAULT_FORMAT, 0, 0, "no rows of numbers near its beginning");
    headings_read(h);
    time = time_find(h, &numbers);
    columns = h->columns;
    if (time != VOLTS_COLUMNS_MAX)
        columns &= ~(UINT64_C(1) << time);
    if (numbers != VOLTS_COLUMNS_MAX)
        columns &= ~(UINT64_C(1) << numbers);
    return columns_choose(h, columns, f) && time_settle(h, time, f);
}

bool volts_layout_find(struct csv_table *t, const struct cc_options *o, struct volts_layout *l, struct fault *f)
{
    struct head *h = calloc(1, sizeof *h);
    bool         found;

    if (!h)
        return fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
    *l = (struct volts_layout){ .separator = ',' };
    h->table = t;
    h->o = o;
    h->l = l;
    found = layout_settle(h, f);
    free(h);
    csv_table_rewind(t);
    return found;
}

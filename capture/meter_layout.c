#include "capture/meter_log_inside.h"

#include <stdlib.h>
#include <string.h>

enum { HEAD_ROWS_MAX = 2000, HEAD_SCAN_ROWS = 4000 };

/* The last two lines of text: a heading, and perhaps units below it. */
struct search {
    const struct meter_options *o;
    struct meter_names          heading, units, joined; /* joined: heading and units in one */
    struct meter_layout         best;
    struct fault                trouble; /* of the line that came nearest */
    struct meter_names          best_heading;
};

static bool names_new(struct meter_names *n)
{
    *n = (struct meter_names){ .text = malloc(METER_NAMES_BYTES) };
    return n->text != NULL;
}

static void names_put(struct meter_names *n, const uint8_t *bytes, size_t length)
{
    if (length > METER_NAMES_BYTES - n->used)
        length = METER_NAMES_BYTES - n->used;
    if (length > 0)
        memcpy(n->text + n->used, bytes, length);
    n->used += length;
}

/* A cell of what has been put since `from`. */
static void names_close(struct meter_names *n, size_t from)
{
    n->cell[n->count++] = cursor_over(n->text + from, n->used - from);
}

static void names_of_row(struct meter_names *n, const struct csv_row *row)
{
    n->count = n->used = 0;
    n->line = row->line;
    for (size_t i = 0; i < row->count; i++) {
        size_t from = n->used;

        names_put(n, row->cells[i].at, row->cells[i].left);
        names_close(n, from);
    }
}

static void names_copy(struct meter_names *n, const struct meter_names *of)
{
    struct csv_row row = { .line = of->line, .cells = of->cell, .count = of->count };

    names_of_row(n, &row);
}

/* A line with nothing but units (and empty cells), one at least. */
static bool names_are_units(const struct meter_names *n)
{
    unsigned units = 0;

    for (size_t i = 0; i < n->count; i++) {
        struct cursor c = n->cell[i];

        if (c.left > 2 && strchr("([{", c.at[0])) {
            cursor_take(&c, 1);
            c.left--;
        }
        if (c.left > 0 && !meter_unit_find((const char *)c.at, c.left))
            return false;
        units += c.left > 0;
    }
    return units > 0;
}

/* "Voltage" over "V", or over "[V]", is "Voltage (V)". */
static void names_join(struct meter_names *n, const struct meter_names *above, const struct meter_names *below)
{
    n->count = n->used = 0;
    n->line = above->line;
    for (size_t i = 0; i < above->count; i++) {
        size_t from = n->used;
        bool   bare = i < below->count && below->cell[i].left > 0 && !strchr("([{", below->cell[i].at[0]);

        names_put(n, above->cell[i].at, above->cell[i].left);
        if (i < below->count && below->cell[i].left > 0) {
            names_put(n, (const uint8_t *)" (", bare ? 2 : 1);
            names_put(n, below->cell[i].at, below->cell[i].left);
            names_put(n, (const uint8_t *)")", bare);
        }
        names_close(n, from);
    }
}

/* A number, with nothing behind it or a unit of time: *behind, else NULL. */
static bool cell_is_number(struct cursor cell, char mark, struct csv_number *n, const struct meter_unit **behind)
{
    if (!csv_number_read(&cell, &mark, n))
        return false;
    while (cell.left > 0 && cell.at[0] == ' ')
        cursor_take(&cell, 1);
    *behind = cell.left > 0 ? meter_unit_find((const char *)cell.at, cell.left) : NULL;
    return cell.left == 0 || (*behind && (*behind)->dimension == METER_SECONDS && (*behind)->form == METER_NUMBER);
}

/* A time whose heading tells no unit, or one that the cells do not keep to, is known by the first that stands below. */
static bool time_settle(struct meter_layout *l, const struct csv_row *row)
{
    struct meter_column     *time = &l->column[l->time];
    const struct meter_unit *behind = NULL, *by_size;
    struct csv_number        n;
    int64_t                  size;
    bool                     number = cell_is_number(row->cells[time->number - 1], l->decimal, &n, &behind);

    if (l->date >= 0 && !l->column[l->date].unit)
        l->column[l->date].unit = meter_unit_calendar();
    if (time->unit && time->unit->form != METER_UNIX && (time->unit->form != METER_NUMBER || number))
        return true;
    time->unit_told = true; /* the cells tell it */
    if (!number || behind) {
        time->unit = behind ? behind : meter_unit_calendar();
        return true;
    }
    if (!csv_number_scaled(&n, 0, 1, &size))
        return false;
    by_size = meter_unit_since_1970(size);
    time->unit_told = by_size != NULL;
    if (!by_size && time->unit)
        return false; /* said to be since 1970, and is not */
    time->unit = by_size ? by_size : meter_unit_plain(METER_SECONDS);
    return true;
}

/* Every value can be read, and one is there at the least. */
static bool row_has_readings(struct meter_layout *l, const struct csv_row *row)
{
    struct meter_values v;
    unsigned            bad, readings = 0;

    if (!meter_values_read(l, row, &v, &bad))
        return false;
    for (unsigned i = 0; i < l->columns; i++)
        readings += v.value[i] != METER_NO_VALUE;
    return readings > 0;
}

/* Is this the first row of data under these columns? *f: readings it has, but its time could be two, or is none. */
static bool row_is_data(struct meter_layout *l, const struct csv_row *row, struct fault *f)
{
    struct meter_moment m;
    unsigned            bad = 0; /* number of a column */

    if (!row_has_readings(l, row))
        return false;
    if (l->time < 0 || (time_settle(l, row) && meter_time_read(l, row, &m, &bad)))
        return true;
    bool        date = l->date >= 0 && l->column[l->date].number == bad;
    const char *name = l->column[date ? l->date : l->time].name;

    return fault_set(f, FAULT_TABLE, 0, TABLE_UNIT, name[0] ? name : date ? "date" : "time");
}

static bool column_used(const struct meter_layout *l, unsigned number)
{
    for (unsigned i = 0; i < l->columns; i++) {
        if (l->column[i].number == number)
            return true;
    }
    return false;
}

/* Times whose heading is of another language are known by what stands below: the first column of times of day, and then of dates. */
static void times_by_content(struct meter_layout *l, const struct meter_names *heading, const struct csv_row *row, bool dates)
{
    int *found = dates ? &l->date : &l->time;

    for (unsigned i = 0; i < row->count && *found < 0 && l->columns < METER_COLUMNS_MAX; i++) {
        struct meter_column *column = &l->column[l->columns];
        struct meter_moment  m;

        if (column_used(l, i + 1) || !meter_moment_read(row->cells[i], METER_CALENDAR, &m) || (dates && m.has_clock) || (!dates && !m.has_clock))
            continue;
        *column = (struct meter_column){ .quantity = dates ? METER_DATE : METER_TIME, .number = i + 1, .unit_told = true, .unit = meter_unit_calendar() };
        if (heading && i < heading->count && heading->cell[i].left < METER_NAME_MAX)
            memcpy(column->name, heading->cell[i].at, heading->cell[i].left);
        *found = (int)l->columns++;
        if (l->cells < i + 1)
            l->cells = i + 1;
    }
}

static void times_complete(struct meter_layout *l, const struct meter_names *heading, const struct csv_row *row)
{
    struct meter_moment m;

    if (l->time < 0)
        times_by_content(l, heading, row, false);
    if (l->time < 0 || l->date >= 0 || l->column[l->time].number > row->count)
        return;
    if (meter_moment_read(row->cells[l->column[l->time].number - 1], METER_CALENDAR, &m) && !m.has_date && !m.wide)
        times_by_content(l, heading, row, true);
}

static bool has_readings(const struct meter_layout *l)
{
    for (unsigned i = 0; i < l->columns; i++) {
        switch (l->column[i].quantity) {
        case METER_VBUS:
        case METER_IBUS:
        case METER_VCONN:
        case METER_TEMPERATURE:
            return true;
        case METER_NOTHING:
        case METER_TIME:
        case METER_DATE:
        case METER_POWER:
        case METER_ENERGY:
        case METER_CHARGE:
            break;
        }
    }
    return false;
}

/*
 * What no port of a bench has, in a column whose unit nobody told, is of another unit: 60 V, 20 A, 300 °C. Common practice, no source.
 * True: there is such a one, and *f says so.
 */
static bool unit_impossible(const struct meter_layout *l, const struct csv_row *row, struct fault *f)
{
    for (unsigned i = 0; i < l->columns; i++) {
        const struct meter_column *c = &l->column[i];
        int64_t                    most = c->quantity == METER_TEMPERATURE ? 300 : c->quantity == METER_IBUS ? 20 : 60, value = 0;
        char                       mark = l->decimal;
        struct cursor              cell = c->number <= row->count ? row->cells[c->number - 1] : cursor_over(NULL, 0);
        struct csv_number          n;

        if (c->unit_told || (int)i == l->time || (int)i == l->date || !csv_number_read(&cell, &mark, &n) || cell.left > 0)
            continue;
        if (csv_number_scaled(&n, 0, 1, &value) && value <= most && value >= -most)
            continue;
        fault_set(f, FAULT_TABLE, 0, TABLE_UNIT, c->name[0] ? c->name : "without a heading");
        return true;
    }
    return false;
}

/* Does the map leave it open where the times stand? */
static bool map_open(const struct meter_map *map)
{
    for (unsigned i = 0; map && i < map->count; i++) {
        if (map->entry[i].quantity == METER_TIME || map->entry[i].quantity == METER_DATE)
            return false;
    }
    return true;
}

/* The heading (or none) over this row, if they fit together better than what was found before. */
static void search_try(struct search *s, const struct meter_names *heading, const struct csv_row *row, char separator)
{
    struct meter_layout l = { .separator = separator, .decimal = s->o->decimal, .data_line = row->line };
    struct fault        f = { .code = FAULT_NONE };

    if (!meter_columns_find(heading, s->o->map, &l, &f)) {
        if (s->trouble.code == FAULT_NONE || (s->trouble.number != TABLE_TWICE && f.number == TABLE_TWICE))
            s->trouble = f;
        return;
    }
    if (has_readings(&l) && map_open(s->o->map))
        times_complete(&l, heading, row);
    if (l.columns <= s->best.columns || !has_readings(&l) || (row->state == CSV_SOUND && unit_impossible(&l, row, &s->trouble)) || !row_is_data(&l, row, &s->trouble))
        return;
    if (l.time < 0 && !(s->o->rate_hz > 0)) {
        fault_set(&s->trouble, FAULT_TABLE, 0, TABLE_NO_TIME, NULL);
        return;
    }
    l.heading_line = heading ? heading->line : 0;
    s->best = l;
    s->best_heading.count = s->best_heading.used = 0;
    if (heading)
        names_copy(&s->best_heading, heading);
}

/* Only numbers of columns in the map: the file may do without a heading. */
static bool map_needs_no_heading(const struct meter_map *map)
{
    for (unsigned i = 0; map && i < map->count; i++) {
        if (map->entry[i].number == 0 && !map->entry[i].none)
            return false;
    }
    return map && map->count > 0;
}

/* Where the file breaks off already here, what there is of it is used; why it ends is told when its rows have been given. */
static bool head_ended_well(struct fault *f)
{
    return f->code != FAULT_NO_MEMORY && !fault_set(f, FAULT_NONE, 0, 0, NULL);
}

/* One separator: the head of the file, row by row, up to the first that is data under the line before it. */
static bool search_separator(struct search *s, struct csv_table *t, char separator, struct fault *f)
{
    unsigned       found = s->best.columns;
    struct csv_row row;

    csv_table_rewind(t);
    csv_table_separator(t, separator);
    s->heading.count = s->units.count = 0;
    for (unsigned rows = 0; rows < HEAD_ROWS_MAX && s->best.columns == found && csv_table_in_head(t); rows++) {
        struct meter_names above = s->heading;

        if (!csv_table_next(t, &row, f))
            break;
        if (row.state != CSV_SOUND)
            continue;
        if (s->units.count > 0 && names_are_units(&s->units) && s->heading.count > 0) {
            names_join(&s->joined, &s->heading, &s->units);
            search_try(s, &s->joined, &row, separator);
        }
        if (s->units.count > 0)
            search_try(s, &s->units, &row, separator);
        if (map_needs_no_heading(s->o->map))
            search_try(s, NULL, &row, separator);
        s->heading = s->units; /* one line on: what was the last is now the one before it */
        s->units = above;
        names_of_row(&s->units, &row);
    }
    return head_ended_well(f);
}

static void search_free(struct search *s)
{
    free(s->heading.text);
    free(s->units.text);
    free(s->joined.text);
    free(s);
}

static struct search *search_new(const struct meter_options *o)
{
    struct search *s = calloc(1, sizeof *s);

    if (!s)
        return NULL;
    s->o = o;
    if (names_new(&s->heading) && names_new(&s->units) && names_new(&s->joined) && names_new(&s->best_heading))
        return s;
    free(s->best_heading.text);
    search_free(s);
    return NULL;
}

/* One row of the head: what its last digits are worth. */
static bool scan_row(struct meter_layout *l, const struct csv_row *row, struct fault *f)
{
    struct meter_values v;
    struct meter_moment m;
    unsigned            bad;

    if (!meter_values_read(l, row, &v, &bad))
        return true;
    if (unit_impossible(l, row, f))
        return false;
    for (unsigned i = 0; i < l->columns; i++)
        l->exponent[i] = v.exponent[i] < l->exponent[i] ? v.exponent[i] : l->exponent[i];
    if (l->time < 0 || !meter_time_read(l, row, &m, &bad))
        return true;
    if (l->time_step_ns == 0)
        l->first = m;
    if (l->time_step_ns == 0 || m.step_ns < l->time_step_ns)
        l->time_step_ns = m.step_ns;
    return true;
}

/* To the first row of data. */
static void layout_go_to(struct csv_table *t, const struct meter_layout *l)
{
    csv_table_rewind(t);
    csv_table_separator(t, l->separator);
    csv_table_skip_to(t, l->data_line);
}

static bool layout_scan(struct csv_table *t, struct meter_layout *l, struct fault *f)
{
    struct csv_row row;

    for (unsigned i = 0; i < l->columns; i++)
        l->exponent[i] = METER_NO_DIGIT;
    layout_go_to(t, l);
    for (unsigned rows = 0; rows < HEAD_SCAN_ROWS && csv_table_in_head(t); rows++) {
        if (!csv_table_next(t, &row, f))
            break;
        if (!scan_row(l, &row, f))
            return false;
    }
    layout_go_to(t, l);
    return head_ended_well(f);
}

bool meter_layout_find(struct csv_table *t, const struct meter_options *o, struct meter_layout *l, struct meter_names *heading, struct fault *f)
{
    static const char separators[] = { ';', '\t', '|', ',' };
    struct search    *s = search_new(o);
    bool              fine = s != NULL;

    *heading = (struct meter_names){ .text = NULL };
    if (!s)
        return fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
    for (size_t i = 0; fine && i < sizeof separators; i++) {
        if (!o->separator || o->separator == separators[i])
            fine = search_separator(s, t, separators[i], f);
    }
    if (fine && s->best.columns == 0) {
        fine = false;
        *f = s->trouble;
        if (f->code == FAULT_NONE)
            fault_set(f, FAULT_TABLE, 0, TABLE_NO_HEADING, NULL);
    }
    *l = s->best;
    *heading = s->best_heading;
    search_free(s);
    return fine && layout_scan(t, l, f);
}

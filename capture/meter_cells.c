#include "capture/meter_log_inside.h"

#include <string.h>

/* What stands in cells without a reading, beside nothing at all: in use with such logs, no source. "OL" is an overload. */
static const char *const missing_words[] = {
    "-", "--", "---", "----", "nan", "n/a", "na", "#n/a", "null", "none", "nil", "inf", "+inf", "-inf", "infinity", "ol", "overload", "overflow", "?",
};

static bool cell_missing(const struct cursor *cell)
{
    for (size_t i = 0; i < sizeof missing_words / sizeof missing_words[0]; i++) {
        if (meter_same_words(missing_words[i], strlen(missing_words[i]), (const char *)cell->at, cell->left))
            return true;
    }
    return cell->left == 0;
}

static void blanks_take(struct cursor *c)
{
    while (c->left > 0 && (c->at[0] == ' ' || c->at[0] == '\t'))
        cursor_take(c, 1);
}

/* A unit may stand behind the number in each cell; it then counts, if it is of the column's kind. */
static bool cell_unit(struct cursor rest, const struct meter_unit **unit)
{
    const struct meter_unit *found;

    blanks_take(&rest);
    if (rest.left == 0)
        return true;
    found = meter_unit_find((const char *)rest.at, rest.left);
    if (!found || found->form != METER_NUMBER || (*unit && (*unit)->dimension != found->dimension))
        return false;
    *unit = found;
    return true;
}

static bool cell_read(struct cursor cell, const struct meter_unit *unit, char *mark, int64_t *value, int *exponent)
{
    struct csv_number n;

    if (!csv_number_read(&cell, mark, &n) || (cell.left > 0 && !cell_unit(cell, &unit)))
        return false;
    *exponent = n.exponent + unit->power;
    return csv_number_scaled(&n, unit->power, unit->factor, value);
}

/* What a record has room for: 32 bits, and the least of them says that there is no reading. */
static bool value_fits(enum meter_quantity quantity, int64_t value)
{
    bool in_record = quantity == METER_VBUS || quantity == METER_IBUS || quantity == METER_VCONN || quantity == METER_TEMPERATURE;

    return in_record ? value <= INT32_MAX && value >= -INT32_MAX : value != METER_NO_VALUE;
}

bool meter_values_read(struct meter_layout *l, const struct csv_row *row, struct meter_values *v, unsigned *bad)
{
    *bad = 0;
    if (row->state != CSV_SOUND || row->count < l->cells)
        return false;
    for (unsigned i = 0; i < l->columns; i++) {
        const struct meter_column *c = &l->column[i];
        const struct cursor       *cell = &row->cells[c->number - 1];

        v->value[i] = METER_NO_VALUE;
        v->exponent[i] = METER_NO_DIGIT;
        if ((int)i == l->time || (int)i == l->date || cell->left == 0)
            continue;
        if (cell_read(*cell, c->unit, &l->decimal, &v->value[i], &v->exponent[i]) && value_fits(c->quantity, v->value[i]))
            continue;
        v->value[i] = METER_NO_VALUE;
        v->exponent[i] = METER_NO_DIGIT;
        *bad = c->number;
        if (!cell_missing(cell))
            return false;
    }
    return true;
}

static int64_t step_of(int exponent, int factor)
{
    int64_t step = 1;

    for (; exponent > 0 && step < INT64_C(100000000000000); exponent--)
        step *= 10;
    return step * factor;
}

/* Times as numbers keep to 146 years on either side, so that their differences fit. */
static bool number_time(struct cursor cell, const struct meter_unit *unit, char *mark, struct meter_moment *m)
{
    int exponent;

    *m = (struct meter_moment){ .has_clock = true };
    if (!cell_read(cell, unit, mark, &m->clock_ns, &exponent) || m->clock_ns > RECORD_TIME_LIMIT || m->clock_ns < -RECORD_TIME_LIMIT)
        return false;
    m->step_ns = step_of(exponent, unit->factor);
    return true;
}

bool meter_time_read(struct meter_layout *l, const struct csv_row *row, struct meter_moment *m, unsigned *bad)
{
    const struct meter_column *time = &l->column[l->time], *date = l->date >= 0 ? &l->column[l->date] : NULL;
    struct cursor              cell = row->cells[time->number - 1];
    struct meter_moment        day;

    *bad = time->number;
    if (time->unit->form == METER_NUMBER)
        return number_time(cell, time->unit, &l->decimal, m);
    if (!meter_moment_read(cell, time->unit->form, m))
        return false;
    if (!date)
        return true;
    *bad = date->number;
    if (!meter_moment_read(row->cells[date->number - 1], date->unit->form, &day) || !day.has_date || day.has_clock || m->has_date)
        return false;
    m->has_date = true;
    m->date_ns = day.date_ns;
    return true;
}

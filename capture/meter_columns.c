#include "capture/meter_log_inside.h"

#include <string.h>

/* Choosing columns: what a map names first, then by the heading. */
struct choice {
    const struct meter_names *names; /* NULL: no heading */
    const struct meter_map   *map;
    struct meter_heading      heading[CSV_CELLS_MAX];
    bool                      claimed[CSV_CELLS_MAX];
    struct meter_layout      *l;
    struct fault             *f;
};

static const char *quantity_key(enum meter_quantity quantity)
{
    switch (quantity) {
    case METER_NOTHING:     return "";
    case METER_TIME:        return "time";
    case METER_DATE:        return "date";
    case METER_VBUS:        return "vbus";
    case METER_IBUS:        return "ibus";
    case METER_VCONN:       return "vconn";
    case METER_TEMPERATURE: return "temp0";
    case METER_POWER:       return "power";
    case METER_ENERGY:      return "energy";
    case METER_CHARGE:      return "charge";
    }
    return "";
}

static size_t heading_count(const struct choice *c)
{
    return c->names ? c->names->count : 0;
}

static const char *cell_text(const struct choice *c, size_t i)
{
    return (const char *)c->names->cell[i].at;
}

/* Column number (from 0) becomes one of the layout. unit: of the map, or NULL. False: no room. */
static bool choice_add(struct choice *c, size_t at, enum meter_quantity quantity, uint8_t port, uint8_t probe, const struct meter_unit *unit)
{
    struct meter_layout *l = c->l;
    struct meter_column *column = &l->column[l->columns];

    if (l->columns == METER_COLUMNS_MAX)
        return fault_set(c->f, FAULT_TABLE, 0, TABLE_TWICE, quantity_key(quantity));
    *column = (struct meter_column){ .quantity = quantity, .number = (unsigned)at + 1, .port = port, .probe = probe, .unit = unit };
    if (at < heading_count(c)) {
        size_t n = c->names->cell[at].left;

        if (!unit && c->heading[at].unit && c->heading[at].unit->dimension == meter_dimension_of(quantity))
            column->unit = c->heading[at].unit;
        n = n < METER_NAME_MAX ? n : METER_NAME_MAX - 1;
        if (n > 0)
            memcpy(column->name, cell_text(c, at), n);
    }
    column->unit_told = column->unit != NULL;
    if (!column->unit && quantity != METER_TIME && quantity != METER_DATE)
        column->unit = meter_unit_plain(meter_dimension_of(quantity));
    if (quantity == METER_TIME)
        l->time = (int)l->columns;
    if (quantity == METER_DATE)
        l->date = (int)l->columns;
    if (l->cells < at + 1)
        l->cells = (unsigned)at + 1;
    c->claimed[at] = true;
    l->columns++;
    return true;
}

/* The one column of that name, with its unit or without. */
static bool choice_named(struct choice *c, const char *name, size_t *at)
{
    unsigned found = 0;

    for (size_t i = 0; i < heading_count(c); i++) {
        bool same = meter_same_words(cell_text(c, i), c->names->cell[i].left, name, strlen(name)) ||
                    meter_same_words(cell_text(c, i), c->heading[i].name_length, name, strlen(name));

        if (same && found++ == 0)
            *at = i;
    }
    if (found == 1)
        return true;
    return fault_set(c->f, FAULT_TABLE, 0, found ? TABLE_TWICE : TABLE_NO_COLUMN, name);
}

static bool choice_mapped(struct choice *c, const struct meter_map_entry *e)
{
    size_t  at = e->number - 1;
    uint8_t port = e->quantity == METER_TEMPERATURE && !e->port_told ? RECORD_PORT_BENCH : e->port;

    if (e->none)
        return true;
    if (e->number == 0 && !choice_named(c, e->name, &at))
        return false;
    if (c->claimed[at])
        return fault_set(c->f, FAULT_TABLE, 0, TABLE_TWICE, quantity_key(e->quantity));
    return choice_add(c, at, e->quantity, port, e->probe, e->unit);
}

/* May the heading tell where this is? Not where the map says it, nor volts and amperes where the map tells several ports. */
static bool choice_open(const struct choice *c, enum meter_quantity quantity)
{
    bool electric = quantity == METER_VBUS || quantity == METER_IBUS || quantity == METER_VCONN;

    for (unsigned i = 0; c->map && i < c->map->count; i++) {
        const struct meter_map_entry *e = &c->map->entry[i];

        if (e->quantity == quantity || (electric && e->port_told))
            return false;
    }
    return true;
}

static unsigned heading_rank(const struct meter_heading *h)
{
    return h->mean ? 0 : h->exact ? 3 : h->by_name ? 2 : 1;
}

static bool fits(const struct choice *c, size_t i, enum meter_quantity quantity)
{
    return !c->claimed[i] && !c->heading[i].aside && c->heading[i].quantity == quantity;
}

/* The columns that fit best: how many; the first of them, and whether the n-th is one. */
static unsigned best_count(const struct choice *c, enum meter_quantity quantity, unsigned *rank)
{
    unsigned count = 0;

    *rank = 0;
    for (size_t i = 0; i < heading_count(c); i++) {
        if (!fits(c, i, quantity) || heading_rank(&c->heading[i]) < *rank)
            continue;
        count = heading_rank(&c->heading[i]) > *rank ? 1 : count + 1;
        *rank = heading_rank(&c->heading[i]);
    }
    return count;
}

static const enum meter_quantity electric_all[] = { METER_VBUS, METER_IBUS, METER_VCONN };
enum { ELECTRIC = 3 };

/* Numbers in names of columns, "V1", "CH2 current", in rising order: the ports. */
struct port_numbers { int number[METER_COLUMNS_MAX]; unsigned count; };

static unsigned port_place(const struct port_numbers *p, int number)
{
    unsigned at = 0;

    while (at < p->count && p->number[at] < number)
        at++;
    return at;
}

/* False: it is there already, or there is no room. */
static bool port_put(struct port_numbers *p, int number)
{
    unsigned at = port_place(p, number);

    if (p->count == METER_COLUMNS_MAX || (at < p->count && p->number[at] == number))
        return false;
    memmove(&p->number[at + 1], &p->number[at], (p->count - at) * sizeof p->number[0]);
    p->number[at] = number;
    p->count++;
    return true;
}

/* Those of one quantity of which there are several; false if they are not told apart by their numbers. */
static bool numbers_gather(const struct choice *c, enum meter_quantity quantity, unsigned rank, struct port_numbers *p)
{
    struct port_numbers own = { .count = 0 };

    for (size_t i = 0; i < heading_count(c); i++) {
        int number = c->heading[i].number;

        if (!fits(c, i, quantity) || heading_rank(&c->heading[i]) != rank)
            continue;
        if (number < 0 || !port_put(&own, number))
            return false;
        port_put(p, number); /* that it is there already, of another quantity, is as it should be */
    }
    return true;
}

/* All columns of a quantity that fit best, each with its port. */
static bool electric_add(struct choice *c, enum meter_quantity quantity, unsigned rank, const struct port_numbers *p)
{
    for (size_t i = 0; i < heading_count(c); i++) {
        int      number = c->heading[i].number;
        unsigned at = port_place(p, number);

        if (!fits(c, i, quantity) || heading_rank(&c->heading[i]) != rank)
            continue;
        if (p->count > 0 && (at == p->count || p->number[at] != number))
            return fault_set(c->f, FAULT_TABLE, 0, TABLE_TWICE, quantity_key(quantity));
        if (!choice_add(c, i, quantity, (uint8_t)(p->count > 0 ? at : 0), 0, NULL))
            return false;
    }
    return true;
}

/* Volts and amperes. One column of each: they belong together, whatever their names. Several: their numbers tell the ports. */
static bool choose_electric(struct choice *c)
{
    struct port_numbers p = { .count = 0 };
    unsigned            rank[ELECTRIC], count[ELECTRIC];

    for (unsigned k = 0; k < ELECTRIC; k++) {
        count[k] = choice_open(c, electric_all[k]) ? best_count(c, electric_all[k], &rank[k]) : 0;
        if (count[k] > 1 && !numbers_gather(c, electric_all[k], rank[k], &p))
            return fault_set(c->f, FAULT_TABLE, 0, TABLE_TWICE, quantity_key(electric_all[k]));
    }
    for (unsigned k = 0; k < ELECTRIC; k++) {
        if (count[k] > 0 && !electric_add(c, electric_all[k], rank[k], &p))
            return false;
    }
    return true;
}

static bool choose_temperatures(struct choice *c)
{
    uint8_t probe = 0;

    for (size_t i = 0; i < heading_count(c) && choice_open(c, METER_TEMPERATURE); i++) {
        if (fits(c, i, METER_TEMPERATURE) && !choice_add(c, i, METER_TEMPERATURE, RECORD_PORT_BENCH, probe++, NULL))
            return false;
    }
    return true;
}

/* The first column that fits, if there is one and the map leaves it open. */
static bool choose_first(struct choice *c, enum meter_quantity sought, enum meter_quantity taken_as)
{
    bool needs_unit = sought == METER_POWER || sought == METER_ENERGY || sought == METER_CHARGE; /* "charge" may be a percentage */

    for (size_t i = 0; i < heading_count(c) && choice_open(c, taken_as); i++) {
        if (fits(c, i, sought) && (!needs_unit || c->heading[i].unit))
            return choice_add(c, i, taken_as, 0, 0, NULL);
    }
    return true;
}

static bool choose_times(struct choice *c)
{
    if (c->l->time < 0 && !choose_first(c, METER_TIME, METER_TIME))
        return false;
    if (c->l->time < 0) /* a date with its time of day in one */
        return choose_first(c, METER_DATE, METER_TIME);
    return c->l->date >= 0 || choose_first(c, METER_DATE, METER_DATE);
}

/* Watts and counters are held against volts and amperes where there is one of each. */
static bool choose_checks(struct choice *c)
{
    unsigned volts = 0, amps = 0;

    for (unsigned i = 0; i < c->l->columns; i++) {
        volts += c->l->column[i].quantity == METER_VBUS;
        amps += c->l->column[i].quantity == METER_IBUS;
    }
    if (amps != 1)
        return true;
    if (volts == 1 && (!choose_first(c, METER_POWER, METER_POWER) || !choose_first(c, METER_ENERGY, METER_ENERGY)))
        return false;
    return choose_first(c, METER_CHARGE, METER_CHARGE);
}

bool meter_columns_find(const struct meter_names *heading, const struct meter_map *map, struct meter_layout *l, struct fault *f)
{
    struct choice c = { .names = heading, .map = map, .l = l, .f = f };

    l->columns = l->cells = 0;
    l->time = l->date = -1;
    for (size_t i = 0; i < heading_count(&c); i++)
        meter_heading_read(cell_text(&c, i), heading->cell[i].left, &c.heading[i]);
    for (unsigned i = 0; map && i < map->count; i++) {
        if (!choice_mapped(&c, &map->entry[i]))
            return false;
    }
    return choose_electric(&c) && choose_temperatures(&c) && choose_times(&c) && choose_checks(&c);
}

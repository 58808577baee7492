#include "capture/meter_log_inside.h"

#include <math.h>

/* Watts, watt-hours and ampere-hours of a log against its own volts and amperes, where it has one column of each. */

/* The one column of that quantity, -1: there is none, or there are several. */
static int only_column(const struct meter_layout *l, enum meter_quantity quantity)
{
    int found = -1;

    for (unsigned i = 0; i < l->columns; i++) {
        if (l->column[i].quantity != quantity)
            continue;
        if (found >= 0)
            return -1;
        found = (int)i;
    }
    return found;
}

void meter_check_begin(struct meter_check *c, const struct meter_layout *l)
{
    *c = (struct meter_check){ .volt = only_column(l, METER_VBUS), .amp = only_column(l, METER_IBUS), .power = -1 };
    c->count[METER_COUNT_ENERGY].column = c->count[METER_COUNT_CHARGE].column = -1;
    if (c->amp < 0)
        return;
    c->count[METER_COUNT_CHARGE].column = only_column(l, METER_CHARGE);
    if (c->volt >= 0) {
        c->power = only_column(l, METER_POWER);
        c->count[METER_COUNT_ENERGY].column = only_column(l, METER_ENERGY);
    }
    c->counts = c->count[METER_COUNT_CHARGE].column >= 0 || c->count[METER_COUNT_ENERGY].column >= 0;
}

static double digit_worth(int exponent)
{
    return exponent >= METER_NO_DIGIT ? 0 : pow(10, exponent);
}

/* As the log has them: half a digit of each, and 5 %, as a meter may take the mean of a product. */
static bool power_agrees(double volt, double amp, double power, const int exponent[3])
{
    double product = volt * amp * 1e-6, room = fabs(product) * 0.05 + 1, volt_step, amp_step;

    if (fabs(power - product) <= room)
        return true;
    volt_step = digit_worth(exponent[0]);
    amp_step = digit_worth(exponent[1]);
    room += (fabs(volt) * amp_step + fabs(amp) * volt_step + volt_step * amp_step) * 0.5e-6 + digit_worth(exponent[2]) * 0.5;
    return fabs(power - product) <= room;
}

void meter_check_power(struct meter_check *c, const struct meter_values *v, uint64_t line, struct meter_facts *facts)
{
    int64_t volt = v->value[c->volt], amp = v->value[c->amp], power = v->value[c->power];
    int     exponent[] = { v->exponent[c->volt], v->exponent[c->amp], v->exponent[c->power] };

    if (volt == METER_NO_VALUE || amp == METER_NO_VALUE || power == METER_NO_VALUE)
        return;
    facts->power_rows++;
    if (!power_agrees((double)volt, (double)amp, (double)power, exponent) && facts->power_off++ == 0)
        c->power_line = line;
}

/* From the last row to this one, volts and amperes each along a straight line: the integral of their product, in uV uA ns. */
static double stretch_energy(const struct meter_check *c, double volt, double amp, double ns)
{
    return ((c->volt_uv * c->amp_ua + volt * amp) / 2 - (volt - c->volt_uv) * (amp - c->amp_ua) / 6) * ns;
}

/* One counter over one stretch. It may count what flows either way, or what goes out less what comes in: both are kept. */
static void count_add(struct meter_count *n, int64_t value, int exponent, double reckoned, bool whole)
{
    if (value == METER_NO_VALUE) {
        n->has_last = false;
        return;
    }
    if (whole && n->has_last && value >= n->last) {
        n->told += (double)value - (double)n->last;
        n->either_way += fabs(reckoned);
        n->balance += reckoned;
        n->used = true;
    } else {
        n->pieces++; /* each may cost a digit */
    }
    n->step = fmax(n->step, digit_worth(exponent));
    n->last = value;
    n->has_last = true;
}

void meter_check_counters(struct meter_check *c, const struct meter_values *v, int64_t at_ns, bool whole)
{
    int64_t volt = c->volt >= 0 ? v->value[c->volt] : 0, amp = v->value[c->amp];
    bool    there = volt != METER_NO_VALUE && amp != METER_NO_VALUE;
    double  ns = (double)(at_ns - c->last_ns), ns_of_hour = 3.6e12;
    double  energy = there && c->has_last ? stretch_energy(c, (double)volt, (double)amp, ns) * 1e-6 / ns_of_hour : 0;
    double  charge = there && c->has_last ? ((double)amp + c->amp_ua) / 2 * ns / ns_of_hour : 0;

    for (unsigned k = 0; k < METER_COUNTS; k++) {
        struct meter_count *n = &c->count[k];

        if (n->column >= 0)
            count_add(n, v->value[n->column], v->exponent[n->column], k == METER_COUNT_ENERGY ? energy : charge, whole && there && c->has_last);
    }
    c->has_last = there;
    c->last_ns = at_ns;
    c->volt_uv = (double)volt;
    c->amp_ua = (double)amp;
}

/* 5 %, as the meter samples more often than it writes, and a digit where it begins and where it ends. */
static bool count_agrees(const struct meter_count *n)
{
    double room = n->step * (n->pieces + 1) + 0.05 * fabs(n->told);

    return !n->used || fabs(n->told - n->either_way) <= room || fabs(n->told - fabs(n->balance)) <= room;
}

static int64_t whole_number(double value)
{
    return value >= 9e18 ? INT64_MAX : value <= -9e18 ? INT64_MIN : llround(value);
}

void meter_check_tell(const struct meter_check *c, const struct meter_layout *l, const struct meter_facts *facts, const struct meter_options *o)
{
    if (!o->notice)
        return;
    if (facts->power_off > 0)
        o->notice(o->context, &(struct meter_notice){ .news = METER_POWER_DIFFERS, .line = c->power_line, .column = l->column[c->power].number,
                                                      .count = facts->power_off, .of = facts->power_rows });
    for (unsigned k = 0; k < METER_COUNTS; k++) {
        const struct meter_count *n = &c->count[k];

        if (n->column >= 0 && !count_agrees(n))
            o->notice(o->context, &(struct meter_notice){ .news = METER_COUNTER_DIFFERS, .column = l->column[n->column].number,
                                                          .unit = meter_unit_plain(meter_dimension_of(l->column[n->column].quantity)),
                                                          .told_u = whole_number(n->told), .reckoned_u = whole_number(n->either_way) });
    }
}

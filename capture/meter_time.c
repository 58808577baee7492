#include "capture/base/calendar.h"
#include "capture/meter_log_inside.h"

/* Dates and times of day as people write them: ISO 8601:2004 4.1 to 4.3 (extended, and basic with a T), and common local ways. */

enum { HOURS_MOST = 1000000, SECONDS_A_DAY = 86400, ZONE_HOURS_MOST = 18 };
static const int64_t second_ns = 1000000000;

struct digits { int64_t value; size_t count; };

static struct digits digits_take(struct cursor *c)
{
    struct digits d = { 0, 0 };

    for (; c->left > 0 && c->at[0] >= '0' && c->at[0] <= '9' && d.count < 15; d.count++)
        d.value = d.value * 10 + (cursor_u8(c) - '0');
    return d;
}

static bool sign_take(struct cursor *c, char wanted)
{
    if (c->left == 0 || c->at[0] != (uint8_t)wanted)
        return false;
    cursor_take(c, 1);
    return true;
}

static void blanks_take(struct cursor *c)
{
    while (sign_take(c, ' '))
        continue;
}

/* Three numbers of a date in the order that they stand in. */
static bool date_of(struct digits a, struct digits b, struct digits c, char border, enum meter_form form, int64_t *days)
{
    if (a.count == 4 && c.count <= 2)
        return calendar_days(a.value, b.value, c.value, days);
    if (a.count > 2 || b.count > 2 || c.count != 4)
        return false;
    if (border == '.' || form == METER_DAY_FIRST) /* with dots it is always the day that comes first */
        return calendar_days(c.value, b.value, a.value, days);
    if (form == METER_MONTH_FIRST)
        return calendar_days(c.value, a.value, b.value, days);
    return false; /* 03/04/2026: nobody can tell */
}

/* True: c stands behind a date, which is *days; false: c is as it was. */
static bool date_take(struct cursor *c, enum meter_form form, int64_t *days)
{
    struct cursor ahead = *c;
    struct digits a = digits_take(&ahead), b, last;
    char          border;

    if (a.count == 8 && ahead.left > 0 && ahead.at[0] == 'T') { /* basic: 20260131T... */
        *c = ahead;
        return calendar_days(a.value / 10000, a.value / 100 % 100, a.value % 100, days);
    }
    border = ahead.left > 0 ? (char)ahead.at[0] : 0;
    if (a.count == 0 || (border != '-' && border != '/' && border != '.') || !sign_take(&ahead, border))
        return false;
    b = digits_take(&ahead);
    if (b.count == 0 || !sign_take(&ahead, border))
        return false;
    last = digits_take(&ahead);
    if (last.count == 0 || !date_of(a, b, last, border, form, days))
        return false;
    *c = ahead;
    return true;
}

/* The fraction of a second: its value, and what its last digit is worth. */
static int64_t fraction_take(struct cursor *c, int64_t *step_ns)
{
    int64_t  worth = second_ns, ns = 0;
    unsigned digit;

    for (; c->left > 0 && c->at[0] >= '0' && c->at[0] <= '9'; worth /= 10) {
        digit = (unsigned)(cursor_u8(c) - '0');
        if (worth >= 10)
            ns += (int64_t)digit * (worth / 10);
        else if (worth == 1 && digit >= 5)
            ns++; /* the first digit beyond nanoseconds rounds */
    }
    *step_ns = worth > 0 ? worth : 1;
    return ns;
}

/* 10:30, or 10:30.5: hours and minutes, or minutes and seconds. Behind a date, and without a fraction, the former. */
static bool two_numbers(struct meter_moment *m, struct digits a, struct digits b, bool fraction, enum meter_form form)
{
    if (!fraction && (form == METER_HOURS_MINUTES || m->has_date)) {
        m->clock_ns += (a.value * 3600 + b.value * 60) * second_ns;
        m->step_ns = 60 * second_ns;
        m->wide = a.value > 23;
        return b.value < 60;
    }
    m->clock_ns += (a.value * 60 + b.value) * second_ns;
    m->wide = true; /* minutes from a beginning are no time of day */
    return b.value < 60 && (fraction || form == METER_MINUTES_SECONDS);
}

/* 100000 of 20260131T100000 */
static void basic_clock(struct digits d, struct digits *hours, struct digits *minutes, struct digits *seconds)
{
    *hours = (struct digits){ d.value / 10000, 2 };
    *minutes = (struct digits){ d.value / 100 % 100, 2 };
    *seconds = (struct digits){ d.value % 100, 2 };
}

static bool clock_take(struct cursor *c, enum meter_form form, struct meter_moment *m)
{
    struct digits hours = digits_take(c), minutes = { 0, 0 }, seconds = { 0, 0 };
    bool          fraction;

    m->step_ns = second_ns;
    if (hours.count == 6 && m->has_date) {
        basic_clock(hours, &hours, &minutes, &seconds);
    } else {
        if (hours.count == 0 || !sign_take(c, ':'))
            return false;
        minutes = digits_take(c);
        if (minutes.count == 0 || minutes.count > 2)
            return false;
        if (sign_take(c, ':')) {
            seconds = digits_take(c);
            if (seconds.count == 0 || seconds.count > 2)
                return false;
        }
    }
    fraction = seconds.count > 0 ? sign_take(c, '.') || sign_take(c, ',') || sign_take(c, ':') : sign_take(c, '.') || sign_take(c, ',');
    if (fraction)
        m->clock_ns = fraction_take(c, &m->step_ns);
    m->has_clock = true;
    if (hours.value > HOURS_MOST)
        return false;
    if (seconds.count == 0)
        return two_numbers(m, hours, minutes, fraction, form);
    m->clock_ns += (hours.value * 3600 + minutes.value * 60 + seconds.value) * second_ns;
    m->wide = hours.value > 23;
    return minutes.value < 60 && seconds.value <= 60 && !(m->has_date && hours.value > 24);
}

/* "PM" behind a time of twelve hours. */
static bool half_day_take(struct cursor *c, struct meter_moment *m)
{
    int64_t       hours = m->clock_ns / second_ns / 3600;
    struct cursor ahead = *c;
    bool          after_noon;

    blanks_take(&ahead);
    if (ahead.left < 2 || (ahead.at[1] | 0x20) != 'm' || ((ahead.at[0] | 0x20) != 'a' && (ahead.at[0] | 0x20) != 'p'))
        return true;
    after_noon = (ahead.at[0] | 0x20) == 'p';
    cursor_take(&ahead, 2);
    *c = ahead;
    if (hours < 1 || hours > 12)
        return false;
    m->clock_ns += (after_noon ? (hours < 12) * 12 : -(hours == 12) * 12) * 3600 * second_ns;
    return true;
}

static bool word_take(struct cursor *c, const char *word)
{
    struct cursor ahead = *c;

    for (; *word; word++) {
        if (!sign_take(&ahead, *word))
            return false;
    }
    *c = ahead;
    return true;
}

/* Z, UTC, GMT, +02:00, -0430, +2 */
static bool zone_take(struct cursor *c, struct meter_moment *m)
{
    struct digits hours, minutes = { 0, 0 };
    int           way;

    blanks_take(c);
    if (c->left == 0)
        return true;
    m->zone_told = true;
    if (word_take(c, "Z") || word_take(c, "z") || word_take(c, "UTC") || word_take(c, "GMT"))
        return true;
    way = sign_take(c, '+') ? 1 : sign_take(c, '-') ? -1 : 0;
    hours = digits_take(c);
    if (way == 0 || hours.count == 0)
        return false;
    if (sign_take(c, ':'))
        minutes = digits_take(c);
    if (hours.count == 4) {
        minutes.value = hours.value % 100;
        hours.value /= 100;
    }
    if (hours.value > ZONE_HOURS_MOST || minutes.value > 59)
        return false;
    m->clock_ns -= way * (hours.value * 60 + minutes.value) * 60 * second_ns;
    return true;
}

bool meter_moment_read(struct cursor cell, enum meter_form form, struct meter_moment *m)
{
    struct cursor c = cell;
    int64_t       days = 0;

    *m = (struct meter_moment){ .step_ns = SECONDS_A_DAY * second_ns };
    blanks_take(&c);
    if (date_take(&c, form, &days)) {
        m->has_date = true;
        m->date_ns = days * SECONDS_A_DAY * second_ns;
        if (!sign_take(&c, 'T'))
            blanks_take(&c);
    }
    if (c.left == 0)
        return m->has_date;
    if (!clock_take(&c, form, m) || !half_day_take(&c, m) || !zone_take(&c, m))
        return false;
    blanks_take(&c);
    return c.left == 0 && (m->has_clock || m->has_date);
}

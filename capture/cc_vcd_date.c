/*
 * The moment of $date. The standard leaves its form open (IEEE 1364-2005, 18.2.3.2); only what means the same moment everywhere is
 * taken: ISO 8601 with Z or an offset from UTC.
 */
#include "capture/cc_vcd_inside.h"

#include "capture/base/calendar.h"

#include <string.h>

struct text { const char *at; };

/* So many digits, no more and no less, between least and most. */
static bool digits_take(struct text *t, unsigned digits, int least, int most, int *value)
{
    *value = 0;
    for (; digits > 0; digits--, t->at++) {
        if (*t->at < '0' || *t->at > '9')
            return false;
        *value = *value * 10 + (*t->at - '0');
    }
    return *value >= least && *value <= most;
}

static bool mark_take(struct text *t, const char *any_of)
{
    if (*t->at == '\0' || !strchr(any_of, *t->at))
        return false;
    t->at++;
    return true;
}

static int64_t fraction_take(struct text *t)
{
    int64_t unit = 100000000, ns = 0;

    for (; *t->at >= '0' && *t->at <= '9'; t->at++, unit /= 10)
        ns += unit * (*t->at - '0');
    return ns;
}

static bool offset_take(struct text *t, int64_t *offset_s)
{
    bool west = *t->at == '-';
    int  hours, minutes;

    *offset_s = 0;
    if (mark_take(t, "Z"))
        return true;
    if (!mark_take(t, "+-") || !digits_take(t, 2, 0, 23, &hours))
        return false;
    mark_take(t, ":");
    if (!digits_take(t, 2, 0, 59, &minutes))
        return false;
    *offset_s = (int64_t)hours * 3600 + minutes * 60;
    if (west)
        *offset_s = -*offset_s;
    return true;
}

bool vcd_date_read(const char *text, int64_t *since_1970_ns)
{
    struct text t = { text };
    int         year, month, day, hour, minute, second;
    int64_t     fraction_ns = 0, offset_s, days;

    if (!digits_take(&t, 4, 1970, 2200, &year) || !mark_take(&t, "-") || !digits_take(&t, 2, 1, 12, &month) || !mark_take(&t, "-") ||
        !digits_take(&t, 2, 1, 31, &day) || !calendar_days(year, month, day, &days))
        return false;
    mark_take(&t, "T"); /* words of $date come without the blank between them */
    if (!digits_take(&t, 2, 0, 23, &hour) || !mark_take(&t, ":") || !digits_take(&t, 2, 0, 59, &minute) || !mark_take(&t, ":") ||
        !digits_take(&t, 2, 0, 60, &second))
        return false;
    if (mark_take(&t, ".,"))
        fraction_ns = fraction_take(&t);
    if (!offset_take(&t, &offset_s) || *t.at != '\0')
        return false;
    int64_t seconds = days * 86400 + hour * 3600 + minute * 60 + second - offset_s;

    *since_1970_ns = seconds * 1000000000 + fraction_ns;
    return true;
}

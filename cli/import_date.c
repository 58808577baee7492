#include "cli/import_date.h"

#include "capture/base/calendar.h"

enum { YEAR_MOST = 2106, SECONDS_A_DAY = 86400 };
#define SECOND_NS INT64_C(1000000000)

/* Exactly so many digits. */
static bool digits_take(const char **at, unsigned count, int *value)
{
    *value = 0;
    for (; count > 0; count--, (*at)++) {
        if (**at < '0' || **at > '9')
            return false;
        *value = *value * 10 + (**at - '0');
    }
    return true;
}

static bool letter_take(const char **at, char letter)
{
    if (**at != letter)
        return false;
    (*at)++;
    return true;
}

static bool day_take(const char **at, int64_t *seconds)
{
    int     year, month, day;
    int64_t days;

    if (!digits_take(at, 4, &year) || !letter_take(at, '-') || !digits_take(at, 2, &month) || !letter_take(at, '-') ||
        !digits_take(at, 2, &day))
        return false;
    if (year > YEAR_MOST || !calendar_days(year, month, day, &days))
        return false;
    *seconds = days * SECONDS_A_DAY;
    return true;
}

static bool clock_take(const char **at, int64_t *seconds)
{
    int hour, minute, second;

    if (!digits_take(at, 2, &hour) || !letter_take(at, ':') || !digits_take(at, 2, &minute) || !letter_take(at, ':') ||
        !digits_take(at, 2, &second))
        return false;
    *seconds += hour * 3600 + minute * 60 + second;
    return hour < 24 && minute < 60 && second < 60;
}

static bool decimals_take(const char **at, int64_t *ns)
{
    int64_t unit = SECOND_NS / 10;

    if (!letter_take(at, '.'))
        return true;
    if (**at < '0' || **at > '9')
        return false;
    for (; **at >= '0' && **at <= '9'; (*at)++, unit /= 10)
        *ns += (**at - '0') * unit;
    return true;
}

static bool zone_take(const char **at, int64_t *seconds)
{
    bool east = **at == '+';
    int  hours, minutes = 0;

    if (**at == '\0' || letter_take(at, 'Z'))
        return true;
    if (!letter_take(at, '+') && !letter_take(at, '-'))
        return false;
    if (!digits_take(at, 2, &hours) || (**at && ((void)letter_take(at, ':'), !digits_take(at, 2, &minutes))))
        return false;
    *seconds -= (east ? 1 : -1) * (hours * 3600 + minutes * 60);
    return hours < 24 && minutes < 60;
}

bool date_read(const char *text, int64_t *ns_since_1970)
{
    int64_t seconds = 0, ns = 0;

    if (!day_take(&text, &seconds) || (!letter_take(&text, 'T') && !letter_take(&text, ' ')) || !clock_take(&text, &seconds) ||
        !decimals_take(&text, &ns) || !zone_take(&text, &seconds) || *text || seconds < 0 || seconds > (int64_t)UINT32_MAX)
        return false;
    *ns_since_1970 = seconds * SECOND_NS + ns;
    return true;
}

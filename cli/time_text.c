#define _POSIX_C_SOURCE 200809L /* gmtime_r */
#include "cli/time_text.h"

#include <inttypes.h>
#include <time.h>

#define NS_PER_S INT64_C(1000000000)

void time_text(struct phrase *p, int64_t ns_since_start)
{
    uint64_t m = ns_since_start < 0 ? (uint64_t)0 - (uint64_t)ns_since_start : (uint64_t)ns_since_start;
    uint64_t us = m / 1000 + (m % 1000 >= 500);

    phrase_format(p, "%s%" PRIu64 ".%06" PRIu64 " s", ns_since_start < 0 ? "-" : "", us / 1000000, us % 1000000);
}

void date_text(struct phrase *p, int64_t ns_since_1970)
{
    time_t    seconds = (time_t)(ns_since_1970 / NS_PER_S - (ns_since_1970 % NS_PER_S < 0));
    struct tm date;
    char      text[64];

    if (gmtime_r(&seconds, &date) && strftime(text, sizeof text, "%Y-%m-%d %H:%M:%S UTC", &date) > 0)
        phrase_add(p, text);
}

/* value x 10^-scale, a blank, the unit. */
static void amount(struct phrase *p, int64_t value, unsigned scale, const char *unit)
{
    phrase_short(p, value, scale);
    phrase_format(p, " %s", unit);
}

void span_text(struct phrase *p, int64_t ns)
{
    int64_t s = ns / NS_PER_S;

    if (s >= 3600)
        phrase_format(p, "%" PRId64 " h %" PRId64 " min", s / 3600, s / 60 % 60);
    else if (s >= 120)
        phrase_format(p, "%" PRId64 " min %" PRId64 " s", s / 60, s % 60);
    else if (ns >= NS_PER_S)
        amount(p, (ns + 5000000) / 10000000, 2, "s");
    else
        amount(p, (ns + 5000) / 10000, 2, "ms");
}

void spacing_text(struct phrase *p, int64_t ns)
{
    if (ns >= NS_PER_S)
        amount(p, ns, 9, "s");
    else if (ns >= 1000000)
        amount(p, ns, 6, "ms");
    else
        amount(p, ns, 3, "us");
}

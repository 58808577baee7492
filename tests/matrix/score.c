#include "tests/matrix/score.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static unsigned group_of(struct score *s, const char *rule)
{
    size_t   length = strcspn(rule, ".");
    unsigned k = 0;

    while (k < s->groups && (strncmp(s->group[k].name, rule, length) != 0 || s->group[k].name[length] != '\0'))
        k++;
    if (k == s->groups && k < SCORE_GROUPS) {
        snprintf(s->group[k].name, sizeof s->group[k].name, "%.*s", (int)length, rule);
        s->groups++;
    }
    return k < SCORE_GROUPS ? k : SCORE_GROUPS - 1;
}

void score_hit(struct score *s, const char *rule)
{
    s->group[group_of(s, rule)].hit++;
}

void score_missed(struct score *s, const char *rule)
{
    s->group[group_of(s, rule)].missed++;
}

void score_wrong(struct score *s, const char *rule)
{
    s->group[group_of(s, rule)].wrong++;
}

void score_trouble(struct score *s, const char *format, ...)
{
    va_list arguments;

    s->troubles++;
    va_start(arguments, format);
    vfprintf(stderr, format, arguments);
    va_end(arguments);
    fputc('\n', stderr);
}

static double share(unsigned part, unsigned other)
{
    return part + other ? (double)part / (part + other) : 1.0;
}

bool score_print(const struct score *s, const char *title)
{
    bool good = s->troubles == 0;

    printf("%s: %u runs\n", title, s->runs);
    printf("  group      found  missed   wrong  precision  recall\n");
    for (unsigned k = 0; k < s->groups; k++) {
        printf("  %-8s %7u %7u %7u     %6.4f  %6.4f\n", s->group[k].name, s->group[k].hit, s->group[k].missed, s->group[k].wrong,
               share(s->group[k].hit, s->group[k].wrong), share(s->group[k].hit, s->group[k].missed));
        good = good && s->group[k].missed == 0 && s->group[k].wrong == 0;
    }
    if (s->troubles)
        printf("  %u other things did not fit\n", s->troubles);
    return good;
}

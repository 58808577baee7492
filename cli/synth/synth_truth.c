/* What was made wrong, and what is true of voltages and currents, as JSON. */
#include "cli/synth/synth_inside.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <string.h>

static void add_expected(cJSON *into, const char *words)
{
    cJSON *list = cJSON_AddArrayToObject(into, "expect");
    char   word[64];

    while (*words) {
        size_t n = strcspn(words, " ");

        snprintf(word, sizeof word, "%.*s", (int)n, words);
        cJSON_AddItemToArray(list, cJSON_CreateString(word));
        words += n + strspn(words + n, " ");
    }
}

static void add_amount(cJSON *into, const struct synth_made *m)
{
    if (m->has_ns)
        cJSON_AddNumberToObject(into, "amount_ns", (double)m->amount_ns);
    if (m->has_uv)
        cJSON_AddNumberToObject(into, "amount_uv", m->amount_uv);
    if (m->has_ma)
        cJSON_AddNumberToObject(into, "amount_ma", m->amount_ma);
}

struct cJSON *synth_truth(const struct synth *s)
{
    cJSON *all = cJSON_CreateObject(), *faults = cJSON_AddArrayToObject(all, "faults"), *blinds = cJSON_AddArrayToObject(all, "blinds");

    cJSON_AddNumberToObject(all, "schema", 1);
    for (unsigned k = 0; k < synth_made_count(s); k++) {
        struct synth_made m = synth_made(s, k);
        cJSON            *one = cJSON_CreateObject();

        cJSON_AddItemToArray(m.blind ? blinds : faults, one);
        cJSON_AddStringToObject(one, m.blind ? "blind" : "fault", m.blind ? m.blind : m.fault);
        cJSON_AddNumberToObject(one, "port", m.port);
        cJSON_AddBoolToObject(one, "made", m.made);
        if (m.blind)
            continue;
        if (m.variant[0])
            cJSON_AddStringToObject(one, "variant", m.variant);
        add_amount(one, &m);
        cJSON_AddNumberToObject(one, "frame", (double)m.frame);
        cJSON_AddNumberToObject(one, "t_ns", (double)m.t_ns);
        cJSON_AddStringToObject(one, "party", m.party);
        cJSON_AddStringToObject(one, "who", m.who);
        add_expected(one, m.expect);
    }
    truth_volts(s, all);
    return all;
}

#include "cli/synth/synth.h"

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
        cJSON_AddNumberToObject(one, "frame", (double)m.frame);
        cJSON_AddNumberToObject(one, "t_ns", (double)m.t_ns);
        cJSON_AddStringToObject(one, "party", m.party);
        cJSON_AddStringToObject(one, "who", m.who);
        add_expected(one, m.expect);
    }
    return all;
}

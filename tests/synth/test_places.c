/*
 * What --list-faults prints can be made: for each fault and each time there is a scenario in tests/matrix/scenarios where the model
 * finds a place for it, and says which frame shows it.
 */
#include "cli/synth/synth.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include <cjson/cJSON.h>
#include <dirent.h>

enum { SCENARIOS_MAX = 256, TEXT_BYTES = 1 << 16 };

static struct cJSON *scenarios[SCENARIOS_MAX];
static unsigned      scenario_count;

static struct cJSON *read_scenario(const char *name)
{
    static char text[TEXT_BYTES];
    char        path[1024];
    FILE       *file;
    size_t      n;

    snprintf(path, sizeof path, "%s/%s", SCENARIOS_DIR, name);
    file = fopen(path, "r");
    assert_non_null(file);
    n = fread(text, 1, sizeof text - 1, file);
    fclose(file);
    text[n] = '\0';
    return cJSON_Parse(text);
}

static int read_scenarios(void **state)
{
    DIR           *dir = opendir(SCENARIOS_DIR);
    struct dirent *entry;

    (void)state;
    while (dir && (entry = readdir(dir)) && scenario_count < SCENARIOS_MAX)
        if (strstr(entry->d_name, ".json") && strcmp(entry->d_name, "random.json") != 0)
            scenarios[scenario_count++] = read_scenario(entry->d_name);
    if (dir)
        closedir(dir);
    return scenario_count < 10 || scenario_count == SCENARIOS_MAX; /* or some were left out */
}

static int free_scenarios(void **state)
{
    (void)state;
    while (scenario_count)
        cJSON_Delete(scenarios[--scenario_count]);
    return 0;
}

/* Does the model find a place for it there, and a frame? */
static bool made_in(const struct cJSON *scenario, const char *name, const char *variant, double amount_ms)
{
    struct cJSON        *own = cJSON_Duplicate(scenario, true), *list = cJSON_AddArrayToObject(own, "faults"), *one = cJSON_CreateObject();
    struct synth_trouble trouble;
    struct synth_record  r;
    struct synth        *s;
    bool                 made = false;

    cJSON_AddStringToObject(one, "fault", name);
    if (variant)
        cJSON_AddStringToObject(one, "variant", variant);
    if (amount_ms > 0)
        cJSON_AddNumberToObject(one, "amount_ms", amount_ms);
    cJSON_AddItemToArray(list, one);
    s = synth_open(own, 1, &trouble);
    cJSON_Delete(own);
    if (!s)
        fail_msg("%s %s: %s: %s", name, variant ? variant : "", trouble.path, trouble.text);
    while (synth_next(s, &r))
        continue;
    made = synth_made(s, 0).made && synth_made(s, 0).frame > 1 && synth_made(s, 0).who[0];
    synth_close(s);
    return made;
}

static bool made_anywhere(const char *name, const char *variant, double amount_ms)
{
    for (unsigned k = 0; k < scenario_count; k++)
        if (made_in(scenarios[k], name, variant, amount_ms))
            return true;
    return false;
}

static void for_every_fault_there_is_a_scenario_with_a_place_for_it(void **state)
{
    const struct synth_fault *f;
    unsigned                  without = 0;

    (void)state;
    for (unsigned k = 0; (f = synth_fault_row(k)); k++)
        if (!made_anywhere(f->name, f->variant, 0)) {
            print_error("%s %s: no place\n", f->name, f->variant ? f->variant : "");
            without++;
        }
    assert_int_equal(without, 0);
}

/* A time without a row of its own takes an amount. */
static void for_every_time_there_is_a_scenario_with_a_place_for_it(void **state)
{
    const struct synth_number *n;
    unsigned                   without = 0, times = 0;

    (void)state;
    for (unsigned k = 0; (n = synth_number_row(k)); k++)
        if (strncmp(n->timer, "time.", 5) == 0 && ++times && !made_anywhere(n->timer, NULL, 30)) {
            print_error("%s: no place\n", n->timer);
            without++;
        }
    assert_int_equal(without, 0);
    assert_true(times > 30);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(for_every_fault_there_is_a_scenario_with_a_place_for_it),
        cmocka_unit_test(for_every_time_there_is_a_scenario_with_a_place_for_it),
    };

    return cmocka_run_group_tests(tests, read_scenarios, free_scenarios);
}

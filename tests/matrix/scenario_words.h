/*
 * tests/matrix/scenario_words.h - from the words of a table to a scenario: its file, what is made wrong in it, what is hidden.
 */
#pragma once
#include <stdbool.h>

struct cJSON;

struct cJSON *scenario_named(const char *name); /* of tests/matrix/scenarios; aborts with a message if it cannot be read */

/* After each plugging in nothing happens for a while: what comes then stands alone, and no mark lies near it. */
void scenario_add_quiet(struct cJSON *scenario);

/* "name [variant] [amount in ms, or as in 8550mV, 2100mA] [key=value ...]", several with ; between. "": nothing is added. */
void scenario_add_faults(struct cJSON *scenario, const char *words);
/* The same for blinds; and "clock key=value ...", which is how exact the instrument is. */
void scenario_add_blinds(struct cJSON *scenario, const char *words);

/* Does the model make all of these faults? Times are made by the name of their rule. */
bool model_makes(const char *words);

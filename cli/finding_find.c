#include "cli/finding_find.h"

#include "cli/fault_text.h"
#include "cli/rule_names.h"
#include "rules/parameter.h"

#include <inttypes.h>
#include <stdlib.h>

bool finding_find(const char *path, const struct options *options, const struct check_words *words, uint64_t number, struct finding *found)
{
    struct check_settings *settings = malloc(sizeof *settings);
    struct check           c;
    uint64_t               at = 0;

    if (!settings) {
        complain("%s: out of memory; close something and try again", subject_of(path));
        return false;
    }
    if (!check_settings_read(settings, "cut", words) || !check_run(&c, path, options, settings)) {
        check_settings_free(settings);
        return false;
    }
    uint64_t count = finding_list_count(&c.findings);

    while (at != number && finding_list_next(&c.findings, found, &at))
        ;
    if (at != number || number == 0)
        complain("%s: there is no finding %" PRIu64 ": %s", subject_of(path), number,
                 count ? "check numbers them from 1" : "check finds nothing to complain of");
    /* The row and the parameter are copies that go with the settings: the catalogue's own stay. */
    bool done = number > 0 && at == number;

    if (done)
        found->rule = rule_find(found->rule->id);
    if (done && found->parameter)
        found->parameter = parameter_find(found->parameter->name);
    check_free(&c);
    check_settings_free(settings);
    return done;
}

/* portassay ports: what can be recorded from, now. */
#include "cli/command.h"
#include "cli/fault_text.h"
#include "cli/json_out.h"
#include "cli/options.h"
#include "cli/out.h"

#include "cli/sources.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FOUND_MAX = 256, FROM_WIDTH = 40 };

struct found_list {
    struct live_found *items;
    unsigned           count, left_out;
};

static const char details[] =
    "Each line begins with what record --from takes. Serial devices are listed by their lasting names; whether they print the text form "
    "of a trace only you know. Named pipes and standard input can always be recorded from: --from text:PATH, --from text:-\n";

static void take(void *context, const struct live_found *one)
{
    struct found_list *l = context;

    if (l->count == FOUND_MAX)
        l->left_out++;
    else
        l->items[l->count++] = *one;
}

static void print_text(struct out *o, const struct found_list *l, bool quiet)
{
    for (unsigned k = 0; k < l->count; k++) {
        const struct live_found *f = &l->items[k];

        out_clean_wide(o, f->from, strlen(f->from), strlen(f->from) > FROM_WIDTH ? strlen(f->from) : FROM_WIDTH);
        out_text(o, "  ");
        out_clean(o, f->what, strlen(f->what));
        if (f->ports >= 0) {
            out_text(o, f->ports == 1 ? ", 1 port" : ", ");
            if (f->ports != 1) {
                out_i64(o, f->ports);
                out_text(o, " ports");
            }
        }
        if (f->uncertainty[0]) {
            out_text(o, ", ");
            out_clean(o, f->uncertainty, strlen(f->uncertainty));
        }
        out_line(o);
    }
    if (l->count == 0 && !quiet) {
        out_text(o, "Nothing found to record from; a script or an instrument of yours can speak the text form (record --from text:PATH).");
        out_line(o);
    }
}

static void print_json(struct out *o, const struct found_list *l)
{
    struct json j = json_over(o);

    json_object(&j, NULL);
    json_i64(&j, "schema", 1);
    json_array(&j, "sources");
    for (unsigned k = 0; k < l->count; k++) {
        const struct live_found *f = &l->items[k];

        json_object(&j, NULL);
        json_text(&j, "from", f->from);
        json_text(&j, "what", f->what);
        if (f->serial[0])
            json_text(&j, "serial", f->serial);
        if (f->ports >= 0)
            json_i64(&j, "ports", f->ports);
        else
            json_null(&j, "ports");
        if (f->uncertainty[0])
            json_text(&j, "uncertainty", f->uncertainty);
        json_object_end(&j);
    }
    json_array_end(&j);
    json_object_end(&j);
    json_line(&j);
}

static int run(const struct command *self, int argc, char **argv)
{
    struct options    options;
    struct found_list list = { .items = NULL };
    int               status;

    if (!options_read(self, argc, argv, &options, NULL, &status))
        return status;
    struct out *o = out_open(&options);

    list.items = calloc(FOUND_MAX, sizeof *list.items);
    if (!list.items)
        complain("ports: out of memory; close something and try again");
    if (!o || !list.items) {
        free(list.items);
        out_close(o);
        return STATUS_NOT_DONE;
    }
    for (unsigned k = 0; sources_all[k]; k++)
        if (sources_all[k]->find)
            sources_all[k]->find(take, &list);
    if (options.json)
        print_json(o, &list);
    else
        print_text(o, &list, options.quiet);
    free(list.items);
    return out_close(o) ? STATUS_DONE : STATUS_NOT_DONE;
}

const struct command command_ports = {
    "ports", "", "what can be recorded from, now", details, COMMON_JSON | COMMON_OUTPUT | COMMON_QUIET, NULL, 0, 0, run,
};

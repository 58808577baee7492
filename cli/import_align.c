/* --align: its words, and the moves that the first pass gathers. */
#define _POSIX_C_SOURCE 200809L /* stat */
#include "cli/import_align.h"

#include "cli/fault_text.h"
#include "cli/import_align_inside.h"
#include "cli/options.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { TIME_BYTES = 64, VOLT_BAND_MV = 150, VOLT_LEAST_MV = 400, AMP_BAND_MA = 50, AMP_LEAST_MA = 150, MICRO = 1000 };

static bool wrong(const char *how)
{
    complain("import: --align %s: best, vbus, mark, mark:TEXT, offset:TIME or offset:TIME,UNCERTAINTY is expected", how);
    return false;
}

/* "1.25s,3ms" */
static bool offset_read(struct align_words *w, const char *text)
{
    const char *comma = strchr(text, ',');
    size_t      length = comma ? (size_t)(comma - text) : strlen(text);
    char        time[TIME_BYTES];

    if (length >= sizeof time)
        return false;
    snprintf(time, sizeof time, "%.*s", (int)length, text);
    return options_time(time, &w->offset_ns) && (!comma || (options_time(comma + 1, &w->offset_u_ns) && w->offset_u_ns > 0));
}

bool import_align_words(struct align_words *w, const char *how)
{
    *w = (struct align_words){ .how = ALIGN_BEST, .mark = "" };
    if (strcmp(how, "best") == 0)
        return true;
    if (strcmp(how, "vbus") == 0) {
        w->how = ALIGN_VBUS;
    } else if (strcmp(how, "mark") == 0 || strncmp(how, "mark:", 5) == 0) {
        w->how = ALIGN_MARK;
        w->mark = how[4] ? how + 5 : "";
    } else if (strncmp(how, "offset:", 7) == 0) {
        w->how = ALIGN_OFFSET;
        return offset_read(w, how + 7) || wrong(how);
    } else {
        return wrong(how);
    }
    return true;
}

bool import_align_reads(const struct align_words *w)
{
    return w->how != ALIGN_OFFSET;
}

bool import_align_again(const struct import_words *words, unsigned count)
{
    struct stat there;

    for (unsigned k = 0; k < count; k++) {
        bool piped = strcmp(words[k].path, "-") == 0 || (stat(words[k].path, &there) == 0 && !S_ISREG(there.st_mode) && !S_ISDIR(there.st_mode));

        if (piped) {
            complain("%s: cannot be read twice, as --align must; save it in a file first, or give the shift with --align offset:TIME",
                     subject_of(words[k].path));
            return false;
        }
    }
    return true;
}

bool import_align_offset(const struct align_words *w, const struct import_words *words, unsigned count, struct import_tie *ties)
{
    bool any = false;

    for (unsigned k = 0; k < count; k++) {
        if (words[k].kind != &import_meter_kind)
            continue;
        any = ties[k].tied = true;
        ties[k].shift_ns = w->offset_ns;
        ties[k].align_ns = (double)w->offset_u_ns;
    }
    if (!any)
        complain("import: --align offset: moves the logs of meters, and none is named; shift= moves any input");
    return any;
}

static void wire_found(void *context, const struct wire_move *m)
{
    struct import_align *a = context;

    if (a->wire_count == ALIGN_MOVES_MAX)
        a->too_many = true;
    else
        a->wire[a->wire_count++] = *m;
}

struct import_align *import_align_new(const struct align_words *words, unsigned inputs)
{
    struct import_align *a = calloc(1, sizeof *a);

    if (!a)
        return NULL;
    a->words = *words;
    a->inputs = inputs;
    a->of = calloc(inputs, sizeof *a->of);
    a->wire = calloc(ALIGN_MOVES_MAX, sizeof *a->wire);
    a->moves = wire_moves_new(wire_found, a);
    a->wire_from_ns = INT64_MAX;
    a->wire_to_ns = INT64_MIN;
    if (a->of && a->wire && a->moves)
        return a;
    import_align_free(a);
    return NULL;
}

void import_align_free(struct import_align *a)
{
    if (!a)
        return;
    for (unsigned k = 0; a->of && k < a->inputs; k++) {
        for (unsigned p = 0; p < 256; p++)
            free(a->of[k].ports[p]);
        free(a->of[k].volts);
        free(a->of[k].amps);
    }
    free(a->of);
    free(a->wire);
    wire_moves_free(a->moves);
    free(a);
}

static struct align_watch *watch_of(struct align_input *in, uint8_t port)
{
    if (!in->volts)
        in->volts = calloc(ALIGN_MOVES_MAX, sizeof *in->volts);
    if (!in->amps)
        in->amps = calloc(ALIGN_MOVES_MAX, sizeof *in->amps);
    if (!in->ports[port] && in->volts && in->amps && (in->ports[port] = malloc(sizeof *in->ports[port])) != NULL)
        *in->ports[port] = (struct align_watch){ move_watch_begin(VOLT_BAND_MV, VOLT_LEAST_MV), move_watch_begin(AMP_BAND_MA, AMP_LEAST_MA) };
    return in->ports[port];
}

static void reading_take(struct align_input *in, uint8_t port, struct move_watch *w, int64_t t_ns, int32_t micro, struct volt_move *list, unsigned *count)
{
    struct volt_move v = { .port = port };

    if (micro == RECORD_NO_READING || !move_watch_take(w, t_ns, micro / MICRO, &v.move))
        return;
    if (*count == ALIGN_MOVES_MAX)
        in->too_many = true;
    else
        list[(*count)++] = v;
}

static bool readings_take(struct align_input *in, const struct record *r)
{
    struct align_watch *w = watch_of(in, r->port);
    unsigned            amps = r->power.columns & RECORD_VBUS ? 1 : 0;

    if (!w)
        return false;
    if (!in->readings)
        in->from_ns = r->t_ns;
    in->readings = true;
    for (unsigned row = 0; row < r->power.rows; row++) {
        int64_t t_ns = r->t_ns + (int64_t)row * r->power.interval_ns;

        if (r->power.columns & RECORD_VBUS)
            reading_take(in, r->port, &w->volts, t_ns, record_cell(r, row, 0), in->volts, &in->volt_count);
        if (r->power.columns & RECORD_IBUS)
            reading_take(in, r->port, &w->amps, t_ns, record_cell(r, row, amps), in->amps, &in->amp_count);
        in->to_ns = t_ns;
    }
    return true;
}

static void mark_take(struct import_align *a, const struct record *r)
{
    char   text[256];
    size_t length = r->mark.length < sizeof text - 1 ? r->mark.length : sizeof text - 1;

    if (a->words.how != ALIGN_MARK || a->mark.there)
        return;
    if (length > 0)
        memcpy(text, r->mark.text, length);
    text[length] = '\0';
    /* What a program noted beside is no mark of the bench, unless it is asked for by its words. */
    if ((r->mark.action == RECORD_NOTE && !a->words.mark[0]) || !strstr(text, a->words.mark))
        return;
    a->mark = (struct align_mark){ .there = true, .host_time = r->flags & RECORD_HOST_TIME, .action = r->mark.action, .subject = r->mark.subject,
                                   .value = r->mark.value, .t_ns = r->t_ns };
}

bool import_align_take(struct import_align *a, unsigned input, int64_t t_ns, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    struct align_input *in = &a->of[input];
    struct record       r;

    record_read(bytes, length, false, stamp_ns, 1, &r);
    if (r.soundness != RECORD_SOUND)
        return true;
    if (r.kind == RECORD_POWER)
        return readings_take(in, &r);
    if (r.kind == RECORD_MARK)
        mark_take(a, &r);
    if (r.kind == RECORD_PD_PACKET || r.kind == RECORD_RESET_SIGNAL || r.kind == RECORD_CC_STATE) {
        in->wire = true;
        a->wire_from_ns = t_ns < a->wire_from_ns ? t_ns : a->wire_from_ns;
        a->wire_to_ns = t_ns > a->wire_to_ns ? t_ns : a->wire_to_ns;
    }
    return wire_moves_feed(a->moves, &r);
}

bool import_align_settle(struct import_align *a, struct import_input *inputs, bool quiet, struct import_tie *ties)
{
    bool any = false, done = true;

    wire_moves_end(a->moves);
    for (unsigned k = 0; k < a->inputs; k++) {
        if (!a->of[k].readings || a->of[k].wire)
            continue;
        any = true;
        done = align_input_tie(a, &inputs[k], quiet, &ties[k]) && done;
    }
    if (!any)
        complain("import: --align: no input has readings of VBUS or the current alone; name a meter's log, and the recording of the CC line");
    return any && done;
}

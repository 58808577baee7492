/* What sources have to say while they are recorded from. */
#include "cli/record_run.h"

#include "capture/json.h"
#include "cli/command.h"
#include "cli/fault_text.h"

#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum { NOTICES_SHOWN = 3, TEXT_BYTES = 300 };
/* How far apart two streams of a bench may be where one source is tied to the host by its arrivals: common practice, no source. */
static const char align_about[] = "{\"instrument\":{\"align_ns\":5000000}}";

static void unreadable_text(const struct live_notice *n, char *out, size_t room)
{
    bool text = n->words_length > 0 && utf8_valid(n->words, n->words_length);

    snprintf(out, room, "line %" PRIu64 " cannot be read and is passed over%s%.*s", n->number, text ? ": " : "",
             text ? (int)n->words_length : 0, n->words ? n->words : "");
}

static void notice_text(const struct live_notice *n, char *out, size_t room)
{
    int64_t ms = n->ns / 1000000;

    switch (n->news) {
    case LIVE_UNREADABLE:
        unreadable_text(n, out, room);
        return;
    case LIVE_OWN_CLOCK:
        snprintf(out, room, "has a clock of its own; tied to that of this machine by when its lines arrive");
        return;
    case LIVE_CLOCK_BACK:
        snprintf(out, room, "its clock went back by %" PRId64 " s; tied anew, and records may be missing", ms / 1000);
        return;
    case LIVE_GONE:
        snprintf(out, room, "is gone%s%s; recording goes on, and takes it up again when it comes back", n->sys ? ": " : "",
                 n->sys ? strerror(n->sys) : "");
        return;
    case LIVE_RETURNED:
        snprintf(out, room, "is back");
        return;
    case LIVE_ENDED:
        snprintf(out, room, "has come to its end");
        return;
    case LIVE_FOUND:
        snprintf(out, room, "recorded from: %" PRIu64 " port%s, from port %" PRId64 " on", n->number, n->number == 1 ? "" : "s", n->ns);
        return;
    case LIVE_REFUSED:
        snprintf(out, room, "cannot be opened: %.*s%s", (int)n->words_length, n->words,
                 n->sys == EACCES ? "; install the udev rules that come with " PORTASSAY_NAME ", and plug it in again" : "");
        return;
    case LIVE_UNSOUND_SELF:
        snprintf(out, room, "what it says of itself (DESCRIBE) cannot be; it is left alone");
        return;
    case LIVE_RESTARTED:
        snprintf(out, room, "began anew by itself; started again, and records may be missing");
        return;
    case LIVE_NO_CLOCK:
        snprintf(out, room, "does not answer CLOCK; its times are tied to this machine's by when its records arrive");
        return;
    case LIVE_TOO_MANY:
        snprintf(out, room, "is one too many, or has more ports than there are numbers; it is left alone");
        return;
    }
}

/* Into the trace goes what its reader has to know. */
static void note_keep(struct recorder *r, const struct live_source *from, const struct live_notice *n, const char *text)
{
    char note[MARK_TEXT_BYTES];

    if (n->news == LIVE_UNREADABLE || n->news == LIVE_ENDED || n->news == LIVE_FOUND)
        return;
    snprintf(note, sizeof note, "recorder: %.150s%s%.100s %.200s", from->name, n->who[0] ? " " : "", n->who, text);
    record_note(r, note);
    if (n->news == LIVE_OWN_CLOCK && !r->align_given) {
        r->align_given = true;
        record_about_put(r, align_about, sizeof align_about - 1);
    }
}

void record_notice(void *recorder, const struct live_source *from, const struct live_notice *n)
{
    struct recorder *r = recorder;
    char             text[TEXT_BYTES];
    unsigned         k = 0;

    while (k + 1 < r->count && r->sources[k] != from)
        k++;
    notice_text(n, text, sizeof text);
    note_keep(r, from, n, text);
    /* An end is what was to be expected where nothing else is recorded. */
    if (r->options->quiet || r->notices[k].counts[n->news]++ >= NOTICES_SHOWN ||
        (n->news == LIVE_ENDED && r->count == 1) || (n->news == LIVE_FOUND && !r->status.engine))
        return;
    status_clear(&r->status);
    complain("%s%s%s: %s", from->name, n->who[0] ? " " : "", n->who, text);
}

void record_notices_sum(struct recorder *r, uint64_t restamped)
{
    static const char *const what[LIVE_NEWS] = {
        [LIVE_UNREADABLE] = "lines that cannot be read", [LIVE_OWN_CLOCK] = "notices of its clock",
        [LIVE_CLOCK_BACK] = "steps back of its clock",   [LIVE_GONE] = "times gone",
        [LIVE_RETURNED] = "times back",                  [LIVE_ENDED] = "ends",
        [LIVE_FOUND] = "found",                          [LIVE_REFUSED] = "that cannot be opened",
        [LIVE_UNSOUND_SELF] = "that say what cannot be", [LIVE_RESTARTED] = "new beginnings",
        [LIVE_NO_CLOCK] = "without a clock",             [LIVE_TOO_MANY] = "too many",
    };

    if (restamped > 0 && !r->options->quiet)
        complain("record: %" PRIu64 " record%s came with times of more than a second ago or ahead, and got the time of arrival", restamped,
                 restamped == 1 ? "" : "s");
    for (unsigned k = 0; k < r->count && !r->options->quiet; k++)
        for (unsigned n = 0; n < LIVE_NEWS; n++)
            if (r->notices[k].counts[n] > NOTICES_SHOWN)
                complain("%s: %" PRIu64 " more %s", r->sources[k]->name, r->notices[k].counts[n] - NOTICES_SHOWN, what[n]);
}

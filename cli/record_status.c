#define _DEFAULT_SOURCE /* TIOCGWINSZ */
#include "cli/record_status.h"

#include "cli/record_marks.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

enum { COLUMNS_USUAL = 80, NS_PER_S = 1000000000 };

static void take_finding(void *context, const struct finding *f)
{
    struct record_status *s = context;

    if (f->verdict == VERDICT_FAIL && f->rule->level != LEVEL_NOTE)
        s->failed++;
}

bool status_start(struct record_status *s, bool wanted)
{
    struct engine_options options = { .since_ns = INT64_MIN, .until_ns = INT64_MAX, .finding = take_finding, .context = s };

    *s = (struct record_status){ .engine = NULL };
    if (wanted)
        s->engine = engine_new(&options);
    return s->engine || !wanted;
}

void status_end(struct record_status *s)
{
    status_clear(s);
    engine_free(s->engine);
    s->engine = NULL;
}

void status_take(struct record_status *s, const struct record *r)
{
    if (s->engine && !engine_feed(s->engine, r, false)) { /* no memory: the recording goes on without it */
        engine_free(s->engine);
        s->engine = NULL;
    }
}

struct words { char *out; size_t room, used; };

static void say(struct words *w, const char *format, ...) __attribute__((format(printf, 2, 3)));
static void say(struct words *w, const char *format, ...)
{
    va_list arguments;

    va_start(arguments, format);
    int n = vsnprintf(w->out + w->used, w->room - w->used, format, arguments);

    va_end(arguments);
    if (n > 0)
        w->used += (size_t)n < w->room - w->used ? (size_t)n : w->room - w->used - 1;
}

/* 9000 as "9", 3250 as "3.25". */
static void say_thousandths(struct words *w, int64_t value)
{
    int64_t part = value < 0 ? -(value % 1000) : value % 1000;

    say(w, "%s%" PRId64, value < 0 && value > -1000 ? "-" : "", value / 1000);
    if (part > 0)
        say(w, part % 100 == 0 ? ".%01" PRId64 : part % 10 == 0 ? ".%02" PRId64 : ".%03" PRId64,
            part % 100 == 0 ? part / 100 : part % 10 == 0 ? part / 10 : part);
}

static void say_contract(struct words *w, const struct contract *c)
{
    say(w, " holds ");
    say_thousandths(w, c->mv);
    say(w, " V, ");
    say_thousandths(w, c->mw > 0 ? c->mw : c->ma);
    say(w, c->mw > 0 ? " W granted" : " A granted");
}

static void say_drawn(struct words *w, const struct port *p)
{
    int64_t ma = ((int64_t)p->amps.least + p->amps.greatest) / 2 / 1000;

    if (!p->amps.any)
        return;
    say(w, ", ");
    say_thousandths(w, (ma < 0 ? ma - 5 : ma + 5) / 10 * 10); /* hundredths of an ampere are enough to look at */
    say(w, " A drawn");
}

static void say_port(struct words *w, const struct port *p, const struct about *about)
{
    char name[64];

    port_say(p->number, about, name, sizeof name);
    say(w, "; %s", name);
    if (p->contract.held)
        say_contract(w, &p->contract);
    else
        say(w, p->attached ? " plugged, no contract" : p->cc_seen ? " empty" : " no contract");
    if (p->attached || p->contract.held)
        say_drawn(w, p);
}

void status_words(const struct record_status *s, const struct about *about, uint64_t lost, int64_t ran_ns, const char *typed, char *out,
                  size_t room)
{
    struct words w = { out, room, 0 };
    int64_t      seconds = ran_ns / NS_PER_S;

    out[0] = '\0';
    if (typed[0]) {
        say(&w, "mark: %s", typed);
        return;
    }
    say(&w, s->failed == 1 ? "%" PRIu64 " finding" : "%" PRIu64 " findings", s->failed);
    say(&w, ", %" PRIu64 " lost, %" PRId64 ":%02" PRId64 ":%02" PRId64, lost, seconds / 3600, seconds / 60 % 60, seconds % 60);
    for (unsigned k = 0; k < RECORD_PORT_BENCH && s->engine; k++) {
        const struct port *p = bench_port(engine_bench(s->engine), k);

        if (p)
            say_port(&w, p, about);
    }
}

static size_t columns(void)
{
    struct winsize size;

    return ioctl(STDERR_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 1 ? size.ws_col - 1u : COLUMNS_USUAL - 1u;
}

/* Bytes of the first so many characters (UTF-8), control characters of a name made harmless by the caller's cut at the first of them. */
static size_t fitting(const char *text, size_t most)
{
    size_t at = 0, characters = 0;

    while (text[at] && (unsigned char)text[at] >= 0x20 && (unsigned char)text[at] != 0x7f) {
        if (((unsigned char)text[at] & 0xc0) != 0x80 && characters++ == most)
            break;
        at++;
    }
    return at;
}

void status_draw(struct record_status *s, const char *words, int64_t now_ns)
{
    char line[sizeof s->last];

    snprintf(line, sizeof line, "%.*s", (int)fitting(words, columns()), words);
    s->shown_ns = now_ns;
    if (s->shown && strcmp(line, s->last) == 0)
        return;
    fprintf(stderr, "\r%s\033[K", line);
    fflush(stderr);
    memcpy(s->last, line, sizeof line);
    s->shown = true;
}

void status_clear(struct record_status *s)
{
    if (s->shown)
        fputs("\r\033[K", stderr);
    s->shown = false;
}

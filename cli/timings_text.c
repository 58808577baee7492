/* Times and health, for people. */
#include "cli/check_text.h"
#include "cli/phrase.h"
#include "cli/time_text.h"
#include "cli/timings_tell.h"
#include "cli/trace_head.h"
#include "cli/who.h"
#include "decode/message.h"

#include <inttypes.h>

enum { GROUP_COLUMN = 2, DETAIL_COLUMN = 4, NUMBER_COLUMN = 32, ALLOWED_COLUMN = 82, TIMES_WIDTH = 8, NUMBER_WIDTH = 10,
       UNIT_WIDTH = 3, TEXT_COLUMN = 6, RESET_COLUMN = 8 };

/* The unit in which an amount of time is short. */
struct time_unit { const char *name; unsigned scale; };

static struct time_unit unit_for(int64_t ns)
{
    int64_t amount = ns < 0 ? -ns : ns;

    if (amount < 1000000)
        return (struct time_unit){ " us", 3 };
    return amount < INT64_C(1000000000) ? (struct time_unit){ " ms", 6 } : (struct time_unit){ " s ", 9 };
}

static void time_out(struct out *o, int64_t ns)
{
    struct time_unit u = unit_for(ns);

    out_fixed(o, ns, u.scale, 2, NUMBER_WIDTH - UNIT_WIDTH);
    out_text(o, u.name);
}

static void port_heading(struct out *o, const struct check *c, unsigned port, const char *title)
{
    char name[40];

    port_name(about_port(bench_about(engine_bench(c->engine)), (uint8_t)port), port, name, sizeof name);
    out_spaces(o, GROUP_COLUMN);
    out_style(o, OUT_STRONG);
    out_clean(o, name, strlen(name));
    out_style(o, OUT_PLAIN);
    out_text(o, title);
}

static void window_phrase(struct phrase *p, const struct window *w)
{
    struct time_unit u = unit_for(w->has_high ? w->high_ns : w->low_ns);

    if (w->has_low && w->has_high && w->low_ns != w->high_ns) {
        phrase_short(p, w->low_ns, u.scale);
        phrase_add(p, " to ");
        phrase_short(p, w->high_ns, u.scale);
        phrase_add(p, u.name);
        return;
    }
    if (!w->has_low && !w->has_high) {
        phrase_add(p, "any");
        return;
    }
    phrase_add(p, w->has_low && w->has_high ? "" : w->has_low ? "at least " : "at most ");
    phrase_short(p, w->has_high ? w->high_ns : w->low_ns, u.scale);
    phrase_add(p, u.name);
}

static void windows_out(struct out *o, const struct timer *m)
{
    for (unsigned k = 0; k < m->window_count; k++) {
        struct phrase p = phrase_empty();

        window_phrase(&p, &m->windows[k].window);
        out_column(o, ALLOWED_COLUMN);
        phrase_wrap(o, ALLOWED_COLUMN, p.text);
    }
    if (m->windows_left_out) {
        out_column(o, ALLOWED_COLUMN);
        out_text(o, "and others");
        out_line(o);
    }
}

/* -v: what the rule is about, whose the windows are, and how exact the times. */
static void timer_detail(struct out *o, const struct check *c, const struct timer *m, unsigned rule)
{
    struct phrase p = phrase_empty();

    phrase_format(&p, "%s (", c->settings->rules.rows[rule].title);
    for (unsigned k = 0; k < m->window_count; k++)
        if (m->windows[k].window.parameter && m->window_count > 1)
            phrase_format(&p, "%s (%" PRIu64 "), ", m->windows[k].window.parameter->name, m->windows[k].count);
        else if (m->windows[k].window.parameter)
            phrase_format(&p, "%s, ", m->windows[k].window.parameter->name);
    phrase_add(&p, "each known to +- ");
    phrase_short(&p, m->unsure_ns, 6);
    phrase_add(&p, " ms or better)");
    out_spaces(o, DETAIL_COLUMN);
    phrase_wrap(o, DETAIL_COLUMN, p.text);
}

/* Beyond what is allowed, as far as there is one window. */
static void extreme_out(struct out *o, const struct timer *m, int64_t ns)
{
    const struct window *w = &m->windows[0].window;
    bool                 beyond = m->window_count == 1 && ((w->has_low && ns < w->low_ns) || (w->has_high && ns > w->high_ns));

    out_style(o, beyond ? OUT_DOUBT : OUT_PLAIN);
    time_out(o, ns);
    out_style(o, OUT_PLAIN);
}

static void share_out(struct out *o, const struct timings *t, const struct timer *m, unsigned percent)
{
    int64_t ns;

    if (timings_share(t, m, percent, &ns)) {
        time_out(o, ns);
        return;
    }
    out_spaces(o, NUMBER_WIDTH - UNIT_WIDTH - 1);
    out_text(o, "-   ");
}

static void timer_out(struct out *o, const struct check *c, const struct timer *m, unsigned rule)
{
    out_spaces(o, DETAIL_COLUMN);
    out_text(o, c->settings->rules.rows[rule].id);
    out_column(o, NUMBER_COLUMN);
    out_u64_wide(o, m->count, TIMES_WIDTH);
    extreme_out(o, m, m->least_ns);
    share_out(o, c->timings, m, 50);
    share_out(o, c->timings, m, 95);
    extreme_out(o, m, m->greatest_ns);
    windows_out(o, m);
    if (c->options->verbose)
        timer_detail(o, c, m, rule);
}

static void port_timers(struct out *o, const struct check *c, unsigned port, bool *any)
{
    bool headed = false;

    for (unsigned k = 0; k < c->settings->rules.count; k++) {
        const struct timer *m = timings_timer(c->timings, port, k);

        if (!m || timer_is_bit_rate(m))
            continue;
        if (!headed) {
            port_heading(o, c, port, "");
            out_column(o, NUMBER_COLUMN);
            out_text(o, "   times     least    median 95 of 100  greatest  allowed");
            out_line(o);
        }
        headed = *any = true;
        timer_out(o, c, m, k);
    }
}

static void rate_phrase(struct phrase *p, uint64_t n, uint64_t messages)
{
    uint64_t tenths = messages ? (n * 10000 + messages / 2) / messages : 0;

    phrase_short(p, (int64_t)(tenths < INT64_MAX ? tenths : INT64_MAX), 1);
}

static void counts_phrase(struct phrase *p, const struct health *h)
{
    phrase_count(p, h->messages, "message", "messages");
    phrase_format(p, ", %" PRIu64 " repeated and %" PRIu64 " with a wrong CRC", h->repeats, h->crc_errors);
    if (h->messages) {
        phrase_add(p, " (on 1000: ");
        rate_phrase(p, h->repeats, h->messages);
        phrase_add(p, " and ");
        rate_phrase(p, h->crc_errors, h->messages);
        phrase_add(p, ")");
    }
    phrase_format(p, ". Never acknowledged: %" PRIu64 " by a port partner, %" PRIu64 " by a plug of the cable.", h->unacknowledged[0],
                  h->unacknowledged[1]);
}

static const char *const reset_words[RESET_KINDS] = { "Hard Reset", "Soft_Reset", "Cable Reset" };

static void resets_phrase(struct phrase *p, const struct health *h)
{
    phrase_format(p, "Hard Resets: %" PRIu64 ", Soft_Resets: %" PRIu64 ", Cable Resets: %" PRIu64, h->resets[RESET_HARD],
                  h->resets[RESET_SOFT], h->resets[RESET_CABLE]);
    phrase_add(p, h->before_count ? ". What came before them:" : ".");
}

/* "30.2 to 31.1 ms after " */
static void wait_phrase(struct phrase *p, const struct before_row *b)
{
    if (b->least_ns > b->greatest_ns)
        return;
    span_text(p, b->least_ns);
    if (b->greatest_ns != b->least_ns) {
        phrase_add(p, " to ");
        span_text(p, b->greatest_ns);
    }
    phrase_add(p, " after ");
}

static const char *message_called(unsigned index)
{
    const struct message_kind *kind = index && index < MESSAGE_INDEXES ? message_kind(index) : NULL;

    return kind && kind->name ? kind->name : "a message";
}

static void before_phrase(struct phrase *p, const struct before_row *b)
{
    wait_phrase(p, b);
    switch ((enum before)b->before) {
    case BEFORE_LOST:     phrase_add(p, "the last packet; records are missing in between"); break;
    case BEFORE_RESET:    phrase_add(p, "the last packet; another reset came before, and no contract since"); break;
    case BEFORE_UNHEARD:  phrase_format(p, "%s, which nobody acknowledged", message_called(b->index)); break;
    case BEFORE_READY:    phrase_add(p, "the last packet; a Request was accepted and PS_RDY did not come"); break;
    case BEFORE_SWAP:     phrase_add(p, "the last packet; a swap was under way"); break;
    case BEFORE_QUESTION: phrase_format(p, "the last packet; %s had no answer", message_called(b->index)); break;
    case BEFORE_MARK:     phrase_add(p, "the last packet; a mark of the bench stands just before"); break;
    case BEFORE_NOTHING:  phrase_add(p, "nothing was said before it"); break;
    case BEFORE_SILENCE:  phrase_add(p, "the last packet, with nothing left open"); break;
    case BEFORE_MESSAGE:  phrase_format(p, "%s, with nothing left open", message_called(b->index)); break;
    case BEFORE_KINDS:    break;
    }
    phrase_format(p, b->count == 1 ? " (frame %" PRIu64 ")" : " (first: frame %" PRIu64 ")", b->frame);
}

/* Lengths of 1000 bits, told as what they say of the rate. */
static void rates_phrase(struct phrase *p, const struct check *c, unsigned port)
{
    for (unsigned k = 0; k < c->settings->rules.count; k++) {
        const struct timer *m = timings_timer(c->timings, port, k);
        int64_t             middle_ns;

        if (!m || !timer_is_bit_rate(m))
            continue;
        phrase_add(p, "Bits came at ");
        phrase_short(p, timer_bit_rate(m->greatest_ns), 3);
        if (m->least_ns != m->greatest_ns) {
            phrase_add(p, " to ");
            phrase_short(p, timer_bit_rate(m->least_ns), 3);
        }
        phrase_add(p, " kbit/s");
        if (timings_share(c->timings, m, 50, &middle_ns)) {
            phrase_add(p, ", median ");
            phrase_short(p, timer_bit_rate(middle_ns), 3);
        }
        phrase_format(p, " (%" PRIu64 " packets).", m->count);
    }
}

static void port_health(struct out *o, const struct check *c, unsigned port, const struct health *h)
{
    struct phrase counts = phrase_empty(), resets = phrase_empty(), rates = phrase_empty();

    port_heading(o, c, port, "");
    out_line(o);
    counts_phrase(&counts, h);
    out_spaces(o, DETAIL_COLUMN);
    phrase_wrap(o, DETAIL_COLUMN, counts.text);
    rates_phrase(&rates, c, port);
    if (rates.used) {
        out_spaces(o, DETAIL_COLUMN);
        phrase_wrap(o, DETAIL_COLUMN, rates.text);
    }
    resets_phrase(&resets, h);
    out_spaces(o, DETAIL_COLUMN);
    phrase_wrap(o, DETAIL_COLUMN, resets.text);
    for (unsigned k = 0; k < h->before_count; k++) {
        struct phrase p = phrase_empty();

        phrase_format(&p, "%" PRIu64 " x %s: ", h->befores[k].count, reset_words[h->befores[k].reset]);
        before_phrase(&p, &h->befores[k]);
        out_spaces(o, TEXT_COLUMN);
        phrase_wrap(o, RESET_COLUMN, p.text);
    }
    if (h->befores_left_out) {
        struct phrase p = phrase_empty();

        phrase_format(&p, "%" PRIu64 " more, after other things; --since and --until pick a part", h->befores_left_out);
        out_spaces(o, TEXT_COLUMN);
        phrase_wrap(o, RESET_COLUMN, p.text);
    }
}

static void heading(struct out *o, const char *title, const char *more)
{
    out_line(o);
    out_style(o, OUT_STRONG);
    out_text(o, title);
    out_style(o, OUT_PLAIN);
    out_text(o, more);
    out_line(o);
}

void timings_text(struct out *o, struct check *c)
{
    bool any = false;

    check_head_text(o, c);
    heading(o, "Times", ", from every occasion that a rule measured, decided or not");
    for (unsigned port = 0; port < TIMINGS_PORTS; port++)
        port_timers(o, c, port, &any);
    if (!any)
        phrase_wrap(o, 0, "No rule found anything to measure.");
    heading(o, "Health of the talk", "");
    any = false;
    for (unsigned port = 0; port < TIMINGS_PORTS; port++) {
        const struct health *h = timings_health(c->timings, port);

        if (!h)
            continue;
        any = true;
        port_health(o, c, port, h);
    }
    if (!any)
        phrase_wrap(o, 0, "No message was recorded.");
}

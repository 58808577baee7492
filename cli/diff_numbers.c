/* Verdicts, times and volts: numbers beside numbers, each with what it is worth. */
#include "cli/behaviour.h"
#include "cli/diff.h"
#include "cli/volts.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>

/*
 * Coverage of a median over a random sample. Ours: some 60 timers are compared in one go, so that 4 standard errors are taken rather
 * than 2. A standard error of the median is 1.2533 s / sqrt(n) (normal distribution); s is half of what the middle 68 % span.
 */
#define SAMPLE_COVERAGE 4.0
#define MEDIAN_ERROR    1.2533
enum { SHARE_LOW = 16, SHARE_MIDDLE = 50, SHARE_HIGH = 84, BIN_UV = 500 };

double diff_e_n(double x, double ux, double y, double uy)
{
    double both = sqrt(ux * ux + uy * uy), apart = fabs(x - y);

    if (both <= 0)
        return apart > 0 ? INFINITY : 0;
    return apart / both;
}

static struct difference difference_of(enum difference_kind kind, unsigned port_a, unsigned port_b, uint8_t weight)
{
    return (struct difference){ .kind = (uint8_t)kind, .port_a = (uint8_t)port_a, .port_b = (uint8_t)port_b, .weight = weight,
                                .occasions = 1 };
}

/* Verdicts. */

enum verdict diff_verdict_of(const struct check *c, unsigned rule, unsigned port)
{
    struct counts n = engine_port_counts(c->engine, rule, port);

    if (n.failed)
        return VERDICT_FAIL;
    if (n.undecided)
        return VERDICT_UNDECIDED;
    return n.passed ? VERDICT_PASS : VERDICT_NOT_SEEN;
}

/* Where one of them could not be decided, or the other simply gave no occasion to pass, nothing is known to differ. */
bool diff_verdict_differs(enum verdict a, enum verdict b)
{
    return a != b && (a == VERDICT_FAIL || b == VERDICT_FAIL) && a != VERDICT_UNDECIDED && b != VERDICT_UNDECIDED;
}

/* Frames of the findings of that rule, and whom they are about. */
static void verdict_frames(struct difference *x, unsigned side, const struct check *c, const struct rule *rule, unsigned port, bool *device)
{
    struct finding_list *list = (struct finding_list *)(uintptr_t)&c->findings; /* reading moves its place alone */
    struct finding       f;
    uint64_t             number;

    finding_list_rewind(list);
    while (finding_list_next(list, &f, &number))
        if (f.rule == rule && f.port == port && f.verdict == VERDICT_FAIL) {
            difference_frame(x, side, f.frame);
            *device = *device || check_decides(c, &f);
        }
}

static uint8_t verdict_weight(const struct rule *r, bool device)
{
    static const uint8_t weights[] = { [LEVEL_MUST] = 100, [LEVEL_SHOULD] = 58, [LEVEL_CLAIM] = 99, [LEVEL_NOTE] = 15 };

    if (r->level > LEVEL_NOTE)
        return 0;
    return device || r->level == LEVEL_NOTE ? weights[r->level] : 46;
}

static void verdict_compare(struct diff *d, unsigned port_a, unsigned port_b, unsigned rule, enum verdict a, enum verdict b)
{
    static const char *const ways[] = { "met", "not met", "not decided", "without an occasion" };
    const struct rule       *row = &d->a->settings->rules.rows[rule];
    struct difference        x = difference_of(DIFF_VERDICT, port_a, port_b, 0);
    struct phrase            text = phrase_empty(), side[2] = { phrase_empty(), phrase_empty() };
    bool                     device = false;

    verdict_frames(&x, 0, d->a, &d->a->settings->rules.rows[rule], port_a, &device);
    verdict_frames(&x, 1, d->b, &d->b->settings->rules.rows[rule], port_b, &device);
    x.weight = verdict_weight(row, device);
    phrase_format(&text, "Rule %s is %s in A and %s in B: %s.", row->id, ways[a], ways[b], row->title);
    phrase_add(&side[0], verdict_name(a));
    phrase_add(&side[1], verdict_name(b));
    difference_side(&x, 0, &side[0]);
    difference_side(&x, 1, &side[1]);
    difference_text(&x, &text);
    diff_add(d, &x);
}

static void note_one_sided(struct diff_notes *n, const char *id)
{
    size_t used = strlen(n->one_sided_rules);

    n->one_sided++;
    if (strstr(n->one_sided_rules, id) == NULL && used + strlen(id) + 3 < sizeof n->one_sided_rules) {
        if (used)
            strcat(n->one_sided_rules, ", ");
        strcat(n->one_sided_rules, id);
    }
}

void diff_verdicts(struct diff *d, unsigned port_a, unsigned port_b)
{
    for (unsigned k = 0; k < engine_rules(d->a->engine); k++) {
        enum verdict a, b;

        if (!check_tells(d->a, k))
            continue;
        a = diff_verdict_of(d->a, k, port_a);
        b = diff_verdict_of(d->b, k, port_b);
        d->notes.rules += a != VERDICT_NOT_SEEN && b != VERDICT_NOT_SEEN;
        if (diff_verdict_differs(a, b))
            verdict_compare(d, port_a, port_b, k, a, b);
        else if (a != b)
            note_one_sided(&d->notes, d->a->settings->rules.rows[k].id);
    }
}

/* Times. */

struct typical { double value, uncertainty; int64_t median_ns; };

static bool typical_of(const struct timings *t, const struct timer *m, struct typical *y)
{
    int64_t low_ns, high_ns;

    if (m->count < DIFF_TIMES || !timings_share(t, m, SHARE_LOW, &low_ns) || !timings_share(t, m, SHARE_MIDDLE, &y->median_ns) ||
        !timings_share(t, m, SHARE_HIGH, &high_ns))
        return false;
    double s = (double)(high_ns - low_ns) / 2, step = (double)y->median_ns / 2000 + 500; /* half of a step of the histogram */
    double sampled = SAMPLE_COVERAGE * MEDIAN_ERROR * s / sqrt((double)m->count), unsure = (double)m->unsure_ns;

    y->value = (double)y->median_ns;
    y->uncertainty = sqrt(sampled * sampled + unsure * unsure + step * step);
    return true;
}

static void typical_phrase(struct phrase *p, const struct timer *m, const struct typical *y)
{
    if (timer_is_bit_rate(m)) {
        phrase_short(p, timer_bit_rate(y->median_ns), 3);
        phrase_add(p, " kbit/s");
    } else if (y->median_ns >= INT64_C(1000000000)) {
        phrase_short(p, y->median_ns / 1000000, 3);
        phrase_add(p, " s");
    } else {
        phrase_short(p, y->median_ns / 1000, 3);
        phrase_add(p, " ms");
    }
    phrase_format(p, " (%" PRIu64 " times)", m->count);
}

static void timer_compare(struct diff *d, unsigned port_a, unsigned port_b, unsigned rule)
{
    const struct timer *a = timings_timer(d->a->timings, port_a, rule), *b = timings_timer(d->b->timings, port_b, rule);
    struct typical      x, y;

    if (!a || !b)
        return;
    if (!typical_of(d->a->timings, a, &x) || !typical_of(d->b->timings, b, &y)) {
        d->notes.few++;
        return;
    }
    d->notes.timers++;
    double e_n = diff_e_n(x.value, x.uncertainty, y.value, y.uncertainty);

    if (e_n <= 1)
        return;
    struct difference z = difference_of(DIFF_TIMER, port_a, port_b, 35);
    struct phrase     text = phrase_empty(), side[2] = { phrase_empty(), phrase_empty() };

    typical_phrase(&side[0], a, &x);
    typical_phrase(&side[1], b, &y);
    phrase_format(&text, "What rule %s measures has its median at %s in A and %s in B (E_n %.1f).",
                  d->a->settings->rules.rows[rule].id, side[0].text, side[1].text, e_n);
    difference_side(&z, 0, &side[0]);
    difference_side(&z, 1, &side[1]);
    difference_text(&z, &text);
    diff_add(d, &z);
}

void diff_timers(struct diff *d, unsigned port_a, unsigned port_b)
{
    for (unsigned k = 0; k < engine_rules(d->a->engine); k++)
        if (check_tells(d->a, k))
            timer_compare(d, port_a, port_b, k);
}

/* Volts. */

static const struct volt_line *line_of(const struct check *c, unsigned port, uint64_t frame)
{
    const struct volt_line *l;

    for (size_t k = 0; (l = volts_line(c->volts, k)) != NULL; k++)
        if (l->port == port && l->agreed && l->contract.frame == frame && l->median_known && l->margin.known)
            return l;
    return NULL;
}

/* How well the settled voltage is known: the reading, half a bin of the median, and what load and drift made of it. */
static double line_uncertainty(const struct volt_line *l)
{
    double reading = (double)l->margin.u_uv, spread = (double)(l->most.uv - l->least.uv) / 2;

    return sqrt(reading * reading + spread * spread + (double)BIN_UV * BIN_UV);
}

static void line_phrase(struct phrase *p, const struct volt_line *l)
{
    phrase_short(p, (l->median_uv + 500) / 1000, 3);
    phrase_add(p, " V +- ");
    phrase_short(p, (int64_t)(line_uncertainty(l) / 1000 + 0.5), 3);
    phrase_add(p, " V");
}

static void lines_compare(struct diff *d, unsigned port_a, unsigned port_b, const struct deed *k, const struct volt_line *a,
                          const struct volt_line *b)
{
    double            e_n = diff_e_n((double)a->median_uv, line_uncertainty(a), (double)b->median_uv, line_uncertainty(b));
    struct difference x = difference_of(DIFF_VOLTAGE, port_a, port_b, 60);
    struct phrase     text = phrase_empty(), side[2] = { phrase_empty(), phrase_empty() };

    d->notes.voltages++;
    if (e_n <= 1)
        return;
    line_phrase(&side[0], a);
    line_phrase(&side[1], b);
    phrase_add(&text, "In the ");
    deed_phrase(&text, k);
    phrase_format(&text, " VBUS settles at %s in A and %s in B (E_n %.1f).", side[0].text, side[1].text, e_n);
    difference_frame(&x, 0, a->contract.frame);
    difference_frame(&x, 1, b->contract.frame);
    difference_side(&x, 0, &side[0]);
    difference_side(&x, 1, &side[1]);
    difference_text(&x, &text);
    diff_add(d, &x);
}

void diff_voltages(struct diff *d, unsigned port_a, unsigned port_b, const struct diff_alignment *al)
{
    for (size_t k = 0; k < al->a_count; k++) {
        const struct deed *a = al->a[k], *b = al->partner[k] != DIFF_ALONE ? al->b[al->partner[k]] : NULL;

        if (!b || a->kind != DEED_CONTRACT || !deed_same(a, b))
            continue;
        const struct volt_line *x = line_of(d->a, port_a, a->frame), *y = line_of(d->b, port_b, b->frame);

        if (x && y)
            lines_compare(d, port_a, port_b, a, x, y);
    }
}

#include "cli/check_follow.h"

#include "cli/check_json.h"
#include "cli/finding_text.h"
#include "cli/json_out.h"
#include "cli/out.h"
#include "cli/record_marks.h"

enum { TIME_WIDTH = 12, INDENT = 16, PORT_BYTES = 64 };

/* How firm it is. */
enum follow { FOLLOW_CLOSED, FOLLOW_SO_FAR, FOLLOW_BACK };

static void follow_head(struct out *o, const struct check *c, const struct finding *f, enum follow firm)
{
    char port[PORT_BYTES];

    port_say(f->port, bench_about(engine_bench(c->engine)), port, sizeof port);
    out_seconds(o, f->t_ns - c->zero_ns, TIME_WIDTH);
    out_text(o, " s  ");
    out_clean(o, port, strlen(port));
    out_text(o, "  ");
    out_style(o, f->rule->level == LEVEL_NOTE || firm == FOLLOW_BACK ? OUT_PLAIN : OUT_BAD);
    out_text(o, f->rule->id);
    out_style(o, OUT_PLAIN);
    out_text(o, " (");
    out_text(o, level_name(f->rule->level));
    if (!check_decides(c, f)) { /* said, but not held against the device */
        out_text(o, ", ");
        out_text(o, party_name(f->party));
    }
    if (firm == FOLLOW_SO_FAR)
        out_text(o, ", so far");
    out_text(o, ")");
}

static void follow_text(struct out *o, const struct check *c, const struct finding *f, enum follow firm)
{
    struct phrase text = phrase_empty();

    if (firm == FOLLOW_BACK)
        phrase_format(&text, "taken back: what was recorded since says otherwise, or is told instead");
    else
        finding_text(&text, f);
    follow_head(o, c, f, firm);
    out_line(o);
    out_spaces(o, INDENT);
    out_words(o, text.text, text.used, INDENT);
    out_line(o);
}

static void follow_tell(struct out *o, const struct check *c, const struct finding *f, enum follow firm)
{
    static const char *const names[] = { [FOLLOW_SO_FAR] = "so_far", [FOLLOW_BACK] = "taken_back" };

    if (c->options->json) {
        struct json j = json_over(o);

        finding_json_told(&j, f, c->zero_ns, names[firm]);
        json_line(&j);
    } else {
        follow_text(o, c, f, firm);
    }
    out_flush(o);
}

void check_follow(struct out *o, const struct check *c, const struct finding *f)
{
    if (f->verdict == VERDICT_FAIL)
        follow_tell(o, c, f, FOLLOW_CLOSED);
}

void check_follow_early(struct out *o, const struct check *c, const struct finding *f)
{
    follow_tell(o, c, f, FOLLOW_SO_FAR);
}

void check_follow_back(struct out *o, const struct check *c, const struct finding *f)
{
    follow_tell(o, c, f, FOLLOW_BACK);
}

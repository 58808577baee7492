#include "cli/check_follow.h"

#include "cli/check_json.h"
#include "cli/finding_text.h"
#include "cli/json_out.h"
#include "cli/out.h"
#include "cli/record_marks.h"

enum { TIME_WIDTH = 12, INDENT = 16, PORT_BYTES = 64 };

static void follow_text(struct out *o, const struct check *c, const struct finding *f)
{
    struct phrase text = phrase_empty();
    char          port[PORT_BYTES];

    port_say(f->port, bench_about(engine_bench(c->engine)), port, sizeof port);
    finding_text(&text, f);
    out_seconds(o, f->t_ns - c->zero_ns, TIME_WIDTH);
    out_text(o, " s  ");
    out_clean(o, port, strlen(port));
    out_text(o, "  ");
    out_style(o, f->rule->level == LEVEL_NOTE ? OUT_PLAIN : OUT_BAD);
    out_text(o, f->rule->id);
    out_style(o, OUT_PLAIN);
    out_text(o, " (");
    out_text(o, level_name(f->rule->level));
    if (!check_decides(c, f)) { /* said, but not held against the device */
        out_text(o, ", ");
        out_text(o, party_name(f->party));
    }
    out_text(o, ")");
    out_line(o);
    out_spaces(o, INDENT);
    out_words(o, text.text, text.used, INDENT);
    out_line(o);
}

void check_follow(struct out *o, const struct check *c, const struct finding *f)
{
    if (f->verdict != VERDICT_FAIL)
        return;
    if (c->options->json) {
        struct json j = json_over(o);

        finding_json(&j, NULL, f, c->zero_ns);
        json_line(&j);
    } else {
        follow_text(o, c, f);
    }
    out_flush(o);
}

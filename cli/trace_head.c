#include "cli/trace_head.h"

#include "cli/fault_text.h"
#include "cli/time_text.h"

#include <cjson/cJSON.h>
#include <inttypes.h>

/* Times before 1980 are counted from a start, not from 1970: there is no date to show. */
#define DATED_FROM_NS INT64_C(315532800000000000)

bool device_phrase(struct phrase *p, const struct about *a)
{
    static const struct { const char *key, *lead; } keys[] = { { "device", "" }, { "sample", "sample " }, { "firmware", "firmware " } };

    for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++) {
        const cJSON *value = cJSON_GetObjectItemCaseSensitive(about_json(a), keys[k].key);

        if (!cJSON_IsString(value) || !value->valuestring[0])
            continue;
        phrase_add(p, p->used ? ", " : "");
        phrase_add(p, keys[k].lead);
        phrase_add(p, value->valuestring);
    }
    return p->used > 0;
}

void trace_phrase(struct phrase *p, const char *path, const struct trace_facts *f)
{
    phrase_add(p, subject_of(path));
    if (f->has_zero) {
        phrase_add(p, ", ");
        if (f->zero_ns >= DATED_FROM_NS)
            date_text(p, f->zero_ns);
        phrase_add(p, f->zero_ns >= DATED_FROM_NS ? ", " : "");
        span_text(p, f->last_ns > f->zero_ns ? f->last_ns - f->zero_ns : 0);
    }
    phrase_add(p, ", ");
    phrase_count(p, f->records, "record", "records");
}

static void caution(struct phrase *p, uint64_t n, const char *one, const char *many)
{
    if (n == 0)
        return;
    phrase_add(p, p->used ? "; " : "");
    phrase_count(p, n, one, many);
}

bool trace_caution_phrase(struct phrase *p, const struct trace_facts *f, const char *about_path)
{
    if (f->invented)
        phrase_add(p, "holds INVENTED records: made up for a test or a demonstration");
    if (f->cut_off)
        phrase_add(p, p->used ? "; cut off" : "cut off");
    if (f->lost_unknown)
        phrase_add(p, p->used ? "; records are missing, nobody knows how many" : "records are missing, nobody knows how many");
    else
        caution(p, f->lost, "record is missing", "records are missing");
    caution(p, f->damaged, "damaged record passed over", "damaged records passed over");
    caution(p, f->unreadable, "unreadable record passed over", "unreadable records passed over");
    caution(p, f->unknown, "record of a kind unknown here", "records of a kind unknown here");
    caution(p, f->time_steps, "step back in time", "steps back in time");
    if (about_path)
        phrase_format(p, "%sABOUT overridden by %s", p->used ? "; " : "", about_path);
    return p->used > 0;
}

void trace_head_text(struct out *o, const char *path, const struct trace_facts *f, const struct about *a, const char *about_path)
{
    struct phrase p = phrase_empty();

    if (device_phrase(&p, a)) {
        out_style(o, OUT_STRONG);
        out_clean(o, p.text, p.used);
        out_style(o, OUT_PLAIN);
        out_line(o);
    }
    p = phrase_empty();
    trace_phrase(&p, path, f);
    phrase_wrap(o, 0, p.text);
    if (about_rebuilt(a, "kernel") || about_rebuilt(a, "kernel_log"))
        phrase_wrap(o, 0, "put together from what a kernel told, not seen on a wire");
    p = phrase_empty();
    if (trace_caution_phrase(&p, f, about_path))
        phrase_wrap(o, 0, p.text);
}

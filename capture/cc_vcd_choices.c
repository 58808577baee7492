#include "capture/cc_vcd_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LIST_BYTES = 160 };

/* Names, as many as fit, and how many do not. */
struct list { char text[LIST_BYTES]; size_t used; unsigned left_out; };

/* How well a variable's path answers what was asked for. */
enum fit { FIT_NONE, FIT_END, FIT_WHOLE };

struct choice {
    const char   *name; /* NULL: the only one there is */
    enum fit      fit;
    bool          several, wide;
    struct vcd_id id;
    struct list   list; /* those of that fit */
};

struct vcd_choices {
    unsigned      count;
    struct choice choice[CC_LINES_MAX];
    struct list   all;
};

struct vcd_choices *vcd_choices_new(const struct cc_options *options)
{
    struct vcd_choices *c = calloc(1, sizeof *c);

    if (!c)
        return NULL;
    c->count = options->lines < CC_LINES_MAX ? options->lines : CC_LINES_MAX;
    for (unsigned k = 0; k < c->count; k++)
        c->choice[k].name = options->names[k];
    return c;
}

void vcd_choices_free(struct vcd_choices *c)
{
    free(c);
}

static void list_add(struct list *l, const char *path)
{
    size_t n = strlen(path), comma = l->used > 0 ? 2 : 0;

    if (l->left_out > 0 || l->used + comma + n >= sizeof l->text) {
        l->left_out++;
        return;
    }
    snprintf(l->text + l->used, sizeof l->text - l->used, "%s%s", comma ? ", " : "", path);
    for (size_t k = l->used; l->text[k]; k++)
        if ((l->text[k] < '!' || l->text[k] > '~') && l->text[k] != ' ')
            l->text[k] = '?';
    l->used += comma + n;
}

static enum fit fit_of(const char *name, const char *path)
{
    size_t n, whole = strlen(path);

    if (!name)
        return FIT_END;
    n = strlen(name);
    if (n > whole || strcmp(path + whole - n, name) != 0)
        return FIT_NONE;
    if (n == whole)
        return FIT_WHOLE;
    return n > 0 && path[whole - n - 1] == '.' ? FIT_END : FIT_NONE;
}

static void choice_see(struct choice *c, const char *path, bool one_bit, const struct vcd_id *id)
{
    enum fit fit = fit_of(c->name, path);

    if (fit == FIT_NONE || fit < c->fit)
        return;
    if (!one_bit) {
        c->wide = true;
        return;
    }
    if (fit > c->fit) {
        c->fit = fit;
        c->several = false;
        c->id = *id;
        c->list = (struct list){ 0 };
    } else if (!vcd_id_same(&c->id, id)) {
        c->several = true;
    }
    list_add(&c->list, path);
}

void vcd_choices_see(struct vcd_choices *c, const char *path, bool one_bit, const struct vcd_id *id)
{
    if (one_bit)
        list_add(&c->all, path);
    for (unsigned k = 0; k < c->count; k++)
        choice_see(&c->choice[k], path, one_bit, id);
}

/* With what is left out; after: what they all are. */
static bool list_fault(const struct list *l, enum fault_code code, unsigned number, const char *after, struct fault *f)
{
    char detail[sizeof f->detail], more[40] = "";

    if (l->left_out > 0)
        snprintf(more, sizeof more, " and %u more", l->left_out);
    snprintf(detail, sizeof detail, "%s%s%s", l->used > 0 ? l->text : "no signal of one bit", more, after);
    return fault_set(f, code, 0, (int64_t)number, detail);
}

bool vcd_choices_settle(const struct vcd_choices *c, struct vcd_id id[], struct fault *f)
{
    for (unsigned k = 0; k < c->count; k++) {
        const struct choice *one = &c->choice[k];

        if (one->fit == FIT_NONE)
            return list_fault(&c->all, FAULT_NOT_THERE, k, one->wide && one->name && c->all.used > 0 ? ", each of one bit" : "", f);
        if (one->several)
            return list_fault(&one->list, FAULT_AMBIGUOUS, k, "", f);
        if (one->id.length == 0)
            return fault_set(f, FAULT_FORMAT, 0, 0, "the identifier of the signal that was asked for is longer than 64 characters");
        id[k] = one->id;
    }
    return true;
}

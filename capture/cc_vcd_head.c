/* The declarations of a value change dump: IEEE 1364-2005, 18.2.3. */
#include "capture/cc_vcd_inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SCOPES_MAX = 128, TEXT_BYTES = 64, WORDS_OF_VAR = 64 };

enum command {
    COMMAND_NONE, COMMAND_COMMENT, COMMAND_DATE, COMMAND_ENDDEFINITIONS, COMMAND_SCOPE, COMMAND_TIMESCALE, COMMAND_UPSCOPE,
    COMMAND_VAR, COMMAND_VERSION, COMMAND_OTHER, COMMAND_VALUES,
};

static const struct { const char *word; enum command command; } commands[] = {
    { "$comment", COMMAND_COMMENT }, { "$date", COMMAND_DATE }, { "$enddefinitions", COMMAND_ENDDEFINITIONS },
    { "$scope", COMMAND_SCOPE }, { "$timescale", COMMAND_TIMESCALE }, { "$upscope", COMMAND_UPSCOPE },
    { "$var", COMMAND_VAR }, { "$version", COMMAND_VERSION },
    /* 18.2.3: these stand among the values, which come after $enddefinitions. */
    { "$dumpall", COMMAND_VALUES }, { "$dumpoff", COMMAND_VALUES }, { "$dumpon", COMMAND_VALUES }, { "$dumpvars", COMMAND_VALUES },
};

/* 18.2.3.5: a number and a unit. */
static const struct { const char *unit; uint64_t ps, per; } units[] = {
    { "s", 1000000000000, 1 }, { "ms", 1000000000, 1 }, { "us", 1000000, 1 }, { "ns", 1000, 1 }, { "ps", 1, 1 }, { "fs", 1, 1000 },
};

/* Variables of these types have no level (18.2.3.8), whatever width they state. */
static const char *const levelless[] = { "event", "parameter", "real", "realtime", "string" };

struct reading {
    struct cc_bytes    *bytes;
    struct vcd_head    *head;
    struct vcd_choices *choices;
    struct fault       *fault;
    enum command        command;
    uint64_t            line;          /* that the word stands in */
    uint64_t            command_line;  /* that the command began in */
    unsigned            words;         /* of the command so far */
    bool                anything;      /* a command has begun already */
    bool                done, has_tick;
    char                text[TEXT_BYTES]; /* of $date and $timescale */
    char                path[VCD_PATH_MAX];
    size_t              path_length;
    size_t              scope_at[SCOPES_MAX]; /* length of path outside of each scope */
    unsigned            scopes, scopes_beyond; /* that fit, and that do not */
    bool                one_bit, path_cut;
    struct vcd_id       id;
};

struct word { const uint8_t *at; size_t length; bool cut; };

static bool word_is(const struct word *w, const char *text)
{
    return !w->cut && w->length == strlen(text) && memcmp(w->at, text, w->length) == 0;
}

static bool refuse(struct reading *r, uint64_t line, const char *what)
{
    return fault_set(r->fault, FAULT_FORMAT, 0, (int64_t)line, what);
}

/* The next byte without taking it; -1 at the end. */
static int byte_ahead(struct reading *r)
{
    struct cursor *window = cc_bytes_window(r->bytes);

    if (window->left == 0 && !cc_bytes_more(r->bytes))
        return -1;
    struct cursor ahead = *window;

    return cursor_u8(&ahead);
}

/* Of a word that does not fit the buffer, the rest is passed over. */
static void word_pass_over(struct reading *r)
{
    for (int byte = byte_ahead(r); byte >= 0 && !vcd_is_white((uint8_t)byte); byte = byte_ahead(r))
        cursor_u8(cc_bytes_window(r->bytes));
}

/* The word lasts until the next one is read. False: there is none. */
static bool word_next(struct reading *r, struct word *w)
{
    struct cursor *window = cc_bytes_window(r->bytes);
    size_t         n = 0;
    int            byte;

    while ((byte = byte_ahead(r)) >= 0 && vcd_is_white((uint8_t)byte)) {
        cursor_u8(window);
        r->line += byte == '\n';
    }
    if (byte < 0)
        return false;
    for (struct cursor ahead = *window;;) {
        if (ahead.left == 0) {
            if (n >= CC_READ_BYTES || !cc_bytes_more(r->bytes))
                break;
            ahead = *window;
            cursor_take(&ahead, n);
            continue;
        }
        if (vcd_is_white(cursor_u8(&ahead)))
            break;
        n++;
    }
    *w = (struct word){ cursor_take(window, n), n, n >= CC_READ_BYTES };
    return true;
}

/* As much of it as fits; false: not all. */
static bool text_add(char *text, size_t cap, const struct word *w)
{
    size_t used = strlen(text), n = w->length < cap - 1 - used ? w->length : cap - 1 - used;

    memcpy(text + used, w->at, n);
    text[used + n] = '\0';
    return n == w->length && !memchr(w->at, '\0', n);
}

static void scope_enter(struct reading *r, const struct word *w)
{
    size_t outside = r->path_length, point = outside > 0 ? 1 : 0;

    if (r->scopes_beyond > 0 || r->scopes == SCOPES_MAX || outside + point + w->length >= sizeof r->path / 2) {
        r->scopes_beyond++;
        return;
    }
    r->scope_at[r->scopes++] = outside;
    if (point)
        memcpy(r->path + outside, ".", 2);
    text_add(r->path, sizeof r->path, w);
    r->path_length = strlen(r->path);
}

static void scope_leave(struct reading *r)
{
    if (r->scopes_beyond > 0)
        r->scopes_beyond--;
    else if (r->scopes > 0)
        r->path_length = r->scope_at[--r->scopes];
    r->path[r->path_length] = '\0';
}

static bool has_level(const struct word *type)
{
    for (size_t k = 0; k < sizeof levelless / sizeof levelless[0]; k++)
        if (word_is(type, levelless[k]))
            return false;
    return true;
}

static bool var_identifier(struct reading *r, const struct word *w)
{
    struct vcd_head *head = r->head;

    r->id.length = 0;
    for (size_t k = 0; k < w->length; k++)
        if (!vcd_is_printable(w->at[k]))
            return refuse(r, r->line, "an identifier with a character that is not printable");
    if (w->length == 1)
        head->one_used[w->at[0] - VCD_PRINTABLE_FIRST] = true;
    else if (w->length == 2)
        head->two_used[(w->at[0] - VCD_PRINTABLE_FIRST) * VCD_PRINTABLE_COUNT + w->at[1] - VCD_PRINTABLE_FIRST] = true;
    else
        head->longer_used = true;
    if (w->length <= VCD_ID_MAX) {
        memcpy(r->id.bytes, w->at, w->length);
        r->id.length = w->length;
    }
    return true;
}

/* 18.2.3.8: type, size, identifier code, reference; the reference may be several words, as of a selected bit. */
static bool var_word(struct reading *r, const struct word *w)
{
    if (r->words == 0)
        r->one_bit = has_level(w);
    else if (r->words == 1)
        r->one_bit = r->one_bit && word_is(w, "1");
    else if (r->words == 2)
        return var_identifier(r, w);
    if (r->words == 3 && r->path_length > 0)
        memcpy(r->path + r->path_length, ".", 2);
    if (r->words == 3)
        r->path_cut = r->scopes_beyond > 0;
    if (r->words >= 3 && !text_add(r->path, sizeof r->path, w))
        r->path_cut = true;
    if (r->words >= WORDS_OF_VAR)
        return refuse(r, r->command_line, "$var without $end");
    return true;
}

static bool timescale_settle(struct reading *r)
{
    uint64_t number = 0;
    size_t   k = 0;

    for (; r->text[k] >= '0' && r->text[k] <= '9' && number < 1000; k++)
        number = number * 10 + (uint64_t)(r->text[k] - '0');
    for (size_t u = 0; u < sizeof units / sizeof units[0]; u++)
        if (strcmp(r->text + k, units[u].unit) == 0 && (number == 1 || number == 10 || number == 100)) {
            r->head->tick = (struct cc_tick){ number * units[u].ps, units[u].per };
            r->has_tick = true;
            return true;
        }
    return refuse(r, r->command_line, "a $timescale that is not 1, 10 or 100 of s, ms, us, ns, ps or fs");
}

static bool command_end(struct reading *r)
{
    enum command command = r->command;

    r->command = COMMAND_NONE;
    switch (command) {
    case COMMAND_NONE: case COMMAND_COMMENT: case COMMAND_VERSION: case COMMAND_OTHER: case COMMAND_VALUES: return true;
    case COMMAND_DATE:
        r->head->has_start = vcd_date_read(r->text, &r->head->start_ns);
        return true;
    case COMMAND_ENDDEFINITIONS:
        r->done = true;
        return true;
    case COMMAND_SCOPE:
        if (r->words < 2)
            return refuse(r, r->command_line, "a $scope without a name");
        return true;
    case COMMAND_TIMESCALE: return timescale_settle(r);
    case COMMAND_UPSCOPE:
        scope_leave(r);
        return true;
    case COMMAND_VAR:
        if (r->words < 4)
            return refuse(r, r->command_line, "a $var without type, size, identifier and name");
        if (!r->path_cut)
            vcd_choices_see(r->choices, r->path, r->one_bit, &r->id);
        r->path[r->path_length] = '\0';
        return true;
    }
    return true;
}

/* A byte order mark before the first word, as editors that save UTF-8 may leave it, says nothing. */
static struct word past_mark(struct word w)
{
    static const uint8_t mark[] = { 0xEF, 0xBB, 0xBF };

    if (w.length > sizeof mark && memcmp(w.at, mark, sizeof mark) == 0) {
        w.at += sizeof mark;
        w.length -= sizeof mark;
    }
    return w;
}

static bool command_begin(struct reading *r, const struct word *w)
{
    bool        first = !r->anything;
    struct word unmarked = first ? past_mark(*w) : *w;

    r->anything = true;
    w = &unmarked;
    if (w->at[0] != '$')
        return refuse(r, r->line, first ? "no value change dump: it does not begin with a declaration" : "values before $enddefinitions");
    r->command = COMMAND_OTHER;
    for (size_t k = 0; k < sizeof commands / sizeof commands[0]; k++)
        if (word_is(w, commands[k].word))
            r->command = commands[k].command;
    if (r->command == COMMAND_VALUES)
        return refuse(r, r->line, "values before $enddefinitions");
    if (word_is(w, "$end"))
        r->command = COMMAND_NONE;
    r->command_line = r->line;
    r->words = 0;
    r->text[0] = '\0';
    return true;
}

static bool command_word(struct reading *r, const struct word *w)
{
    bool good = true;

    switch (r->command) {
    case COMMAND_NONE: case COMMAND_COMMENT: case COMMAND_VERSION: case COMMAND_OTHER: case COMMAND_VALUES: case COMMAND_ENDDEFINITIONS:
    case COMMAND_UPSCOPE: break;
    case COMMAND_DATE: case COMMAND_TIMESCALE:
        text_add(r->text, sizeof r->text, w);
        break;
    case COMMAND_SCOPE:
        if (r->words == 1)
            scope_enter(r, w);
        break;
    case COMMAND_VAR: good = var_word(r, w);
    }
    r->words += r->words < WORDS_OF_VAR;
    return good;
}

static bool ends_early(struct reading *r)
{
    cc_bytes_end_fault(r->bytes, r->fault);
    if (r->fault->code != FAULT_NONE)
        return false;
    if (r->command != COMMAND_NONE)
        return refuse(r, r->command_line, "what is declared here has no $end");
    return refuse(r, r->line, "the file ends without $enddefinitions");
}

static bool head_read(struct reading *r)
{
    struct word w;

    while (!r->done) {
        if (!word_next(r, &w))
            return ends_early(r);
        bool good = r->command == COMMAND_NONE ? command_begin(r, &w) : word_is(&w, "$end") ? command_end(r) : command_word(r, &w);

        if (!good)
            return false;
        if (w.cut)
            word_pass_over(r);
    }
    return true;
}

bool vcd_head_read(struct cc_bytes *bytes, const struct cc_options *options, struct vcd_head *head, struct fault *f)
{
    struct reading *r = calloc(1, sizeof *r);
    bool            good = false;

    *head = (struct vcd_head){ 0 };
    if (r)
        *r = (struct reading){ .bytes = bytes, .head = head, .fault = f, .line = 1, .choices = vcd_choices_new(options) };
    if (!r || !r->choices) {
        fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
    } else if (head_read(r)) {
        good = options->rate_hz != 0 ? cc_tick_of_rate(options->rate_hz, &head->tick) : r->has_tick;
        if (!good)
            fault_set(f, options->rate_hz != 0 ? FAULT_RATE : FAULT_FORMAT, 0, 0, options->rate_hz != 0 ? NULL : "it has no $timescale");
        good = good && vcd_choices_settle(r->choices, head->id, f);
        head->lines_read = r->line - 1;
    }
    if (r)
        vcd_choices_free(r->choices);
    free(r);
    return good;
}

#include "capture/text_line_inside.h"

enum { VOLT_DECIMALS = 6, DEGREE_DECIMALS = 3 };

static bool line_ends(struct cursor *line)
{
    struct word w;

    return !word_next(line, &w);
}

static bool port_read(const struct word *w, uint8_t *port)
{
    int64_t number = RECORD_PORT_BENCH;
    bool    good = word_is(w, "*") || word_integer(w, 0, RECORD_PORT_BENCH, &number);

    *port = good ? (uint8_t)number : RECORD_PORT_BENCH;
    return good;
}

static bool packet_read(struct cursor *line, struct line_parts *l)
{
    struct word w;

    if (!word_next(line, &l->text))
        return false;
    if (l->text.at[l->text.length - 1] == '!') {
        l->text.length--;
        l->state = RECORD_NO_CRC;
    }
    if (!word_next(line, &w))
        return true;
    l->ends = true;
    return word_is(&w, "until") && word_next(line, &w) && word_time(&w, &l->end_ns) && l->end_ns >= l->t_ns &&
           l->end_ns - l->t_ns <= UINT32_MAX && line_ends(line);
}

/* V, I and VC with a number each; first is the word that told the kind. */
static bool power_read(struct cursor *line, struct line_parts *l, struct word first)
{
    struct word name = first, number;

    do {
        int     column = word_find(&name, text_columns);
        int64_t value;

        if (column < 0 || (l->columns >> column & 1) || !word_next(line, &number))
            return false;
        /* INT32_MIN says that there is no reading, so no reading may say it. */
        if (!word_decimal(&number, VOLT_DECIMALS, &value) || value <= INT32_MIN || value > INT32_MAX)
            return false;
        l->columns |= (uint8_t)(1u << column);
        l->cells[column] = (int32_t)value;
    } while (word_next(line, &name));
    return true;
}

static bool cc_read(struct cursor *line, struct line_parts *l)
{
    struct word w;
    int64_t     attach;

    if (!word_next(line, &w) || !word_integer(&w, 0, 4, &attach) || !word_next(line, &w))
        return false;
    int rp = word_find(&w, text_rp);

    l->attach = (uint8_t)attach;
    l->rp = (uint8_t)rp;
    return rp >= 0 && line_ends(line);
}

static bool mark_read(struct cursor *line, struct line_parts *l)
{
    struct word w;
    int64_t     value = 0;

    if (!word_next(line, &w))
        return false;
    int           action = word_find(&w, text_actions);
    struct cursor behind = *line;

    if (action < 0)
        return false;
    l->action = (uint8_t)action;
    l->subject = RECORD_PORT_NONE;
    /* Who plugs, pulls or loads says where; a note or a switched supply may go without. */
    bool needs_port = action == RECORD_PLUGGED || action == RECORD_UNPLUGGED || action == RECORD_LOAD_SET;

    if (word_next(&behind, &w) && port_read(&w, &l->subject))
        *line = behind;
    else if (needs_port)
        return false;
    if (action == RECORD_LOAD_SET &&
        (!word_next(line, &w) || !word_integer(&w, INT32_MIN, INT32_MAX, &value)))
        return false;
    l->value = (int32_t)value;
    l->text = word_rest(line);
    return true;
}

static bool temperature_read(struct cursor *line, struct line_parts *l)
{
    struct word w;
    int64_t     probe, mc;

    if (!word_next(line, &w) || !word_integer(&w, 0, UINT8_MAX, &probe))
        return false;
    if (!word_next(line, &w) || !word_decimal(&w, DEGREE_DECIMALS, &mc) || mc < INT32_MIN || mc > INT32_MAX)
        return false;
    l->probe = (uint8_t)probe;
    l->value = (int32_t)mc;
    l->text = word_rest(line);
    return true;
}

static bool lost_read(struct cursor *line, struct line_parts *l)
{
    struct word w;
    int64_t     count = RECORD_LOST_UNKNOWN;

    if (!word_next(line, &w) || !(word_is(&w, "unknown") || word_integer(&w, 0, RECORD_LOST_UNKNOWN, &count)))
        return false;
    l->count = (uint32_t)count;
    return line_ends(line);
}

static bool about_read(struct cursor *line, struct line_parts *l)
{
    l->text = word_rest(line);
    return l->text.length > 0;
}

static bool reset_read(struct cursor *line, struct line_parts *l)
{
    (void)l;
    return line_ends(line);
}

static const struct { const char *word; uint8_t kind; bool (*read)(struct cursor *line, struct line_parts *l); } words_all[] = {
    { "CC", RECORD_CC_STATE, cc_read },       { "MARK", RECORD_MARK, mark_read },   { "T", RECORD_TEMPERATURE, temperature_read },
    { "LOST", RECORD_LOST, lost_read },       { "ABOUT", RECORD_ABOUT, about_read },
};

/* What follows time and port. */
static bool body_read(struct cursor *line, struct line_parts *l)
{
    struct word w;

    if (!word_next(line, &w))
        return false;
    int set = word_find(&w, text_sets), reset = word_find(&w, text_resets);

    if (set >= 0) {
        l->set = (uint8_t)set;
        return packet_read(line, l);
    }
    if (reset >= 0) {
        l->which = (uint8_t)reset;
        l->kind = RECORD_RESET_SIGNAL;
        return reset_read(line, l);
    }
    if (word_find(&w, text_columns) >= 0) {
        l->kind = RECORD_POWER;
        return power_read(line, l, w);
    }
    for (size_t i = 0; i < sizeof words_all / sizeof words_all[0]; i++) {
        if (word_is(&w, words_all[i].word)) {
            l->kind = words_all[i].kind;
            return words_all[i].read(line, l);
        }
    }
    return false;
}

bool text_line_read(struct cursor line, struct line_parts *l)
{
    struct word w;

    *l = (struct line_parts){ .port = RECORD_PORT_BENCH, .kind = RECORD_PD_PACKET };
    if (!word_next(&line, &w))
        return false;
    l->now = word_is(&w, "-");
    l->timed = l->now || word_time(&w, &l->t_ns);
    if (!l->timed || !word_next(&line, &w))
        return false;
    return port_read(&w, &l->port) && body_read(&line, l);
}

bool text_line_looks_right(struct cursor line)
{
    struct word w;
    int64_t     t_ns;
    uint8_t     port;

    if (!word_next(&line, &w) || !(word_is(&w, "-") || word_time(&w, &t_ns)))
        return false;
    if (!word_next(&line, &w) || !port_read(&w, &port) || !word_next(&line, &w))
        return false;
    return (w.at[0] >= 'A' && w.at[0] <= 'Z') || (w.at[0] >= 'a' && w.at[0] <= 'z');
}

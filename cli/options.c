#include "cli/options.h"

#include "cli/command.h"
#include "cli/fault_text.h"

#include <stdio.h>
#include <string.h>

enum { HELP_COLUMN = 26, HELP_WIDTH = 98, PORT_MAX = 254, NS_PER_S = 1000000000 };

static const char *const color_choices[] = { "auto", "always", "never", NULL };

/* The rows that commands share, each with the bit by which a command asks for it; 0: every command has it. */
static const struct { uint32_t common; struct option_row row; } common_rows[] = {
    { COMMON_JSON, { "json", 0, NULL, "JSON for machines, one object a line", OPTION_FLAG, offsetof(struct options, json), NULL } },
    { COMMON_PORT, { "port", 'p', "N", "this port only; may be given again", OPTION_PORTS, offsetof(struct options, ports), NULL } },
    { COMMON_TIME, { "since", 0, "TIME", "from then on: 1.5, 200ms, 2m, 1h after the first record", OPTION_TIME,
                     offsetof(struct options, since_ns), NULL } },
    { COMMON_TIME, { "until", 0, "TIME", "up to then", OPTION_TIME, offsetof(struct options, until_ns), NULL } },
    { COMMON_ABOUT, { "about", 0, "FILE", "JSON laid over what the trace says of the bench (its ABOUT)", OPTION_TEXT,
                      offsetof(struct options, about_path), NULL } },
    { COMMON_OUTPUT, { "output", 'o', "FILE", "write there, not to standard output", OPTION_TEXT,
                       offsetof(struct options, output_path), NULL } },
    { COMMON_VERBOSE, { "verbose", 'v', NULL, "every detail", OPTION_FLAG, offsetof(struct options, verbose), NULL } },
    { COMMON_QUIET, { "quiet", 'q', NULL, "no headings, no notices on standard error; complaints stay", OPTION_FLAG,
                      offsetof(struct options, quiet), NULL } },
    { COMMON_COLOR, { "color", 0, "WHEN", "auto (on a terminal, unless NO_COLOR is set), always, never", OPTION_CHOICE,
                      offsetof(struct options, color), color_choices } },
    { 0, { "help", 'h', NULL, "this text", OPTION_HELP, 0, NULL } },
    { 0, { "version", 0, NULL, "the version", OPTION_VERSION, 0, NULL } },
};
enum { COMMON_ROWS = sizeof common_rows / sizeof common_rows[0] };

/* Where a row was found, and the struct its value goes into. */
struct target {
    const struct option_row *row;
    void                    *into;
};

/* The command line while it is being read. */
struct reading {
    const struct command *command;
    struct options       *options;
    void                 *own;
    char                **argv;
    int                   argc, at;
    bool                  ended, help, version;
};

static bool common_taken(const struct command *c, size_t k)
{
    return common_rows[k].common == 0 || (c->common & common_rows[k].common) != 0;
}

static struct target target_find(const struct reading *r, const char *name, size_t length, char letter)
{
    for (const struct option_row *row = r->command->options; row && row->name; row++)
        if (name ? strlen(row->name) == length && memcmp(row->name, name, length) == 0 : row->letter == letter)
            return (struct target){ row, r->own };
    for (size_t k = 0; k < COMMON_ROWS; k++) {
        const struct option_row *row = &common_rows[k].row;

        if (common_taken(r->command, k) &&
            (name ? strlen(row->name) == length && memcmp(row->name, name, length) == 0 : row->letter == letter))
            return (struct target){ row, r->options };
    }
    return (struct target){ NULL, NULL };
}

static bool number_read(const char *text, uint64_t most, uint64_t *value)
{
    uint64_t v = 0;

    if (!*text)
        return false;
    for (; *text; text++) {
        if (*text < '0' || *text > '9')
            return false;
        unsigned digit = (unsigned)(*text - '0');

        if (v > (most - digit) / 10)
            return false;
        v = v * 10 + digit;
    }
    *value = v;
    return true;
}

static bool unit_read(const char *text, int64_t *ns)
{
    static const struct { const char *unit; int64_t ns; } units[] = {
        { "", NS_PER_S }, { "s", NS_PER_S }, { "ms", 1000000 }, { "us", 1000 }, { "ns", 1 },
        { "m", 60 * (int64_t)NS_PER_S }, { "min", 60 * (int64_t)NS_PER_S }, { "h", 3600 * (int64_t)NS_PER_S },
    };

    for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
        if (strcmp(text, units[i].unit) == 0) {
            *ns = units[i].ns;
            return true;
        }
    return false;
}

/* A number with up to nine decimals, as whole and billionths; *rest behind it. */
static bool number_split(const char *text, int64_t *whole, int64_t *part, const char **rest)
{
    enum { WHOLE_DIGITS_MAX = 18, DECIMALS_MAX = 9 };
    unsigned digits = 0, decimals = 0;

    *whole = *part = 0;
    for (; *text >= '0' && *text <= '9' && digits < WHOLE_DIGITS_MAX; text++, digits++)
        *whole = *whole * 10 + (*text - '0');
    if (*text == '.')
        for (text++; *text >= '0' && *text <= '9' && decimals < DECIMALS_MAX; text++, decimals++)
            *part = *part * 10 + (*text - '0');
    if (digits + decimals == 0 || (*text >= '0' && *text <= '9'))
        return false;
    for (; decimals < DECIMALS_MAX; decimals++)
        *part *= 10;
    *rest = text;
    return true;
}

bool options_time(const char *text, int64_t *ns)
{
    bool        negative = *text == '-';
    const char *rest;
    int64_t     whole, part, unit;

    if (!number_split(text + (negative ? 1 : 0), &whole, &part, &rest) || !unit_read(rest, &unit))
        return false;
    if (whole > INT64_MAX / 2 / unit)
        return false;
    *ns = whole * unit + (unit >= NS_PER_S ? part * (unit / NS_PER_S) : part * unit / NS_PER_S);
    if (negative)
        *ns = -*ns;
    return true;
}

static bool wrong_value(const struct reading *r, const struct option_row *row, const char *value, const char *expected)
{
    complain("%s: --%s %s: %s is expected; see " PORTASSAY_NAME " %s --help", r->command->name, row->name, value, expected,
             r->command->name);
    return false;
}

static bool choice_take(const struct reading *r, const struct option_row *row, unsigned *into, const char *value)
{
    char   expected[200] = "one of";
    size_t used = strlen(expected);

    for (unsigned k = 0; row->choices[k]; k++) {
        if (strcmp(row->choices[k], value) == 0) {
            *into = k;
            return true;
        }
        int n = snprintf(expected + used, sizeof expected - used, " %s", row->choices[k]);

        if (n > 0 && (size_t)n < sizeof expected - used)
            used += (size_t)n;
    }
    return wrong_value(r, row, value, expected);
}

static bool list_take(const struct reading *r, const struct option_row *row, struct option_list *list, const char *value)
{
    if (list->count == OPTION_LIST_MAX)
        return wrong_value(r, row, value, "no more than 64 of these");
    list->items[list->count++] = value;
    return true;
}

static bool value_take(struct reading *r, const struct option_row *row, void *into, const char *value)
{
    char    *place = (char *)into + row->offset;
    uint64_t number;

    switch (row->kind) {
    case OPTION_FLAG:
        *(bool *)(void *)place = true;
        return true;
    case OPTION_HELP:
        r->help = true;
        return true;
    case OPTION_VERSION:
        r->version = true;
        return true;
    case OPTION_TEXT:
        *(const char **)(void *)place = value;
        return true;
    case OPTION_NUMBER:
        if (!number_read(value, INT64_MAX, &number))
            return wrong_value(r, row, value, "a whole number");
        *(int64_t *)(void *)place = (int64_t)number;
        return true;
    case OPTION_TIME:
        return options_time(value, (int64_t *)(void *)place) ||
               wrong_value(r, row, value, "a time like 1.5, 200ms, 2m or 1h");
    case OPTION_LIST:
        return list_take(r, row, (struct option_list *)(void *)place, value);
    case OPTION_PORTS:
        if (!number_read(value, PORT_MAX, &number))
            return wrong_value(r, row, value, "the number of a port, 0 to 254,");
        ((struct option_ports *)(void *)place)->given = true;
        ((struct option_ports *)(void *)place)->wanted[number] = true;
        return true;
    case OPTION_CHOICE:
        return choice_take(r, row, (unsigned *)(void *)place, value);
    }
    return false;
}

/* The value of an option with an argument: behind it, or the next word. */
static const char *argument_of(struct reading *r, const struct option_row *row, const char *attached)
{
    if (attached)
        return attached;
    if (r->at + 1 < r->argc)
        return r->argv[++r->at];
    complain("%s: --%s needs a value: %s; see " PORTASSAY_NAME " %s --help", r->command->name, row->name, row->argument,
             r->command->name);
    return NULL;
}

static bool option_unknown(const struct reading *r, const char *text, int length)
{
    complain("%s: there is no option %.*s; see " PORTASSAY_NAME " %s --help", r->command->name, length, text, r->command->name);
    return false;
}

static bool long_take(struct reading *r, const char *word)
{
    const char   *name = word + 2;
    size_t        length = strcspn(name, "=");
    const char   *attached = name[length] == '=' ? name + length + 1 : NULL;
    struct target t = target_find(r, name, length, 0);

    if (!t.row)
        return option_unknown(r, word, (int)length + 2);
    if (!t.row->argument) {
        if (attached)
            return wrong_value(r, t.row, attached, "no value");
        return value_take(r, t.row, t.into, NULL);
    }
    const char *value = argument_of(r, t.row, attached);

    return value && value_take(r, t.row, t.into, value);
}

static bool letters_take(struct reading *r, const char *word)
{
    for (const char *at = word + 1; *at; at++) {
        struct target t = target_find(r, NULL, 0, *at);

        if (!t.row) {
            char text[3] = { '-', *at, 0 };

            return option_unknown(r, text, 2);
        }
        if (t.row->argument) {
            const char *value = argument_of(r, t.row, at[1] ? at + 1 : NULL);

            return value && value_take(r, t.row, t.into, value);
        }
        if (!value_take(r, t.row, t.into, NULL))
            return false;
    }
    return true;
}

static bool word_take(struct reading *r)
{
    char *word = r->argv[r->at];

    if (!r->ended && strcmp(word, "--") == 0) {
        r->ended = true;
        return true;
    }
    if (!r->ended && word[0] == '-' && word[1] == '-')
        return long_take(r, word);
    if (!r->ended && word[0] == '-' && word[1])
        return letters_take(r, word);
    /* Operands gather at the front; they are never more than the words already read. */
    r->options->operands[r->options->operand_count++] = word;
    return true;
}

static void row_help(const struct option_row *row)
{
    char left[80];
    int  n = row->letter ? snprintf(left, sizeof left, "  -%c, --%s", row->letter, row->name)
                         : snprintf(left, sizeof left, "      --%s", row->name);

    if (row->argument && n > 0 && (size_t)n < sizeof left)
        snprintf(left + n, sizeof left - (size_t)n, " %s", row->argument);
    if (strlen(left) < HELP_COLUMN - 1)
        printf("%-*s%s\n", HELP_COLUMN, left, row->help);
    else
        printf("%s\n%*s%s\n", left, HELP_COLUMN, "", row->help);
}

/* One paragraph, up to its newline, in lines of at most HELP_WIDTH. Returns what follows it. */
static const char *paragraph_help(const char *text)
{
    size_t place = 0;

    while (*text && *text != '\n') {
        size_t word = strcspn(text, " \n");

        if (place > 0 && place + 1 + word > HELP_WIDTH) {
            printf("\n");
            place = 0;
        }
        printf("%s%.*s", place > 0 ? " " : "", (int)word, text);
        place += word + (place > 0 ? 1 : 0);
        text += word + strspn(text + word, " ");
    }
    printf("\n");
    return *text ? text + 1 : text;
}

static void command_help(const struct command *c)
{
    printf(PORTASSAY_NAME " %s%s%s\n%s\n", c->name, *c->arguments ? " " : "", c->arguments, c->summary);
    printf("\n");
    for (const char *text = c->details; text && *text;)
        text = paragraph_help(text);
    if (c->details)
        printf("\n");
    for (const struct option_row *row = c->options; row && row->name; row++)
        row_help(row);
    for (size_t k = 0; k < COMMON_ROWS; k++)
        if (common_taken(c, k))
            row_help(&common_rows[k].row);
}

static bool operands_check(const struct reading *r)
{
    const struct command *c = r->command;
    unsigned              n = r->options->operand_count;

    if (n < c->operands_min) {
        complain("%s: something is missing: " PORTASSAY_NAME " %s %s", c->name, c->name, c->arguments);
        return false;
    }
    if (n > c->operands_max) {
        complain("%s: %s is one too many: " PORTASSAY_NAME " %s %s", c->name, r->options->operands[c->operands_max], c->name,
                 c->arguments);
        return false;
    }
    if (r->options->since_ns > r->options->until_ns) {
        complain("%s: --since is later than --until; turn them round", c->name);
        return false;
    }
    return true;
}

bool options_read(const struct command *c, int argc, char **argv, struct options *o, void *own, int *status)
{
    struct reading r = { .command = c, .options = o, .own = own, .argv = argv, .argc = argc };

    *o = (struct options){ .since_ns = INT64_MIN, .until_ns = INT64_MAX, .operands = argv };
    *status = STATUS_NOT_DONE;
    for (r.at = 1; r.at < argc && !r.help && !r.version; r.at++)
        if (!word_take(&r))
            return false;
    if (r.help || r.version) {
        if (r.help)
            command_help(c);
        else
            printf(PORTASSAY_NAME " " PORTASSAY_VERSION "\n");
        *status = STATUS_DONE;
        return false;
    }
    return operands_check(&r);
}

/*
 * cli/options.h - options are rows: one table serves for reading the command line and for the help text.
 *
 *   _ns  int64_t  nanoseconds
 *
 * Written as --name VALUE, --name=VALUE, -o FILE, -oFILE, -qv; before, between or after the operands; -- ends them.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct command;

/* What an option gives, and the type of the member that it is stored in. */
enum option_kind {
    OPTION_FLAG,   /* bool: set to true */
    OPTION_TEXT,   /* const char * */
    OPTION_NUMBER, /* int64_t, 0 or more */
    OPTION_TIME,   /* int64_t: "1.5" or "1.5s", "200ms", "20us", "2m", "1h", a minus before it allowed; stored in ns */
    OPTION_LIST,   /* struct option_list: may be given again */
    OPTION_PORTS,  /* struct option_ports: may be given again */
    OPTION_CHOICE, /* unsigned: index into choices */
    OPTION_HELP,   /* prints the help */
    OPTION_VERSION,
};

enum { OPTION_LIST_MAX = 64 };
struct option_list { const char *items[OPTION_LIST_MAX]; unsigned count; };
struct option_ports { bool given; bool wanted[256]; };

struct option_row {
    const char        *name;     /* without the dashes */
    char               letter;   /* short form, or 0 */
    const char        *argument; /* as the help text calls it, NULL: takes none */
    const char        *help;     /* one line, under 70 letters */
    enum option_kind   kind;
    size_t             offset;   /* offsetof in the command's own struct (or struct options) */
    const char *const *choices;  /* OPTION_CHOICE; ends with NULL */
};

/* The common options; a command names those that it takes. --help and --version always. */
enum options_common {
    COMMON_JSON = 1, COMMON_PORT = 2, COMMON_TIME = 4, COMMON_ABOUT = 8, COMMON_OUTPUT = 16, COMMON_QUIET = 32,
    COMMON_VERBOSE = 64, COMMON_COLOR = 128,
};
enum color { COLOR_AUTO, COLOR_ALWAYS, COLOR_NEVER };

struct options {
    bool                json, quiet, verbose;
    unsigned            color;              /* enum color */
    struct option_ports ports;
    int64_t             since_ns, until_ns; /* since the trace's first record; INT64_MIN, INT64_MAX: not given */
    const char         *about_path;         /* --about, or NULL */
    const char         *output_path;        /* -o, or NULL */
    char              **operands;           /* into argv */
    unsigned            operand_count;
};

/*
 * Reads a command line. *o is filled whole; own (the command's struct, with its defaults set; may be NULL) by its rows.
 * False: nothing more to do, return *status (help was printed, or one line on standard error says what is wrong).
 */
bool options_read(const struct command *c, int argc, char **argv, struct options *o, void *own, int *status);

/* True for "1.5", "1.5s", "200ms", "20us", "3ns", "2m", "1h"; *ns set. At most nine decimals of a second count. */
bool options_time(const char *text, int64_t *ns);

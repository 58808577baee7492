/*
 * cli/command.h - a command of the program: what it is called, what it takes, what it does. main.c holds the only list.
 */
#pragma once
#include <stddef.h>
#include <stdint.h>

struct option_row;

/* What the program exits with. */
enum status {
    STATUS_DONE = 0,      /* done, and nothing to complain of */
    STATUS_FAILED = 1,    /* done, and something failed or differs */
    STATUS_NOT_DONE = 2,  /* usage, unreadable input, output that cannot be written; one line on standard error said so */
    STATUS_UNDECIDED = 3, /* with --strict: nothing failed, something could not be decided */
};

struct command {
    const char *name, *arguments, *summary; /* the three columns of the help text */
    const char *details;                    /* more for its own --help: paragraphs, each ends with \n; NULL: none */
    uint32_t    common;                     /* enum options_common bits: the common options that it takes */
    const struct option_row *options;       /* its own; ends with name NULL; NULL: none */
    unsigned    operands_min, operands_max;
    int       (*run)(const struct command *self, int argc, char **argv); /* argv[0] is the command's name */
};

#define PORTASSAY_NAME "portassay"
#define PORTASSAY_VERSION "0.1.0"

extern const struct command command_show, command_offers, command_check, command_rules, command_cut, command_synth, command_ports, command_record, command_import,
    command_diff;

#include "cli/command.h"
#include "cli/fault_text.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

#define LENGTH(a) (sizeof(a) / sizeof(a)[0])

/* The only list; its order is the order of the help text. */
static const struct command *const commands[] = {
    &command_ports, &command_record, &command_import, &command_show, &command_offers, &command_check, &command_diff, &command_rules, &command_cut, &command_synth,
};

static int help(void)
{
    printf(PORTASSAY_NAME " COMMAND: what a USB-C port offered, agreed to and delivered, judged from a recorded trace\n\n");
    for (size_t i = 0; i < LENGTH(commands); i++) {
        char left[60];

        snprintf(left, sizeof left, "%s %s", commands[i]->name, commands[i]->arguments);
        printf("  %-20s %s\n", left, commands[i]->summary);
    }
    printf("\nTRACE is a pcap or pcapng file of link type USER0 (147), plain, gzip or zstd, or the text form of a\n"
           "trace; - is standard input. " PORTASSAY_NAME " COMMAND --help tells the options of a command.\n");
    return STATUS_DONE;
}

static int version(void)
{
    printf(PORTASSAY_NAME " " PORTASSAY_VERSION "\n");
    return STATUS_DONE;
}

static int dispatch(int argc, char **argv)
{
    if (argc < 2) {
        complain("a command is missing; " PORTASSAY_NAME " --help lists them");
        return STATUS_NOT_DONE;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0 || strcmp(argv[1], "help") == 0)
        return help();
    if (strcmp(argv[1], "--version") == 0)
        return version();
    for (size_t i = 0; i < LENGTH(commands); i++)
        if (strcmp(argv[1], commands[i]->name) == 0)
            return commands[i]->run(commands[i], argc - 1, argv + 1);
    complain("there is no %s %s; " PORTASSAY_NAME " --help lists the commands", argv[1][0] == '-' ? "option" : "command", argv[1]);
    return STATUS_NOT_DONE;
}

int main(int argc, char **argv)
{
    signal(SIGPIPE, SIG_IGN); /* a reader that goes away is seen as a failed write */
    int status = dispatch(argc, argv);

    /* Help and version go through stdio. */
    errno = 0;
    if (fflush(stdout) != 0 && errno != EPIPE) {
        complain("standard output: %s; what was written there is not complete", strerror(errno));
        return STATUS_NOT_DONE;
    }
    return status;
}

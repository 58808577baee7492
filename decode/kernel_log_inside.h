/*
 * decode/kernel_log_inside.h - one line of a port manager's log, taken apart, and what is kept from line to line. Within
 * decode/kernel_log*.c only.
 */
#pragma once
#include "capture/base/cursor.h"
#include "capture/record.h"
#include "decode/kernel_caps.h"
#include "decode/kernel_log.h"

enum kernel_line_kind {
    KERNEL_LINE_RX,          /* 0: message header, 1: attached */
    KERNEL_LINE_TX,          /* 0: message header */
    KERNEL_LINE_TX_SIGNAL,   /* 0: enum tcpm_transmit_type */
    KERNEL_LINE_TX_DONE,     /* 0: enum tcpm_transmit_status */
    KERNEL_LINE_HARD_RESET,  /* received */
    KERNEL_LINE_PDO_FIXED,   /* 0: index from 0, 1: type, 2: mV, 3: mA; words: flags and what follows */
    KERNEL_LINE_PDO_RANGE,   /* 2, 3: mV, 4: mA */
    KERNEL_LINE_PDO_BATTERY, /* 2, 3: mV, 4: mW */
    KERNEL_LINE_PDO_OTHER,   /* 0: index, 1: type; numbers not told */
    KERNEL_LINE_ASKS_MA,     /* 0: index from 0, 1: mV, 2: mA; words: " [mismatch]" or nothing */
    KERNEL_LINE_ASKS_MW,     /* the same, 2: mW */
    KERNEL_LINE_ASKS_APDO,   /* 0: index from 0, 1: mV, 2: mA */
    KERNEL_LINE_ASKED_MA,    /* of a source. 0: mV, 1: mA of the object; 2, 3: mA operating, at the most */
    KERNEL_LINE_ASKED_RANGE, /* 0, 1: mV, 2: mA or mW of the object; 3, 4: operating, at the most */
    KERNEL_LINE_STATE,       /* words: the new state; before: the old one */
    KERNEL_LINE_CC,          /* 0, 2: CC1, CC2 before; 1, 3: CC1, CC2 now (enum typec_cc_status); words: state */
    KERNEL_LINE_CC_SET,      /* 0: what the port shows (enum typec_cc_status) */
    KERNEL_LINE_USB_ROLE,    /* 0: mux, 1: enum usb_role, 2: orientation */
    KERNEL_LINE_VDM,         /* received. 0: VDM header, 1: command type, 2: command, 3: objects */
    KERNEL_LINE_VBUS_ON, KERNEL_LINE_VBUS_OFF, KERNEL_LINE_VBUS_SAFE,
    KERNEL_LINE_SOURCING,    /* 0: on */
    KERNEL_LINE_CHARGING,    /* 1: on */
    KERNEL_LINE_VCONN,       /* 0: on */
    KERNEL_LINE_LIMIT,       /* 0: mV, 1: mA */
    KERNEL_LINE_IDENTITY,    /* 0: vendor, 1: product, 2: release */
    KERNEL_LINE_NAME,        /* words: the device */
    KERNEL_LINE_FULL,        /* the log was full */
    KERNEL_LINE_TOLD,        /* worth a note as it stands */
    KERNEL_LINE_SILENT,      /* known, and nothing of it belongs into a trace */
    KERNEL_LINE_UNKNOWN,
};

enum { KERNEL_LINE_NUMBERS = 6 };
struct kernel_line {
    enum kernel_line_kind kind;
    int64_t               t_ns;
    int64_t               numbers[KERNEL_LINE_NUMBERS];
    struct cursor         words, before; /* parts of the line */
    struct cursor         text;          /* all of it behind the time */
};

/* False: it does not begin with a time. */
bool kernel_line_read(struct cursor line, struct kernel_line *l);
/* Does the part begin with, or equal, that word? */
bool words_begin(struct cursor words, const char *with);
bool words_are(struct cursor words, const char *word);
bool words_end(struct cursor words, const char *with);

/* A message whose line has been read, and not yet all that belongs to it. */
struct kernel_packet {
    bool              there, sent; /* sent by the port, else received */
    uint16_t          header;
    uint8_t           set;
    int64_t           t_ns;        /* of its line */
    struct kernel_caps caps;       /* objects that were told, of Source_Capabilities */
    bool              word_told;   /* word: its first object */
    uint32_t          word;
};

/* What the port said that it would ask for; it goes into the next Request. */
struct kernel_ask {
    bool                  there;
    enum kernel_line_kind kind;
    int64_t               position, mv, amount; /* mA or mW */
    bool                  mismatch;
};

enum {
    KERNEL_LOG_LINE_MAX = 1024,                 /* the kernel keeps 127 characters of a line (from memory) */
    KERNEL_LOG_KEPT = 1024,                     /* and so many lines (from memory) */
    KERNEL_LOG_NOTE_MAX = 200,                  /* of a mark or an ABOUT */
    KERNEL_LOG_RECORD_MAX = RECORD_HEADER_BYTES + 8 + KERNEL_LOG_NOTE_MAX,
    KERNEL_LOG_HELD = 16,
};

/* A record that has to wait for the packet before it. */
struct kernel_held {
    int64_t stamp_ns;
    size_t  length;
    uint8_t bytes[KERNEL_LOG_RECORD_MAX];
};

struct kernel_log {
    struct kernel_log_options options;
    struct kernel_log_facts   facts;
    char                      line[KERNEL_LOG_LINE_MAX];
    size_t                    length;  /* of the line that is not complete */
    bool                      too_long;
    uint64_t                  number;  /* of the line in hand */
    int64_t                   last_ns, shift_ns; /* time of the last line as written; all times are moved by */
    bool                      any;
    uint64_t                  kept[KERNEL_LOG_KEPT]; /* hashes of the last lines */
    size_t                    kept_count;
    struct kernel_packet      packet;
    struct kernel_ask         ask;
    struct kernel_held        held[KERNEL_LOG_HELD];
    unsigned                  held_count;
    int64_t                   out_ns;  /* of the record that came out last */
    uint8_t                   attach, rp; /* as written last */
    bool                      cc_told, swapping; /* swapping: the power roles, just now */
    int64_t                   cc[2], own_cc; /* enum typec_cc_status */
    bool                      own_source, own_known, own_host;
    bool                      plug_next, plug_asked; /* the next Soft_Reset sent goes to the plug; what was asked last did */
};

/* What a line becomes. t_ns: its time in the trace. */
void kernel_log_line(struct kernel_log *k, const struct kernel_line *l, int64_t t_ns);
/* Whose word it is: the first record. */
void kernel_log_about(struct kernel_log *k, int64_t t_ns);
/* The packet in hand goes out, as far as it has been told, and what waited for it. */
void kernel_log_packet_end(struct kernel_log *k);
/* What the wire shows is not known any more: lines are missing. nothing: and nothing is plugged in from here. */
void kernel_log_lose(struct kernel_log *k, int64_t t_ns, bool nothing);
__attribute__((format(printf, 3, 4))) void kernel_log_note(struct kernel_log *k, int64_t t_ns, const char *format, ...);

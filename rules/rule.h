/*
 * rules/rule.h - a rule is a row: what it demands, from where, of whom, what it needs to see, what wakes it, and a check.
 *
 * The catalogue's columns and words. Verdicts: pass, fail, undecided, not-seen (no occasion). A row never changes; what was
 * found lives in the engine (rules/engine.h).
 */
#pragma once
#include "decode/port.h"

enum level { LEVEL_MUST, LEVEL_SHOULD, LEVEL_CLAIM, LEVEL_NOTE };
enum about_whom { WHO_SOURCE, WHO_SINK, WHO_CABLE, WHO_LINK, WHO_EACH }; /* EACH: settled finding by finding */
enum applies { APPLIES_ALL, APPLIES_R2, APPLIES_R3, APPLIES_R31, APPLIES_R32 };
enum basis { BASIS_FOUND = 1, BASIS_MEMORY = 2, BASIS_OURS = 4, BASIS_SECONDARY = 8 };
/* Evidence beside the messages: what the occasion, or the decision, needs. */
enum evidence {
    EVIDENCE_VBUS = 1, EVIDENCE_IBUS = 2, EVIDENCE_CC = 4, EVIDENCE_EDGES = 8, EVIDENCE_PORTS = 16,
    EVIDENCE_VBUS_RATE = 32, EVIDENCE_IBUS_RATE = 64, EVIDENCE_DURATIONS = 128, EVIDENCE_INSTRUMENT_TIME = 256,
    EVIDENCE_WIRE = 512, /* what a wire carried: all rules but those with as_told. Missing where a kernel told ("rebuilt" of ABOUT) */
};
enum { RULE_CATALOGUE_SIZE = 243, RULES_MAX = 256 };

/* Which messages wake a rule, where its events are EVENT_MESSAGE or EVENT_PACKET: bit = type, a mask for each class. */
struct message_mask { uint32_t control, data, extended; };
#define MESSAGES_ALL { UINT32_MAX, UINT32_MAX, UINT32_MAX }

/* What wakes a rule beside the events of the port model (decode/port.h). */
enum wake {
    WAKE_OFFER_SETTLED = EVENT_KINDS, /* each distinct offer of an attach, at the attach's end, when rating, revision and cable are known:
                                         judge_held. Malformed messages (message.length, message.object-count) never become offers. */
    WAKE_TIME,                        /* asked for with judge_wake_at */
    WAKE_ASK,                         /* a question is settled (rules/talk.h): judge_ask. messages: what asked. speech only where a message settled it */
    WAKE_TALK,                        /* a message, as EVENT_MESSAGE, once EVENT_MESSAGE's checks and the questions that it settled are done */
    WAKE_ATTACH_END,                  /* detach, power swap, end of trace: its offers are settled */
    WAKE_SECTION,                     /* a section of the supply line is over (rules/rail.h): judge_section; kinds as in `sections` */
    WAKE_KINDS,
    WAKE_HEARD = WAKE_KINDS,          /* while judge_listen is on: a message on any ordered set, before WAKE_TALK. In no row's wakes */
    WAKE_READINGS,                    /* while judge_read is on: rows of a POWER record (rules/volts.h). In no row's wakes */
    WAKE_LINE,                        /* an occasion of a rule with `line` (rules/line.h): judge_line. In no row's wakes */
};

/* What a rule says of a plain message, or a plain Request (rules/plain.c). */
enum plain { PLAIN_ASKED, PLAIN_PASSES, PLAIN_NOTHING };

struct judge;

struct rule {
    const char     *id;
    const char     *title;       /* one sentence: the demand */
    const char     *requirement; /* the pass condition in full; numbers that are parameters as below */
    const char     *source;      /* topic of the standard; where the numbers were seen, in words */
    const char     *why;         /* why it matters to whoever buys or builds the thing: one sentence */
    const char     *undecided;   /* what leaves it undecided, beyond what holds for all */
    const char     *bench;       /* how to see it: one line of bench action */
    uint8_t         basis;       /* enum basis, or'ed */
    uint8_t         level;       /* enum level */
    uint8_t         whom;        /* enum about_whom */
    uint8_t         applies;     /* enum applies */
    uint16_t        occasion_evidence, decision_evidence; /* enum evidence */
    int64_t         needs_ns;    /* EVIDENCE_VBUS_RATE: a pass takes readings as close as this */
    uint32_t        wakes;       /* EVENT_BITs of events and wakes */
    struct message_mask messages;
    uint8_t         sets;        /* EVENT_MESSAGE, EVENT_PACKET: bits 1 << enum ordered_set; 0: all */
    /* True: every message of this index passes, whatever the packet holds, so that it is counted without a look. NULL: none. */
    bool          (*settled)(unsigned index);
    uint8_t         plain;       /* EVENT_MESSAGE, EVENT_REQUEST: enum plain; but for PLAIN_ASKED plain ones are counted without a look */
    bool            goodcrcs_pass; /* every ordinary GoodCRC (decode/port.h) passes: counted without a look; wakes: EVENT_GOODCRC_ODD */
    uint8_t         line;        /* enum line_rule (rules/line.h): the line watcher wakes it, and counts what is plainly in order; 0: no */
    uint8_t         sections;    /* WAKE_SECTION: bits SECTION_BIT(kind) */
    uint8_t         releases;    /* those of them whose end only releases what it held back (volt_hold): not woken where there is nothing */
    bool            needs_rows;  /* says nothing of a change in which VBUS was not read and had not begun to move: not woken for such */
    /* EVENT_REQUEST: bits 1 << enum supply of the object asked for; WAKE_ASK, WAKE_TALK: of it or of the contract in force; WAKE_SECTION: of
     * the contract that is over. Where what is asked for is not known all are woken; 0: all. */
    uint8_t         supplies;
    uint16_t        ends;        /* WAKE_ASK: bits 1 << enum ask_end that it is told of; 0: all */
    struct message_mask talk;    /* WAKE_TALK: if it is not empty, instead of messages */
    const char *const *parameters;  /* names in rules/parameter.h, ends with NULL; or NULL. judge_parameter(j, k) is the k-th */
    /* Ids: where one of them failed on the same subject there is no occasion; NULL: none. Told by the engine while the subject is in
     * hand (one message, one offer); later a check asks with judge_silenced_on (same frame) or judge_silenced_since (same attach, reset ...). */
    const char *const *silenced_by;
    const char *const *sentences;   /* what a finding says: judge_... give the index; placeholders below */
    bool            as_told;     /* can be judged on offers as a kernel tells them (decode/kernel_caps.h): values and places of objects alone */
    size_t          state_size;  /* bytes of state a port, zeroed at the start */
    void          (*check)(struct judge *j, const struct event *e);
};

/*
 * Sentences. {0}..{5} stand for the values given with the finding, with a form after a colon:
 *   {0} plain number   {0:V} millivolt as volts   {0:A} milliampere as amperes   {0:W} milliwatt as watts
 *   {0:x} word as 0x%08x   {0:xh} {0:xb} the same of 16 and 8 bits   {0:c} a letter   {0:m} message index as its name
 *   {0:ms} nanoseconds as milliseconds   {0:s} as seconds
 *   {0:r} header revision   {0:k} supply   {0:set} ordered set   {0:side} source, sink, cable
 */

/*
 * Requirements. {tSinkTx:least}, {tSinkTx:most} stand for a side of one of the rule's parameters with its unit, {tSinkTx:both} for its
 * window; {tSoftReset:most+tReceive:most} for a sum. So the text says what is gone by, --limits included.
 */

/* The rows of this build, in the catalogue's order; ends with id NULL. */
extern const struct rule *const rules_groups[]; /* tables, one a group; ends with NULL */

/*
 * rules/message_checks.h - the checks of message.*, and which of its sentences each may say. For the table in message_rules.c
 * alone, but for what is asked of a message's revision: for ext.* too.
 *
 * They wake on the first good copy of a message (EVENT_MESSAGE). At that moment the port model still stands where it stood
 * before the message.
 */
#pragma once
#include "rules/judge.h"

enum { MILLI = 1000 }; /* findings count in thousandths */

/* enum agreed_revision that holds for this message: on SOP' and SOP'' the lower of the plug's and the asker's. */
unsigned message_agreed(const struct judge *j, const struct port *p, const struct message *m);
/* Never NULL: of a player that is not known nothing is known. */
const struct edition *message_edition(const struct port *p, unsigned player);
/* Rows of one revision are judged only where it is known to be that one: in the others they have no occasion. */
bool message_applies(const struct judge *j, const struct event *e);
/* The sender's own count, and that of the other sender on the same ordered set. */
const struct stream *message_stream(const struct port *p, const struct speech *s);
const struct stream *message_partner_stream(const struct port *p, const struct speech *s);
/* A source that does not begin anew after a Hard Reset, in its first message after it: reset.restart-with-caps says so. */
bool message_goes_on(const struct port *p, const struct speech *s);
/* Bytes that this chunk should carry (a request chunk none); -1 if it starts behind the end of the message. */
int message_chunk_bytes(const struct message *m);
/* A count and its limits, as plain numbers. */
void message_outcome_count(struct outcome *o, int64_t measured, int64_t low, int64_t high);

/* message_form.c; the sentences of reserved-type go by the class of the message */
enum reserved_bit {
    RESERVED_CABLE_BIT, RESERVED_TYPE_BIT, RESERVED_EXTENDED_BIT, RESERVED_EXTENDED_HEADER, RESERVED_PADDING, RESERVED_CLEAR,
};
enum { SAYS_COUNT_ONE, SAYS_COUNT_TWO, SAYS_COUNT_RANGE, SAYS_COUNT_CHUNK };
enum { SAYS_LENGTH_OBJECTS, SAYS_LENGTH_UNCHUNKED, SAYS_LENGTH_COUNTS, SAYS_LENGTH_NO_HEADER };
enum { SAYS_NOT_IN_2, SAYS_NEWER };
enum { SAYS_PING, SAYS_GOTOMIN };
enum { SAYS_SIZE_ONE, SAYS_SIZE_RANGE, SAYS_SIZE_STEPS };
bool message_has_name(unsigned index); /* not reserved in the newest table */
void message_check_reserved_type(struct judge *j, const struct event *e);
void message_check_reserved_bits(struct judge *j, const struct event *e);
void message_check_object_count(struct judge *j, const struct event *e);
void message_check_length(struct judge *j, const struct event *e);
void message_check_set_allowed(struct judge *j, const struct event *e);
void message_check_allowed_in_revision(struct judge *j, const struct event *e);
void message_check_deprecated(struct judge *j, const struct event *e);
void message_check_extended_size(struct judge *j, const struct event *e);

/* message_sender.c */
enum { SAYS_POWER_OWN, SAYS_POWER_GOODCRC };
enum { SAYS_IS_DFP, SAYS_IS_UFP };
enum { SAYS_REVISION_OTHER, SAYS_REVISION_RESERVED, SAYS_REVISION_UNSEEN };
enum { SAYS_FOR_OTHER_ROLE, SAYS_FOR_DFP };
struct power_role_state {
    uint64_t failed_frame; /* of the last message that failed: its GoodCRC proves nothing */
};
void message_check_power_role(struct judge *j, const struct event *e);
void message_check_data_role(struct judge *j, const struct event *e);
void message_check_header_revision(struct judge *j, const struct event *e);
void message_check_direction(struct judge *j, const struct event *e);

/* message_order.c */
enum { SAYS_ID_JUMPS, SAYS_ID_AGAIN };
enum { SAYS_ID_FIRST, SAYS_ID_OF_SOFT_RESET };
enum { SAYS_CHUNK_SHORT, SAYS_CHUNK_DIFFERS, SAYS_CHUNK_TOO_LONG, SAYS_CHUNK_BEHIND };
enum { SAYS_ORDER_ASKED, SAYS_ORDER_REQUEST_FORM, SAYS_ORDER_SENT, SAYS_ORDER_UNASKED, SAYS_ORDER_UNSEEN, SAYS_ORDER_REQUEST_BIT };
enum { SAYS_UNCHUNKED_REFUSED, SAYS_UNCHUNKED_UNSEEN };
struct chunk_order {
    bool     known;             /* chunk 0 was seen, and all since */
    bool     lost;              /* ... not, because records are missing */
    bool     asked;             /* the chunk `wanted` was asked for and has not come */
    uint8_t  type, last, wanted;
    uint64_t frame;             /* of the last chunk or request of it */
};
struct chunk_order_state { struct chunk_order order[6]; };
void message_check_id_sequence(struct judge *j, const struct event *e);
void message_check_id_after_reset(struct judge *j, const struct event *e);
void message_check_chunk_size(struct judge *j, const struct event *e);
void message_check_chunk_order(struct judge *j, const struct event *e);
void message_check_unchunked_agreed(struct judge *j, const struct event *e);

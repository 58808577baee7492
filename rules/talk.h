/*
 * rules/talk.h - questions and what came of them, worked out once for all rules about answers (USB PD, atomic message sequences).
 *
 * A question is a message that somebody has to answer (decode/exchange.h; also EPR_Mode Enter, Extended_Control but KeepAlive_Ack,
 * structured VDM requests but Attention, and reserved types). Its answer is the partner's next message on the same ordered set
 * that is no GoodCRC and no request chunk; Alert, Attention, unstructured VDMs and BIST are passed over, and so are PS_RDY and
 * Data_Reset_Complete, which end what was agreed on before. While a source waits for the Request to its capabilities whatever else
 * the sink asks is passed over too.
 * One question a sender and ordered set is open at a time. It is settled once:
 */
#pragma once
#include "rules/span.h"

enum ask_end {
    ASK_OPEN,
    ASK_ANSWERED,   /* by a kind that may answer it */
    ASK_OTHER,      /* by a message that neither may answer it nor opens an exchange */
    ASK_CROSSED,    /* the partner asked something itself instead */
    ASK_OVERTAKEN,  /* its sender asked something else meanwhile */
    ASK_SILENT,     /* nothing until answer_none_ms after it was heard; told when the port's next packet, reset or loss comes, or at the end */
    ASK_UNHEARD,    /* the same, and nobody acknowledged it: no delivery */
    ASK_HARD_RESET, /* a Hard Reset came first: answer is the reset signal */
    ASK_SOFT_RESET, /* a Soft_Reset, of either side: answer is that message */
    ASK_DETACHED,
};

struct judge;

/* When the port last began anew (attach, Hard Reset, Soft_Reset on SOP), the event in hand included; INT64_MIN: not in the trace. */
int64_t judge_anew_ns(const struct judge *j);
/*
 * The message of that frame with what came of it, while it is the last one of its sender on that ordered set, or the last Accept
 * on SOP; NULL: gone. Copies and GoodCRC are known once its sender or its partner has said something else.
 */
const struct sent *judge_sent(const struct judge *j, unsigned set, uint64_t frame);

/* The message of a question that is open, with its copies and GoodCRC so far; NULL: none is open. */
const struct sent *judge_open_sent(const struct judge *j, unsigned set, unsigned player);

struct ask {
    uint8_t  end;            /* enum ask_end */
    uint8_t  index;          /* message; reserved types too */
    uint8_t  set, player, side;
    uint8_t  detail;         /* VDM command, EPR_Mode action, Extended_Control type; else 0 */
    uint8_t  revision;       /* header revision of the message */
    uint8_t  agreed;         /* enum agreed_revision when it was sent */
    bool     in_contract, epr_mode;
    bool     asked;          /* capabilities that Get_Source_Cap or Extended_Control asked for */
    bool     owed;           /* capabilities: the first since attach, Hard Reset, Soft_Reset or power swap */
    bool     reserved;       /* a reserved type */
    uint64_t first_frame;    /* chunk 0 of a message in chunks, else the message */
    uint32_t word;           /* first data object (VDM header ...), extended: first 4 bytes of its block */
    struct sent sent;        /* the message as it was when the question was settled: edge_done(port, &sent) */
    bool     delivered;      /* proven or not */
    /* What ended it. answer.frame 0: nothing (SILENT, UNHEARD, DETACHED) */
    struct wire answer;      /* first copy, a spoilt one included: edge_start */
    uint8_t  answer_index, answer_player, answer_side;
    uint32_t answer_word;    /* first data object of the answer */
    bool     gap;            /* records were lost, or a bad packet came, between message and end: cause says which */
    uint8_t  cause;          /* enum cause */
    int64_t  start_ns, due_ns; /* internal: when to look again */
};

/* Does this message ask for an answer? Of an extended message its last chunk does. */
bool speech_asks(const struct speech *s);
/* Is this message of the partner, on the same ordered set, one of the answers that belong to the question? */
bool ask_may_answer(const struct ask *a, const struct speech *s);

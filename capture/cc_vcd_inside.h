/*
 * capture/cc_vcd_inside.h - value change dumps (IEEE 1364-2005, clause 18): what their declarations tell, and the signals that were chosen.
 * Within capture only.
 *
 * Words are parted by white space (anything up to a blank), lines are counted from 1.
 */
#pragma once
#include "capture/cc_bytes_inside.h"
#include "capture/cc_line.h"

#include <string.h>

enum { VCD_ID_MAX = 64, VCD_PATH_MAX = 1024, VCD_PRINTABLE_FIRST = '!', VCD_PRINTABLE_COUNT = 94 };

/* An identifier code: printable characters. */
struct vcd_id { uint8_t bytes[VCD_ID_MAX]; size_t length; };

/* What the declarations tell. */
struct vcd_head {
    struct cc_tick tick;
    int64_t        start_ns; /* since 1970 */
    bool           has_start;
    struct vcd_id  id[CC_LINES_MAX]; /* of each line that was asked for */
    uint64_t       lines_read;       /* ends of line up to the values */
    /* Identifiers that any variable has. Of three characters and more: only whether there are any. */
    bool           one_used[VCD_PRINTABLE_COUNT];
    bool           two_used[VCD_PRINTABLE_COUNT * VCD_PRINTABLE_COUNT];
    bool           longer_used;
};

static inline bool vcd_id_same(const struct vcd_id *a, const struct vcd_id *b)
{
    return a->length == b->length && memcmp(a->bytes, b->bytes, a->length) == 0;
}

static inline bool vcd_is_white(uint8_t byte)
{
    return byte <= ' ';
}

static inline bool vcd_is_printable(uint8_t byte)
{
    return byte >= VCD_PRINTABLE_FIRST && byte < VCD_PRINTABLE_FIRST + VCD_PRINTABLE_COUNT;
}

/*
 * Reads the declarations, up to the end of $enddefinitions, and chooses signals. False with FAULT_FORMAT (what is wrong, in which line),
 * FAULT_NOT_THERE, FAULT_AMBIGUOUS, FAULT_READ, FAULT_COMPRESSION or FAULT_NO_MEMORY.
 */
bool vcd_head_read(struct cc_bytes *bytes, const struct cc_options *options, struct vcd_head *head, struct fault *f);

/* What is chosen from the variables that are declared, and what there is to choose from. */
struct vcd_choices;
struct vcd_choices *vcd_choices_new(const struct cc_options *options);
void vcd_choices_free(struct vcd_choices *c);
/* A variable: its full path, parts between points. id->length is 0 if it is longer than any that can be chosen. */
void vcd_choices_see(struct vcd_choices *c, const char *path, bool one_bit, const struct vcd_id *id);
/* Every variable has been seen. False with FAULT_NOT_THERE, FAULT_AMBIGUOUS or FAULT_FORMAT. */
bool vcd_choices_settle(const struct vcd_choices *c, struct vcd_id id[], struct fault *f);

/* A moment that is the same everywhere: 2026-01-31T10:00:00Z, with a fraction or an offset from UTC if you like. Nanoseconds since 1970. */
bool vcd_date_read(const char *text, int64_t *since_1970_ns);

/* --- the values --- */

enum vcd_level { VCD_LOW, VCD_HIGH, VCD_UNKNOWN };

enum { VCD_CHANGES_MAX = 4096 };

/*
 * A signal that was chosen, from the beginning of its present stretch. What is in doubt: lines that could not be read may have held a change of
 * it; the next change tells, since a level that comes twice says that one between was lost.
 */
struct vcd_signal {
    struct vcd_id  id;
    bool           steady;  /* nothing to think about: the level is known, the time too, nothing is in doubt */
    bool           known;   /* the stretch goes on: the level has been known from `from` on */
    bool           pending; /* not known, but from the next time on it will be: `level` */
    bool           ever;    /* a stretch of it has been given out already */
    bool           broken, told_unknown;
    bool           first;   /* level at `from` */
    enum vcd_level level;   /* now */
    unsigned       doubts;
    uint64_t       unknown_line; /* where it was unknown for the first time */
    int64_t        began;   /* from when on it has been known without a break */
    int64_t        from;
    size_t         count;
    int64_t        at[VCD_CHANGES_MAX];
};

/* Of an identifier of one character: the signal, or one of these. */
enum { VCD_OTHER = 0xFE, VCD_UNDECLARED = 0xFF };

struct cc_file {
    struct cc_bytes  *bytes;
    struct cc_options options;
    struct cc_facts   facts;
    struct vcd_head   head;
    unsigned          lines, signals;
    uint8_t           signal_of_line[CC_LINES_MAX];
    uint8_t           single[256];

    uint64_t number;      /* of the line that is read */
    int64_t  time, before; /* the last #time, and the one before that */
    int64_t  settled;     /* up to here stretches have been given out */
    uint64_t time_number; /* line of the last #time */
    bool     has_time;
    bool     unsure;      /* the last #time could not be read or goes back: when things change now is not known */
    bool     in_comment, in_bad_line, in_long_word;
    bool     ended;

    size_t at, end;       /* what is left of the piece of the window that is gone through: whole words */

    bool     giving;      /* stretches up to give_until are to be given out, from line give_line on */
    bool     give_doubtful; /* also of signals that are in doubt */
    int64_t  give_until;
    unsigned give_line;

    struct vcd_signal signal[]; /* as many as lines, if not less */
};

/* Goes through the piece until its end, or until stretches have to be given out first (v->giving). */
void vcd_changes_read(struct cc_file *v, const uint8_t *piece);
/* The rest of a line, or a word that is longer than the buffer, is passed over; at: where it begins, n: what is there of it. */
void vcd_unreadable(struct cc_file *v, enum cc_news news, const uint8_t *at, size_t n);
/* Give out what is known up to now: something happens that ends it. */
void vcd_give_all(struct cc_file *v);
/* Give out what is known up to the time before this one, so that it need not be kept; what is in doubt is kept until it is settled. */
void vcd_give_early(struct cc_file *v);
/* How many of a stretch's changes come before this time. */
size_t vcd_changes_before(const struct vcd_signal *s, int64_t time);

/*
 * capture/live.h - a source that is recorded from: something that speaks while we listen.
 *
 * A source never waits. It says which descriptors it wants watched and until when it needs no turn; whoever runs the recording polls
 * all of them together and gives each its turn. What a source hears it hands over at once, as records with their stamps in host time.
 * The kinds of sources are rows of a table; each knows how to open one by its name, and how to find what there is.
 */
#pragma once
#include "capture/base/fault.h"
#include "capture/record.h"

#include <poll.h>
#include <stddef.h>

struct cJSON;
struct live_source;

enum live_news {
    LIVE_UNREADABLE,  /* number: of the line; words: its beginning; it is passed over */
    LIVE_OWN_CLOCK,   /* its times are not the host's: they are tied to it by their arrival; ns: its clock less the host's */
    LIVE_CLOCK_BACK,  /* its clock went back, by ns: tied anew */
    LIVE_GONE,        /* it cannot be heard any more (sys: errno or 0); tried again until it comes back */
    LIVE_RETURNED,
    LIVE_ENDED,       /* it has come to its end */
    LIVE_FOUND,       /* it is listened to from now on: who; number: how many ports, from number ns on */
    LIVE_REFUSED,     /* it cannot be opened: words; sys EACCES: for want of rights */
    LIVE_UNSOUND_SELF,/* what it says of itself cannot be: it is left alone */
    LIVE_RESTARTED,   /* it began anew by itself: records may be missing */
    LIVE_NO_CLOCK,    /* it does not tell its time: tied by its arrivals */
    LIVE_TOO_MANY,    /* no more can be recorded from: it is left alone */
};
enum { LIVE_NEWS = LIVE_TOO_MANY + 1 };
struct live_notice {
    enum live_news news;
    int            sys;
    uint64_t       number;
    int64_t        ns;
    const char    *words;        /* bytes as they came, or NULL */
    size_t         words_length;
    char           who[128];     /* which of several, "": the source itself */
};

/* Whom a source hands over to. */
struct live_hands {
    void (*put)(void *context, int64_t stamp_ns, const uint8_t *bytes, size_t length);
    void (*notice)(void *context, const struct live_source *from, const struct live_notice *notice);
    int64_t (*now_ns)(void *context); /* since 1970; never goes back */
    void *context;
    bool  edges; /* the changes of level of the CC line too, where the source has them */
};

/* Found by looking round. */
struct live_found {
    char        from[512]; /* as --from takes it: "kernel:port0" */
    char        what[200]; /* in words */
    char        serial[128]; /* "": none */
    int         ports;     /* -1: not known */
    char        uncertainty[200]; /* in words, "": not told */
};

struct live_kind {
    const char *word;      /* "text": what --from begins with */
    struct live_source *(*open)(const char *rest, const struct live_hands *hands, struct fault *f);
    void     (*find)(void (*found)(void *context, const struct live_found *one), void *context); /* NULL: cannot be looked for */
    unsigned (*watch)(struct live_source *s, struct pollfd *fds, unsigned room, int64_t *wake_ns);
    void     (*work)(struct live_source *s, const struct pollfd *fds, unsigned count);
    int64_t  (*reached_ns)(const struct live_source *s);
    bool     (*over)(const struct live_source *s);
    void     (*stop)(struct live_source *s); /* NULL: nothing to do */
    void     (*about)(const struct live_source *s, struct cJSON *about, bool closing);
    void     (*close)(struct live_source *s);
};
/* Those that need no more than this folder; a program puts them, and others, into a table that ends with NULL. */
extern const struct live_kind live_usb_kind, live_text_kind;

/* Every source begins with this. */
struct live_source {
    const struct live_kind *kind;
    struct live_hands       hands;
    char                    name[600]; /* as it was asked for */
};

/* from: "text:PATH" and the like. NULL with *f set: FAULT_OPEN (sys ENODEV: nobody is there), FAULT_USB, FAULT_NO_MEMORY, or FAULT_NONE: there is no such kind. */
struct live_source *live_open(const struct live_kind *const *kinds, const char *from, const struct live_hands *hands, struct fault *f);
void live_close(struct live_source *s);
/* Fills fds with what it wants watched (room is LIVE_WATCHED at the least), and lowers *wake_ns to when it wants a turn anyway. */
enum { LIVE_WATCHED = 64 };
unsigned live_watch(struct live_source *s, struct pollfd *fds, unsigned room, int64_t *wake_ns);
/* Its turn; fds as live_watch filled them, polled. */
void live_work(struct live_source *s, const struct pollfd *fds, unsigned count);
/* No record that starts before that will come (but for what comes late). */
int64_t live_reached_ns(const struct live_source *s);
/* It will say nothing any more. */
bool live_over(const struct live_source *s);
/* Recording ends: what is under way comes in now. */
void live_stop(struct live_source *s);
/* Adds what it knows of itself to an ABOUT object; closing: what it knows at the end. */
void live_about(const struct live_source *s, struct cJSON *about, bool closing);

/*
 * capture/about.h - what ABOUT records say of the bench, merged (RFC 7396), for the bench and for each port.
 *
 * Standard uncertainties are k = 1. A negative or non-numeric value counts as missing. Zero states zero.
 */
#pragma once
#include "capture/base/fault.h"
#include "capture/json.h"
#include "capture/record.h"

struct cJSON;

enum about_kind { ABOUT_SOURCE, ABOUT_SINK, ABOUT_DUAL, ABOUT_INPUT };
enum about_plug { ABOUT_PLUG_UNKNOWN, ABOUT_RECEPTACLE, ABOUT_CAPTIVE, ABOUT_TYPE_A, ABOUT_PLUG_OTHER };
enum about_volt_at { ABOUT_VOLT_UNKNOWN, ABOUT_VOLT_SOURCE, ABOUT_VOLT_SINK };

struct about_instrument {
    double clock_ppm, time_ns, host_time_ns, mark_time_ns, align_ns, power_time_ns, power_clock_ppm;
    struct { double gain_ppm, offset_uv, noise_uv, bandwidth_hz; } volt; /* amp: _ua */
    struct { double gain_ppm, offset_ua, noise_ua, bandwidth_hz; } amp;
    bool mean_sampling; /* "sampling":"mean" */
    /* Which of them ABOUT gives: bits of enum about_given. */
    uint32_t given;
};
enum about_given {
    ABOUT_CLOCK_PPM = 1, ABOUT_TIME_NS = 2, ABOUT_HOST_TIME_NS = 4, ABOUT_MARK_TIME_NS = 8, ABOUT_ALIGN_NS = 16,
    ABOUT_POWER_TIME_NS = 32, ABOUT_POWER_CLOCK_PPM = 64, ABOUT_VOLT_GAIN = 128, ABOUT_VOLT_OFFSET = 256,
    ABOUT_VOLT_NOISE = 512, ABOUT_VOLT_BANDWIDTH = 1024, ABOUT_AMP_GAIN = 2048, ABOUT_AMP_OFFSET = 4096,
    ABOUT_AMP_NOISE = 8192, ABOUT_AMP_BANDWIDTH = 16384,
};

struct about_port {
    bool               listed;      /* the port stands in ABOUT "ports" */
    char               name[32];    /* "" if none */
    enum about_kind    kind;        /* absent: source */
    bool               kind_given;
    enum about_plug    plug;
    enum about_volt_at volt_at;
    int32_t            rated_mw;    /* -1 if not given */
    double             path_mohm, path_mohm_u; /* -1 if not given */
};

struct about;

struct about *about_new(void); /* NULL: no memory */
void about_free(struct about *a);
/*
 * Merges an ABOUT record's text, port 255 for the bench. False, and nothing changed, if it is no JSON object or there is no end
 * of it (some 4,000 members in all, 512 in one object: no bench needs them, and memory may not grow with the trace).
 */
bool about_merge(struct about *a, uint8_t port, const char *text, size_t length);
/* Merged over all, also over those still to come: the option --about FILE. */
bool about_override(struct about *a, const char *text, size_t length, struct fault *f);
/*
 * As merged so far; belongs to a. instrument: key by key what the port's own ABOUT says, else the bench's; about_override
 * outranks both. port: of the bench's list "ports", or of a list in the port's own ABOUT.
 */
const struct about_instrument *about_instrument(const struct about *a, uint8_t port);
const struct about_port       *about_port(const struct about *a, uint8_t port);
const struct cJSON            *about_json(const struct about *a);           /* the bench's merged object, for printing */
bool about_rebuilt(const struct about *a, const char *from);                /* "rebuilt" names it, of the bench or of a port */
bool about_port_rebuilt(const struct about *a, uint8_t port, const char *from); /* of the bench, or of that port */
bool about_port_told(const struct about *a, uint8_t port);                  /* by a kernel: "kernel", "kernel_log" */
unsigned about_generation(const struct about *a);                           /* rises with every change */

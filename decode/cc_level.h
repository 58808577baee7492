/*
 * decode/cc_level.h - what the voltages of a port's two CC pins at rest say: is somebody attached, on which pin, and which current does
 * the source announce. Levels go in (capture/cc_line.h tells them), states as CC_STATE records want them come out.
 *
 *   _mv  millivolts of a pin against the port's ground
 *   _ns  of the same clock for both pins
 *
 * A source pulls both pins up (Rp), a sink one down (Rd), a cable that wants VCONN the other (Ra). One pin amid the windows of Rd is a
 * partner there, and the window tells Rp; a pin that is open shows the pull-up's own voltage, which VCONN does as well. Both pins alike
 * amid the windows: a debug accessory; both with Ra: an audio accessory. What one pin alone shows is taken for what it is most likely.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

/* What the voltage of a pin is like: unknown, ground, Ra, the three windows of Rd (by Rp: default USB, 1.5 A, 3.0 A), open. */
enum cc_pin_level { CC_PIN_UNKNOWN, CC_PIN_GROUND, CC_PIN_RA, CC_PIN_USB, CC_PIN_1A5, CC_PIN_3A0, CC_PIN_OPEN };

/* before: what it was like just before; between that window and the next one it stays that. */
enum cc_pin_level cc_pin_level_of(int32_t mv, enum cc_pin_level before);

/* As a CC_STATE record has it. */
enum { CC_PIN_MV_NONE = 0xFFFF };
struct cc_state { uint8_t attach, rp; uint16_t cc1_mv, cc2_mv; };
/* The levels of both pins together; CC_PIN_MV_NONE: not measured. */
struct cc_state cc_state_of(const enum cc_pin_level pins[2], const uint16_t mv[2]);

/* The border between two levels: up to least it is clearly the lower one, from most on the upper; `border` where neither was before. */
struct cc_border { enum cc_pin_level under, above; int32_t least_mv, border_mv, most_mv; const char *source; };
extern const struct cc_border cc_borders[];
extern const unsigned         cc_borders_count;

/* Both pins of a port through time. */
/*
 * A state counts if it lasts a millisecond, from its beginning on. Where a pin that is measured has not shown a level yet, the other's word
 * alone counts after a tenth of a second. Both: common practice, no source.
 */
enum { CC_CHANGES_MAX = 256, CC_HOLD_NS = 1000000, CC_HOLD_ONE_NS = 100000000 };
struct cc_pin_change { int64_t at_ns; enum cc_pin_level level; int32_t mv; };
struct cc_pin {
    bool                 measured;
    enum cc_pin_level    level;       /* of the latest that came in */
    int64_t              reached_ns;
    struct cc_pin_change waits[CC_CHANGES_MAX]; /* until the other pin is known as far */
    unsigned             first, count;
    enum cc_pin_level    now;         /* taken into account */
    uint16_t             now_mv;
};
struct cc_pins {
    struct cc_pin   pin[2];
    bool            told, pending;
    struct cc_state state, next; /* next: if it lasts */
    enum cc_pin_level levels[2], next_levels[2];
    int64_t         next_ns, hold_ns;
    void (*changed)(void *context, int64_t at_ns, const struct cc_state *state);
    void *context;
};

/* measured: which of CC1 and CC2 will come. changed is called in order of time. */
void cc_pins_begin(struct cc_pins *p, const bool measured[2], void (*changed)(void *context, int64_t at_ns, const struct cc_state *state), void *context);
/* Pin 0 (CC1) or 1 (CC2) rests at that voltage from..until. Levels of one pin come in order of time. */
void cc_pins_level(struct cc_pins *p, unsigned pin, int64_t from_ns, int64_t until_ns, int32_t mv);
/* All levels of that pin that begin before have come. */
void cc_pins_reached(struct cc_pins *p, unsigned pin, int64_t ns);
/* No change will be told that is earlier; INT64_MAX after cc_pins_finish. */
int64_t cc_pins_settled(const struct cc_pins *p);
void cc_pins_finish(struct cc_pins *p);

#include "cli/show.h"

const char *const show_kind_names[SHOW_KINDS + 1] = {
    [SHOW_PACKET] = "packet", [SHOW_RESET] = "reset", [SHOW_POWER] = "power", [SHOW_CC] = "cc", [SHOW_MARK] = "mark",
    [SHOW_LOST] = "lost", [SHOW_TEMPERATURE] = "temperature", [SHOW_ABOUT] = "about", [SHOW_EDGES] = "edges",
    [SHOW_UNKNOWN] = "unknown", [SHOW_DAMAGED] = "damaged", [SHOW_UNREADABLE] = "unreadable", [SHOW_KINDS] = NULL,
};

static enum show_kind kind_of_sound(uint8_t kind)
{
    static const uint8_t kinds[] = {
        [RECORD_PD_PACKET] = SHOW_PACKET, [RECORD_RESET_SIGNAL] = SHOW_RESET, [RECORD_POWER] = SHOW_POWER,
        [RECORD_CC_STATE] = SHOW_CC, [RECORD_MARK] = SHOW_MARK, [RECORD_LOST] = SHOW_LOST,
        [RECORD_TEMPERATURE] = SHOW_TEMPERATURE, [RECORD_ABOUT] = SHOW_ABOUT, [RECORD_CC_EDGES] = SHOW_EDGES,
    };

    return kind >= RECORD_PD_PACKET && kind <= RECORD_CC_EDGES ? (enum show_kind)kinds[kind] : SHOW_UNKNOWN;
}

enum show_kind show_kind_of(const struct record *r)
{
    switch (r->soundness) {
    case RECORD_SOUND:      return kind_of_sound(r->kind);
    case RECORD_DAMAGED:    return SHOW_DAMAGED;
    case RECORD_UNREADABLE: return SHOW_UNREADABLE;
    case RECORD_UNKNOWN:    return SHOW_UNKNOWN;
    }
    return SHOW_UNKNOWN;
}

const char *show_action_text(unsigned action)
{
    static const char *const names[] = {
        [RECORD_NOTE] = "note", [RECORD_PLUGGED] = "plugged", [RECORD_UNPLUGGED] = "unplugged", [RECORD_LOAD_SET] = "load",
        [RECORD_INPUT_ON] = "input_on", [RECORD_INPUT_OFF] = "input_off", [RECORD_BUTTON] = "button",
    };

    return action < sizeof names / sizeof names[0] ? names[action] : "?";
}

const char *show_rp_text(unsigned rp)
{
    static const char *const names[] = { "none", "default", "1.5A", "3.0A" };

    return rp < sizeof names / sizeof names[0] ? names[rp] : "?";
}

const char *show_where_text(unsigned where)
{
    static const char *const names[] = { "unknown", "instrument", "host", "disk" };

    return where < sizeof names / sizeof names[0] ? names[where] : "?";
}

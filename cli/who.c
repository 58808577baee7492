#include "cli/who.h"

#include <inttypes.h>
#include <stdio.h>

unsigned device_player(const struct about_port *about)
{
    return about->kind == ABOUT_SINK || about->kind == ABOUT_INPUT ? PLAYER_B : PLAYER_A;
}

const char *player_text(const struct about_port *about, unsigned player)
{
    if (player == PLAYER_CABLE)
        return "cable";
    if (player > PLAYER_B)
        return "unknown";
    if (about->kind == ABOUT_DUAL)
        return player == PLAYER_A ? "first source" : "first sink";
    return player == device_player(about) ? "device" : "partner";
}

const char *player_party_name(const struct about_port *about, unsigned player)
{
    if (player == PLAYER_CABLE)
        return "cable";
    /* On a port that is both, either of the two may be the device. */
    if (player > PLAYER_B || about->kind == ABOUT_DUAL)
        return NULL;
    return player == device_player(about) ? "device" : "partner";
}

void port_name(const struct about_port *about, unsigned port, char *name, size_t cap)
{
    if (about->name[0])
        snprintf(name, cap, "%s", about->name);
    else
        snprintf(name, cap, "port %u", port);
}

const struct field *word_field(enum object_kind kind, uint32_t word, const char *key, uint32_t *raw)
{
    const struct object_layout *layout = object_layout(kind);

    for (unsigned k = 0; k < layout->count; k++)
        if (layout->fields[k].key && strcmp(layout->fields[k].key, key) == 0) {
            *raw = field_raw(&layout->fields[k], word);
            return &layout->fields[k];
        }
    return NULL;
}

#include "decode/kernel_identity.h"

#include "decode/message.h"

enum { WORDS = 6, WORDS_LEAST = 3 };
/* VDM header (Linux include/linux/usb/pd_vdo.h): SVID of USB PD, structured, ACK, Discover Identity; version 2.x in bits 14:13. */
#define ACK_TO_DISCOVER_IDENTITY UINT32_C(0xFF008041)
#define VERSION_2 (UINT32_C(1) << 13)

static size_t word_put(uint8_t *at, uint32_t word)
{
    for (unsigned k = 0; k < 4; k++)
        at[k] = (uint8_t)(word >> 8 * k);
    return 4;
}

struct kernel_message kernel_identity_message(const struct kernel_port *port, bool cable, unsigned id)
{
    const uint32_t       *words = cable ? port->cable_identity : port->identity;
    unsigned              count = WORDS;
    struct kernel_message m = { .length = 0 };

    while (count > WORDS_LEAST && words[count - 1] == 0)
        count--;
    if (words[0] == 0)
        return m;
    uint16_t header = kernel_message_header(port, cable ? KERNEL_FROM_CABLE : KERNEL_FROM_PARTNER, DATA_VENDOR_DEFINED, id, count + 1);
    bool     old = (header >> 6 & 3) < HEADER_R3;

    m.bytes[0] = (uint8_t)header;
    m.bytes[1] = (uint8_t)(header >> 8);
    m.length = 2 + word_put(m.bytes + 2, ACK_TO_DISCOVER_IDENTITY | (old ? 0 : VERSION_2));
    for (unsigned k = 0; k < count; k++)
        m.length += word_put(m.bytes + m.length, words[k]);
    return m;
}

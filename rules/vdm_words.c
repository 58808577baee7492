#include "rules/vdm_words.h"

bool speech_is_identity(const struct speech *s)
{
    uint32_t header = message_word(&s->m, 0);

    return vdm_structured(header) && vdm_type(header) == VDM_ACK &&
           vdm_command(header) == VDM_DISCOVER_IDENTITY && vdm_svid(header) == VDM_SID_PD;
}

struct identity identity_of(const struct speech *s)
{
    struct identity i = { .frame = s->frame, .t_ns = s->start_ns, .revision = s->m.revision, .set = s->m.set };
    unsigned        count = message_words(&s->m);

    i.count = (uint8_t)(count ? count - 1 : 0);
    for (unsigned k = 0; k < count && k < sizeof i.words / sizeof i.words[0]; k++)
        i.words[k] = message_word(&s->m, k);
    return i;
}

uint32_t object_reserved_set(enum object_kind kind, uint32_t word)
{
    const struct object_layout *layout = object_layout(kind);
    uint32_t                    reserved = 0;

    for (unsigned k = 0; k < layout->count; k++) {
        const struct field *f = &layout->fields[k];

        if (!f->key)
            reserved |= ((f->bits < 32 ? UINT32_C(1) << f->bits : 0) - 1) << f->low;
    }
    return word & reserved;
}

#include "cli/speech_objects.h"

#include "capture/base/cursor.h"

enum {
    INDEX_SOURCE_CAPABILITIES = MESSAGE_INDEX(CLASS_DATA, DATA_SOURCE_CAPABILITIES),
    INDEX_SINK_CAPABILITIES = MESSAGE_INDEX(CLASS_DATA, DATA_SINK_CAPABILITIES),
    INDEX_REQUEST = MESSAGE_INDEX(CLASS_DATA, DATA_REQUEST),
    INDEX_EPR_REQUEST = MESSAGE_INDEX(CLASS_DATA, DATA_EPR_REQUEST),
    INDEX_EPR_MODE = MESSAGE_INDEX(CLASS_DATA, DATA_EPR_MODE),
    INDEX_VENDOR_DEFINED = MESSAGE_INDEX(CLASS_DATA, DATA_VENDOR_DEFINED),
    INDEX_EPR_SOURCE = MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_EPR_SOURCE_CAPABILITIES),
    INDEX_EPR_SINK = MESSAGE_INDEX(CLASS_EXTENDED, EXTENDED_EPR_SINK_CAPABILITIES),
};

bool speech_is_capabilities(const struct message *m)
{
    return m->index == INDEX_SOURCE_CAPABILITIES || m->index == INDEX_SINK_CAPABILITIES || m->index == INDEX_EPR_SOURCE ||
           m->index == INDEX_EPR_SINK;
}

bool speech_has_objects(const struct speech *s)
{
    if (s->m.message_class == CLASS_EXTENDED)
        return speech_is_capabilities(&s->m) && s->news == CHUNK_COMPLETE;
    return s->m.message_class == CLASS_DATA;
}

/* What a request asks of: the model's own word on it, else the object at its position of the offer in force. */
static struct pdo asked_object(const struct port *p, uint32_t word)
{
    unsigned            position = rdo_position(word);
    const struct offer *offer = p->epr_mode && p->epr_offer.known ? &p->epr_offer : &p->offer;

    if (p->request.held && p->request.rdo.word == word)
        return p->request.asked;
    if (offer->known && position >= 1 && position <= offer->count)
        return offer->pdos[position - 1];
    return (struct pdo){ .word = 0 };
}

static void pdo_take(struct speech_object *o, unsigned position, bool sink)
{
    o->kind = SPEECH_PDO;
    o->sink = sink;
    o->layout = object_kind_of_pdo(o->word, sink, position == 1);
    o->pdo = sink ? pdo_read_sink(o->word, position) : pdo_read_source(o->word, position);
}

static enum object_kind layout_of_request(unsigned form)
{
    switch ((enum request_form)form) {
    case REQUEST_FIXED_VARIABLE: return OBJECT_REQUEST_FIXED_VARIABLE;
    case REQUEST_BATTERY:        return OBJECT_REQUEST_BATTERY;
    case REQUEST_PPS:            return OBJECT_REQUEST_PPS;
    case REQUEST_AVS:            return OBJECT_REQUEST_AVS;
    case REQUEST_FORM_UNKNOWN:   return OBJECT_REQUEST_UNKNOWN;
    }
    return OBJECT_REQUEST_UNKNOWN;
}

static void rdo_take(struct speech_object *o, const struct port *p)
{
    o->kind = SPEECH_RDO;
    o->asked = asked_object(p, o->word);
    o->rdo = rdo_read(o->word, o->asked.word ? &o->asked : NULL);
    o->layout = layout_of_request(o->rdo.form);
}

/* Word k of a data message. */
static void data_take(struct speech_object *o, const struct port *p, const struct message *m, const uint32_t *words,
                      unsigned count, unsigned k)
{
    switch (m->index) {
    case INDEX_SOURCE_CAPABILITIES:
    case INDEX_SINK_CAPABILITIES:
        pdo_take(o, k + 1, m->index == INDEX_SINK_CAPABILITIES);
        return;
    case INDEX_REQUEST:
    case INDEX_EPR_REQUEST:
        if (k == 0)
            rdo_take(o, p);
        else if (m->index == INDEX_EPR_REQUEST && k == 1)
            pdo_take(o, rdo_position(words[0]), false);
        return;
    case INDEX_VENDOR_DEFINED:
        o->layout = object_kind_of_vdm(words, count, k, m->set, m->revision);
        return;
    case INDEX_EPR_MODE:
        o->layout = k == 0 ? object_kind_of_epr_mode(words[0]) : OBJECT_RAW;
        return;
    default:
        o->layout = object_kind_of_data(m->type, k);
    }
}

static unsigned epr_objects(const struct speech *s, struct speech_object list[SPEECH_OBJECTS_MAX])
{
    struct cursor c = cursor_over(s->data, s->size);
    unsigned      count = 0;

    for (unsigned position = 1; c.left >= 4 && position <= SPEECH_OBJECTS_MAX; position++) {
        uint32_t word = cursor_u32le(&c);

        if (word == 0)
            continue;
        list[count] = (struct speech_object){ .word = word };
        pdo_take(&list[count++], position, s->m.index == INDEX_EPR_SINK);
    }
    return count;
}

unsigned speech_objects(const struct port *p, const struct speech *s, struct speech_object list[SPEECH_OBJECTS_MAX])
{
    uint32_t words[SPEECH_OBJECTS_MAX];

    if (!speech_has_objects(s))
        return 0;
    if (s->m.message_class == CLASS_EXTENDED)
        return epr_objects(s, list);
    unsigned count = message_words(&s->m);

    if (count > SPEECH_OBJECTS_MAX)
        count = SPEECH_OBJECTS_MAX;
    for (unsigned k = 0; k < count; k++)
        words[k] = message_word(&s->m, k);
    for (unsigned k = 0; k < count; k++) {
        list[k] = (struct speech_object){ .kind = SPEECH_WORD, .layout = OBJECT_RAW, .word = words[k] };
        data_take(&list[k], p, &s->m, words, count, k);
    }
    return count;
}

#include "cli/speech_text.h"

#include "cli/object_text.h"
#include "cli/speech_objects.h"

#include <stdio.h>

enum { THOUSANDS = 3, VDM_ACK = 1, VDM_IDENTITY = 1, VDM_SVIDS = 2 };

const char *class_text(unsigned message_class)
{
    static const char *const names[] = {
        [CLASS_CONTROL] = "control", [CLASS_DATA] = "data", [CLASS_EXTENDED] = "extended",
    };

    return names[message_class % 3];
}

const char *message_text(const struct message *m, char *buffer, size_t cap)
{
    const char *name = message_kind(m->index)->name;

    if (name)
        return name;
    snprintf(buffer, cap, "reserved %s %u", class_text(m->message_class), m->type);
    return buffer;
}

static void volts(struct out *o, int32_t mv)
{
    out_short(o, mv, THOUSANDS);
    out_text(o, " V ");
}

static void range(struct out *o, const struct pdo *p)
{
    out_short(o, p->min_mv, THOUSANDS);
    out_char(o, '-');
    volts(o, p->max_mv);
}

static void amount(struct out *o, int32_t thousandths, const char *unit)
{
    out_short(o, thousandths, THOUSANDS);
    out_text(o, unit);
}

void pdo_text(struct out *o, const struct pdo *p)
{
    switch ((enum supply)p->supply) {
    case SUPPLY_FIXED:
        volts(o, p->max_mv);
        amount(o, p->max_ma, " A");
        return;
    case SUPPLY_BATTERY:
        range(o, p);
        amount(o, p->max_mw, " W batt");
        return;
    case SUPPLY_VARIABLE:
        range(o, p);
        amount(o, p->max_ma, " A var");
        return;
    case SUPPLY_PPS:
        range(o, p);
        amount(o, p->max_ma, " A prog");
        return;
    case SUPPLY_EPR_AVS:
        range(o, p);
        amount(o, p->max_mw, " W adj");
        return;
    case SUPPLY_SPR_AVS:
        range(o, p);
        amount(o, p->max_ma, "");
        if (p->max_ma_20v) {
            out_char(o, '/');
            amount(o, p->max_ma_20v, "");
        }
        out_text(o, " A adj");
        return;
    case SUPPLY_RESERVED:
        out_text(o, "reserved 0x");
        out_hex(o, p->word, 8);
        return;
    }
}

static void request_flags(struct out *o, size_t indent, const struct rdo *r)
{
    const struct { bool set; const char *name; } flags[] = {
        { r->mismatch, "mismatch" }, { r->give_back, "give-back" }, { r->epr_capable, "epr" },
        { r->usb_comm, "usb" }, { r->no_usb_suspend, "no-suspend" }, { r->unchunked, "unchunked" },
    };
    bool first = true;

    for (size_t i = 0; i < sizeof flags / sizeof flags[0]; i++)
        if (flags[i].set) {
            size_t item = out_item(o);

            out_text(o, first ? "; " : ", ");
            out_text(o, flags[i].name);
            out_item_end(o, item, indent);
            first = false;
        }
}

/* Operating value, and the other one where it differs. */
static void operating(struct out *o, int32_t op, int32_t other, bool give_back, const char *unit)
{
    amount(o, op, unit);
    if (other == op && !give_back)
        return;
    out_text(o, give_back ? " (at least " : " (at most ");
    amount(o, other, unit);
    out_char(o, ')');
}

void rdo_text(struct out *o, const struct rdo *r, const struct pdo *asked)
{
    size_t indent = out_place(o);

    out_char(o, '#');
    out_u64(o, r->position);
    out_char(o, ' ');
    switch ((enum request_form)r->form) {
    case REQUEST_FIXED_VARIABLE:
        if (asked->supply == SUPPLY_FIXED)
            volts(o, r->mv);
        else
            range(o, asked);
        operating(o, r->op_ma, r->max_ma, r->give_back, " A");
        break;
    case REQUEST_BATTERY:
        range(o, asked);
        operating(o, r->op_mw, r->max_mw, r->give_back, " W");
        break;
    case REQUEST_PPS:
    case REQUEST_AVS:
        volts(o, r->mv);
        amount(o, r->op_ma, " A");
        break;
    case REQUEST_FORM_UNKNOWN:
        out_text(o, "of an offer that was not seen");
        break;
    }
    request_flags(o, indent, r);
}

static void capabilities_text(struct out *o, const struct speech_object *list, unsigned count)
{
    size_t indent = out_place(o);

    for (unsigned k = 0; k < count; k++) {
        size_t item = out_item(o);

        if (k > 0)
            out_text(o, ", ");
        pdo_text(o, &list[k].pdo);
        if (k > 0)
            out_item_end(o, item, indent);
    }
}

/* A field of an object by its key, in words if it has any. */
static const char *field_words(enum object_kind kind, const char *key, uint32_t word, uint32_t *raw)
{
    const struct object_layout *layout = object_layout(kind);

    for (unsigned i = 0; i < layout->count; i++)
        if (layout->fields[i].key && strcmp(layout->fields[i].key, key) == 0) {
            *raw = field_raw(&layout->fields[i], word);
            return field_name_of(&layout->fields[i], *raw);
        }
    *raw = 0;
    return NULL;
}

static void out_id(struct out *o, uint32_t id)
{
    out_text(o, "0x");
    out_hex(o, id, 4);
}

static void identity_text(struct out *o, size_t indent, const struct speech_object *list, unsigned count)
{
    uint32_t    vid, pid, type;
    const char *words = field_words(list[1].layout, "dfp_type", list[1].word, &type);

    if (!words || type == 0)
        words = field_words(list[1].layout, "ufp_type", list[1].word, &type);
    if (!words || type == 0)
        words = field_words(list[1].layout, "cable_type", list[1].word, &type);
    field_words(list[1].layout, "vid", list[1].word, &vid);
    size_t item = out_item(o);

    out_text(o, "; vid ");
    out_id(o, vid);
    if (count > 3) {
        field_words(list[3].layout, "pid", list[3].word, &pid);
        out_text(o, " pid ");
        out_id(o, pid);
    }
    out_item_end(o, item, indent);
    if (!words || type == 0)
        return;
    item = out_item(o);
    out_text(o, ", ");
    out_text(o, words);
    out_item_end(o, item, indent);
}

static void svids_text(struct out *o, size_t indent, const struct speech_object *list, unsigned count)
{
    for (unsigned k = 1; k < count; k++)
        for (unsigned half = 0; half < 2; half++) {
            uint32_t svid = list[k].word >> (half ? 0 : 16) & 0xffff;
            size_t   item = out_item(o);

            if (svid == 0) /* the list ends here */
                return;
            out_text(o, k == 1 && half == 0 ? "; " : ", ");
            out_id(o, svid);
            out_item_end(o, item, indent);
        }
}

static void vdm_text(struct out *o, const struct speech_object *list, unsigned count)
{
    size_t      indent = out_place(o);
    uint32_t    svid, command, type;
    const char *svid_words = field_words(list[0].layout, "svid", list[0].word, &svid);

    if (list[0].layout != OBJECT_VDM_HEADER) {
        out_text(o, "unstructured, vid ");
        out_id(o, svid);
        return;
    }
    const char *command_words = field_words(OBJECT_VDM_HEADER, "command", list[0].word, &command);
    const char *type_words = field_words(OBJECT_VDM_HEADER, "command_type", list[0].word, &type);

    if (svid != 0xff00) { /* the PD standard's own commands need no name before them */
        if (svid_words)
            out_text(o, svid_words);
        else
            out_id(o, svid);
        out_char(o, ' ');
    }
    if (command_words) {
        out_text(o, command_words);
    } else {
        out_text(o, "command ");
        out_u64(o, command);
    }
    out_char(o, ' ');
    out_text(o, type_words ? type_words : "");
    if (type == VDM_ACK && command == VDM_IDENTITY && count > 1)
        identity_text(o, indent, list, count);
    if (type == VDM_ACK && command == VDM_SVIDS && count > 1)
        svids_text(o, indent, list, count);
}

static void revision_text(struct out *o, uint32_t word)
{
    const struct object_layout *layout = object_layout(OBJECT_REVISION);

    /* Four numbers, from the top: revision major and minor, version major and minor. */
    for (unsigned i = 0, n = 0; i < layout->count && n < 4; i++) {
        if (!layout->fields[i].key)
            continue;
        out_text(o, n == 0 ? "R" : n == 2 ? " V" : ".");
        out_u64(o, field_raw(&layout->fields[i], word));
        n++;
    }
}

static void data_text(struct out *o, const struct speech *s, const struct speech_object *list, unsigned count)
{
    size_t indent = out_place(o);

    if (speech_is_capabilities(&s->m))
        capabilities_text(o, list, count);
    else if (list[0].kind == SPEECH_RDO)
        rdo_text(o, &list[0].rdo, &list[0].asked);
    else if (s->m.index == MESSAGE_INDEX(CLASS_DATA, DATA_VENDOR_DEFINED))
        vdm_text(o, list, count);
    else if (list[0].layout == OBJECT_REVISION)
        revision_text(o, list[0].word);
    else
        word_brief(o, indent, list[0].layout, list[0].word);
}

static void chunk_text(struct out *o, const struct speech *s)
{
    if (s->m.request_chunk) {
        out_text(o, "asks for chunk ");
        out_u64(o, s->m.chunk);
        return;
    }
    out_text(o, "chunk ");
    out_u64(o, s->m.chunk);
    out_text(o, " of ");
    out_u64(o, s->m.data_size);
    out_text(o, " bytes");
}

static void chunk_news_text(struct out *o, const struct speech *s)
{
    switch ((enum chunk_news)s->news) {
    case CHUNK_NONE:
    case CHUNK_REQUEST:
    case CHUNK_OPEN:
    case CHUNK_COMPLETE:
        return;
    case CHUNK_REPEATED:
        out_text(o, ", this chunk came before");
        return;
    case CHUNK_MISSING:
        out_text(o, ", a chunk before it is missing");
        return;
    case CHUNK_BAD_SIZE:
        out_text(o, s->m.chunked ? ", its size is wrong" : "its size is wrong");
        return;
    }
}

static void extended_text(struct out *o, const struct port *p, const struct speech *s)
{
    size_t                     indent = out_place(o);
    const struct block_layout *layout = block_layout(s->m.type, s->m.set != SET_SOP);
    bool                       several = s->m.chunked && (s->m.request_chunk || s->m.chunk > 0 || s->m.data_size > CHUNK_BYTES);

    if (several)
        chunk_text(o, s);
    chunk_news_text(o, s);
    if (s->news != CHUNK_COMPLETE)
        return;
    if (speech_is_capabilities(&s->m)) {
        struct speech_object list[SPEECH_OBJECTS_MAX];
        unsigned             count = speech_objects(p, s, list);

        out_text(o, several ? ": " : "");
        capabilities_text(o, list, count);
    } else if (layout) {
        out_text(o, several ? ": " : "");
        block_brief(o, indent, layout, s->data, s->size);
    } else {
        out_text(o, several ? ", complete" : "");
    }
}

void speech_text(struct out *o, const struct port *p, const struct speech *s, unsigned answered)
{
    if (s->m.message_class == CLASS_EXTENDED) {
        extended_text(o, p, s);
        return;
    }
    if (s->m.message_class == CLASS_CONTROL) {
        if (answered && message_kind(answered)->name) {
            out_text(o, "to ");
            out_text(o, message_kind(answered)->name);
        }
        return;
    }
    struct speech_object list[SPEECH_OBJECTS_MAX];
    unsigned             count = speech_objects(p, s, list);

    if (count > 0)
        data_text(o, s, list, count);
}

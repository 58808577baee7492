/* What the lines of a port manager's log become. */
#include "decode/field.h"
#include "decode/kernel_log_inside.h"
#include "decode/message.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* Linux include/linux/usb/tcpm.h: typec_cc_status, tcpm_transmit_type, tcpm_transmit_status; include/linux/usb/role.h: usb_role. */
enum { CC_OPEN, CC_RA, CC_RD, CC_RP_DEFAULT };
enum { TYPE_HARD_RESET = 5, TYPE_CABLE_RESET = 6 };
enum { STATUS_SUCCESS, STATUS_DISCARDED };
enum { ROLE_HOST = 1 };
/* Linux include/linux/usb/pd.h, PDO_TYPE_...: the same numbers as in the objects. */
enum { PDO_TYPE_FIXED, PDO_TYPE_BATTERY, PDO_TYPE_VARIABLE, PDO_TYPE_AUGMENTED };
enum { HEADER_SIZE = 2, WORD_SIZE = 4, CRC_SIZE = 4, ATTACH_DEBUG = 3, ATTACH_AUDIO = 4, LOST_IN_HOST = 2, NOT_MEASURED = 0xFF };

static uint8_t flags_of(const struct kernel_log *k)
{
    return (uint8_t)(RECORD_HOST_TIME | k->options.flags);
}

/* In order of time: what is reckoned to have begun before the last record begins with it. */
static void give(struct kernel_log *k, int64_t stamp_ns, const uint8_t *bytes, size_t length)
{
    if (stamp_ns > k->out_ns)
        k->out_ns = stamp_ns;
    k->options.found(k->options.context, k->out_ns, bytes, length);
}

/* Behind the packet in hand, if there is one: its start is earlier. */
static void put(struct kernel_log *k, int64_t stamp_ns, uint8_t kind, uint8_t port, const uint8_t *body, size_t length)
{
    struct kernel_held h = { .stamp_ns = stamp_ns };

    h.length = record_put(h.bytes, sizeof h.bytes, kind, port, flags_of(k), 0, body, length);
    if (h.length == 0)
        return;
    if (k->packet.there && k->held_count == KERNEL_LOG_HELD)
        kernel_log_packet_end(k);
    if (k->packet.there)
        k->held[k->held_count++] = h;
    else
        give(k, stamp_ns, h.bytes, h.length);
}

void kernel_log_note(struct kernel_log *k, int64_t t_ns, const char *format, ...)
{
    uint8_t body[8 + KERNEL_LOG_NOTE_MAX] = { RECORD_NOTE, k->options.port };
    va_list arguments;

    va_start(arguments, format);
    int n = vsnprintf((char *)body + 8, KERNEL_LOG_NOTE_MAX, format, arguments);
    va_end(arguments);
    if (n > 0)
        put(k, t_ns, RECORD_MARK, RECORD_PORT_BENCH, body, 8 + (n < KERNEL_LOG_NOTE_MAX ? (size_t)n : (size_t)KERNEL_LOG_NOTE_MAX - 1));
}

static void about_put(struct kernel_log *k, int64_t t_ns, const char *text)
{
    put(k, t_ns, RECORD_ABOUT, k->options.port, (const uint8_t *)text, strlen(text));
}

/* A message is taken in by a thread of its own, over a slow bus (I2C): some milliseconds. Common practice, no source. */
void kernel_log_about(struct kernel_log *k, int64_t t_ns)
{
    about_put(k, t_ns, "{\"rebuilt\":[\"kernel_log\"],\"instrument\":{\"model\":\"Linux port manager, its log\",\"host_time_ns\":2000000}}");
}

/* The device under test is the partner: a source where the port is a sink. */
static void role_take(struct kernel_log *k, uint8_t role, int64_t t_ns)
{
    char    text[KERNEL_LOG_NOTE_MAX];
    uint8_t roles = k->facts.roles | role;
    int     n;

    if (roles == k->facts.roles)
        return;
    k->facts.roles = roles;
    n = snprintf(text, sizeof text, "{\"ports\":[{\"port\":%u%s%s%s,\"kind\":\"%s\"}]}", k->options.port,
                 k->facts.name[0] ? ",\"name\":\"" : "", k->facts.name, k->facts.name[0] ? "\"" : "",
                 roles == KERNEL_LOG_SINK ? "source" : roles == KERNEL_LOG_SOURCE ? "sink" : "dual");
    if (n > 0 && n < (int)sizeof text)
        about_put(k, t_ns, text);
}

/* Words of the log, as they are but for what is no printable ASCII. */
struct quote { char text[KERNEL_LOG_NOTE_MAX]; };

static struct quote quote(struct cursor words)
{
    struct quote q;
    size_t       n = 0;

    while (words.left > 0 && n < sizeof q.text - 1) {
        uint8_t byte = cursor_u8(&words);

        q.text[n++] = byte >= ' ' && byte < 0x7F ? (char)byte : '?';
    }
    q.text[n] = '\0';
    return q;
}

/* Packets. */

static unsigned header_type(uint16_t header)
{
    return header & 0x1F;
}

static unsigned header_objects(uint16_t header)
{
    return header >> 12 & 7;
}

static bool header_extended(uint16_t header)
{
    return header >> 15;
}

static bool is_data(uint16_t header, unsigned type)
{
    return !header_extended(header) && header_objects(header) > 0 && header_type(header) == type;
}

static void u32_put(uint8_t *at, uint32_t value)
{
    for (int shift = 0; shift < 32; shift += 8)
        *at++ = (uint8_t)(value >> shift);
}

/* False: a number does not go into its field. What the line does not name stays 0. */
static bool request_word(const struct kernel_ask *a, uint32_t *word)
{
    bool        battery = a->kind == KERNEL_LINE_ASKS_MW, programmable = a->kind == KERNEL_LINE_ASKS_APDO;
    const struct object_layout *l = object_layout(battery ? OBJECT_REQUEST_BATTERY : programmable ? OBJECT_REQUEST_PPS
                                                                                                  : OBJECT_REQUEST_FIXED_VARIABLE);
    uint32_t    w = 0;

    if (!field_put(l, "position", a->position, &w) || !field_put(l, battery ? "op_mw" : "op_ma", a->amount, &w))
        return false;
    if (programmable && !field_put(l, "mv", a->mv, &w))
        return false;
    /* Without a mismatch the port manager asks for no more at the most (drivers/usb/typec/tcpm/tcpm.c, from memory). */
    if (!programmable && !field_put(l, battery ? "max_mw" : "max_ma", a->mismatch ? 0 : a->amount, &w))
        return false;
    if (a->mismatch && !field_put(l, "mismatch", 1, &w))
        return false;
    *word = w;
    return true;
}

/* The objects that are told, into out; how many. Fewer than the header says: the rest is not told. */
static unsigned objects_told(struct kernel_log *k, const struct kernel_packet *p, uint8_t *out)
{
    uint32_t words[KERNEL_CAPS_OBJECTS];
    unsigned objects = header_objects(p->header), unknown, told = 0;

    if (p->caps.count > 0) {
        told = kernel_caps_words(&p->caps, false, words, &unknown);
        for (; told < objects; told++)
            words[told] = KERNEL_CAPS_HOLE;
    } else if (p->word_told) {
        words[0] = p->word;
        told = 1;
    } else if (p->sent && is_data(p->header, DATA_REQUEST) && k->ask.there) {
        told = request_word(&k->ask, &words[0]) ? 1 : 0;
    }
    told = told < objects ? told : objects;
    for (unsigned n = 0; n < told; n++)
        u32_put(out + WORD_SIZE * n, words[n]);
    return told;
}

/* A message of which the log tells the header alone, or not all objects: no record of a packet could say just that. */
static void headline_give(struct kernel_log *k, const struct kernel_packet *p, int64_t start_ns)
{
    unsigned    objects = header_objects(p->header);
    unsigned    index = MESSAGE_INDEX((unsigned)(header_extended(p->header) ? CLASS_EXTENDED : CLASS_DATA), header_type(p->header));
    const char *name = message_kind(index)->name;
    char        word[24] = "";

    k->facts.headers_only++;
    if (p->word_told)
        snprintf(word, sizeof word, ", the first 0x%08X", (unsigned)p->word);
    kernel_log_note(k, start_ns, "kernel: %s %s%s, header 0x%04X; %u objects, not told%s", p->sent ? "sent" : "received",
                    name ? name : "a reserved message", p->set == SET_SOP1 ? " (SOP')" : "", (unsigned)p->header, objects, word);
}

static void packet_give(struct kernel_log *k, const struct kernel_packet *p)
{
    uint8_t  bytes[HEADER_SIZE + WORD_SIZE * KERNEL_CAPS_OBJECTS], record[KERNEL_LOG_RECORD_MAX];
    unsigned told = objects_told(k, p, bytes + HEADER_SIZE), objects = header_objects(p->header);
    int64_t  start_ns = p->sent ? p->t_ns : p->t_ns - record_nominal_ns(HEADER_SIZE + WORD_SIZE * (size_t)objects + CRC_SIZE);

    if (header_extended(p->header) || told < objects) {
        headline_give(k, p, start_ns);
        return;
    }
    bytes[0] = (uint8_t)p->header;
    bytes[1] = (uint8_t)(p->header >> 8);
    k->facts.packets++;
    give(k, start_ns, record, record_put_packet(record, sizeof record, k->options.port, flags_of(k), 0, p->set, RECORD_NO_CRC, bytes,
                                                HEADER_SIZE + WORD_SIZE * (size_t)told));
}

static void packet_over(struct kernel_log *k)
{
    k->packet = (struct kernel_packet){ .there = false };
    for (unsigned n = 0; n < k->held_count; n++)
        give(k, k->held[n].stamp_ns, k->held[n].bytes, k->held[n].length);
    k->held_count = 0;
}

void kernel_log_packet_end(struct kernel_log *k)
{
    struct kernel_packet p = k->packet;

    if (!p.there)
        return;
    k->packet.there = false;
    packet_give(k, &p);
    packet_over(k);
    if (p.sent && is_data(p.header, DATA_REQUEST)) {
        if (k->ask.there && k->ask.mismatch)
            kernel_log_note(k, p.t_ns, "kernel: how much was asked for at the most is not told");
        k->ask.there = false;
    }
}

/* Another message arrived just then: it never went out. */
static void packet_drop(struct kernel_log *k)
{
    struct kernel_packet p = k->packet;

    packet_over(k);
    kernel_log_note(k, p.t_ns, "kernel: message 0x%04x was not sent, another one came in", (unsigned)p.header);
}

/* Vendor_Defined and Soft_Reset are the messages that a port manager has with the plug. */
static bool plug_may_hear(uint16_t header)
{
    return is_data(header, DATA_VENDOR_DEFINED) ||
           (!header_extended(header) && header_objects(header) == 0 && header_type(header) == CONTROL_SOFT_RESET);
}

/* On SOP' a port shows neither role (USB PD, message header): what SOP of a source or a host never does. */
static uint8_t sent_set(const struct kernel_log *k, uint16_t header)
{
    bool bare = !(header >> 8 & 1) && !(header >> 5 & 1);

    return bare && plug_may_hear(header) && ((k->own_known && k->own_source) || k->own_host || k->plug_next) ? SET_SOP1 : SET_SOP;
}

static void packet_sent(struct kernel_log *k, uint16_t header, int64_t t_ns)
{
    uint8_t set = sent_set(k, header);

    k->plug_next = false;
    if (plug_may_hear(header)) {
        k->plug_asked = set == SET_SOP1;
    } else {
        k->own_source = header >> 8 & 1;
        k->own_known = true;
        role_take(k, k->own_source ? KERNEL_LOG_SOURCE : KERNEL_LOG_SINK, t_ns);
    }
    k->packet = (struct kernel_packet){ .there = true, .sent = true, .header = header, .set = set, .t_ns = t_ns };
}

/* The plug's answer shows the bit of a plug, and no data role; a source's partner shows neither. */
static bool from_plug(const struct kernel_log *k, uint16_t header)
{
    unsigned type = header_type(header);
    bool     answer = is_data(header, DATA_VENDOR_DEFINED) || (!header_extended(header) && header_objects(header) == 0 &&
                                                               (type == CONTROL_ACCEPT || type == CONTROL_NOT_SUPPORTED));

    return k->plug_asked && answer && (header >> 8 & 1) && !(header >> 5 & 1);
}

/* More may follow of capabilities and of what a vendor defined; all else is told by its header alone. */
static void packet_received(struct kernel_log *k, uint16_t header, int64_t t_ns)
{
    bool plug = from_plug(k, header);

    k->plug_asked = k->plug_asked && !plug;
    k->packet = (struct kernel_packet){ .there = true, .header = header, .set = plug ? SET_SOP1 : SET_SOP, .t_ns = t_ns };
    if (!is_data(header, DATA_SOURCE_CAPABILITIES) && !is_data(header, DATA_VENDOR_DEFINED))
        kernel_log_packet_end(k);
}

static void packet_done(struct kernel_log *k, int64_t status, int64_t t_ns)
{
    if (!k->packet.there || !k->packet.sent)
        return;
    if (status == STATUS_DISCARDED) {
        packet_drop(k);
        return;
    }
    kernel_log_packet_end(k);
    if (status != STATUS_SUCCESS)
        kernel_log_note(k, t_ns, "kernel: nobody acknowledged that message");
}

/* Objects of Source_Capabilities. */

static int32_t flag_of(struct cursor flags, char letter)
{
    while (flags.left > 0) {
        uint8_t byte = cursor_u8(&flags);

        if (byte == (uint8_t)letter)
            return 1;
        if (byte == ']')
            break;
    }
    return 0;
}

/* Dual-role power, suspend, communication, dual-role data, external power: as drivers/usb/typec/tcpm/tcpm.c letters them. */
static void fixed_take(struct kernel_supply *s, const struct kernel_line *l)
{
    s->mv = (int32_t)l->numbers[2];
    s->ma = (int32_t)l->numbers[3];
    s->dual_role_power = flag_of(l->words, 'R');
    s->usb_suspend = flag_of(l->words, 'S');
    s->usb_comm = flag_of(l->words, 'U');
    s->dual_role_data = flag_of(l->words, 'D');
    s->unconstrained = flag_of(l->words, 'E');
}

static bool supply_take(struct kernel_supply *s, const struct kernel_line *l)
{
    int64_t type = l->numbers[1];

    if (l->kind == KERNEL_LINE_PDO_FIXED) {
        s->kind = KERNEL_FIXED;
        fixed_take(s, l);
        return type == PDO_TYPE_FIXED;
    }
    s->min_mv = (int32_t)l->numbers[2];
    s->max_mv = (int32_t)l->numbers[3];
    if (l->kind == KERNEL_LINE_PDO_BATTERY) {
        s->kind = KERNEL_BATTERY;
        s->mw = (int32_t)l->numbers[4];
        return type == PDO_TYPE_BATTERY;
    }
    s->kind = type == PDO_TYPE_VARIABLE ? KERNEL_VARIABLE : KERNEL_PROGRAMMABLE;
    s->ma = (int32_t)l->numbers[4];
    return l->kind == KERNEL_LINE_PDO_RANGE && (type == PDO_TYPE_VARIABLE || type == PDO_TYPE_AUGMENTED);
}

static void object_take(struct kernel_log *k, const struct kernel_line *l)
{
    struct kernel_packet *p = &k->packet;
    struct kernel_supply  s;

    if (!p->there || p->sent || !is_data(p->header, DATA_SOURCE_CAPABILITIES) || p->caps.count == KERNEL_CAPS_OBJECTS ||
        l->numbers[0] >= header_objects(p->header))
        return;
    memset(&s, 0xFF, sizeof s); /* KERNEL_UNKNOWN */
    if (!supply_take(&s, l)) {
        memset(&s, 0xFF, sizeof s);
        s.kind = KERNEL_FIXED; /* without a number it becomes a hole */
    }
    s.position = (uint8_t)(l->numbers[0] + 1);
    p->caps.list[p->caps.count++] = s;
    if (p->caps.count == header_objects(p->header))
        kernel_log_packet_end(k);
}

static void vendor_word_take(struct kernel_log *k, const struct kernel_line *l)
{
    struct kernel_packet *p = &k->packet;

    if (!p->there || p->sent || !is_data(p->header, DATA_VENDOR_DEFINED))
        return;
    p->word_told = true;
    p->word = (uint32_t)l->numbers[0];
    if (l->numbers[1] == 0)
        p->set = SET_SOP; /* plugs answer, they do not ask */
    kernel_log_packet_end(k);
}

static void ask_take(struct kernel_log *k, const struct kernel_line *l)
{
    k->ask = (struct kernel_ask){
        .there = true, .kind = l->kind, .position = l->numbers[0] + 1, .mv = l->numbers[1], .amount = l->numbers[2],
        .mismatch = words_begin(l->words, " [mismatch]"),
    };
}

static void asked_tell(struct kernel_log *k, const struct kernel_line *l, int64_t t_ns)
{
    kernel_log_note(k, t_ns, "kernel: the partner asked. %s", quote(l->text).text);
}

/* CC. */

static void cc_put(struct kernel_log *k, uint8_t attach, uint8_t rp, int64_t t_ns)
{
    const uint8_t body[8] = { attach, rp, NOT_MEASURED, NOT_MEASURED, NOT_MEASURED, NOT_MEASURED };

    if (k->cc_told && attach == k->attach && rp == k->rp)
        return;
    k->cc_told = true;
    k->attach = attach;
    k->rp = rp;
    put(k, t_ns, RECORD_CC_STATE, k->options.port, body, sizeof body);
}

static uint8_t attach_of(const int64_t cc[2])
{
    bool rd0 = cc[0] == CC_RD, rd1 = cc[1] == CC_RD, rp0 = cc[0] >= CC_RP_DEFAULT, rp1 = cc[1] >= CC_RP_DEFAULT;

    if ((rd0 && rd1) || (rp0 && rp1))
        return ATTACH_DEBUG;
    if (cc[0] == CC_RA && cc[1] == CC_RA)
        return ATTACH_AUDIO;
    return rd0 || rp0 ? 1 : rd1 || rp1 ? 2 : 0;
}

/* The partner's Rp, or the one that the port shows itself. */
static uint8_t rp_of(const struct kernel_log *k, uint8_t attach)
{
    int64_t seen = k->cc[0] >= CC_RP_DEFAULT ? k->cc[0] : k->cc[1] >= CC_RP_DEFAULT ? k->cc[1] : k->own_cc;

    return attach > 0 && seen >= CC_RP_DEFAULT && seen <= CC_RP_DEFAULT + 2 ? (uint8_t)(seen - CC_RP_DEFAULT + 1) : 0;
}

/* While the power roles change hands both ends show Rd, or Rp, for a moment: nobody is pulled out. */
static void cc_take(struct kernel_log *k, const struct kernel_line *l, int64_t t_ns)
{
    k->cc[0] = l->numbers[1];
    k->cc[1] = l->numbers[3];
    uint8_t attach = attach_of(k->cc);

    k->swapping = words_begin(l->words, "PR_SWAP_") || words_begin(l->words, "FR_SWAP_");
    if (attach == 0 && k->swapping)
        return;
    cc_put(k, attach, rp_of(k, attach), t_ns);
}

static void own_cc_take(struct kernel_log *k, int64_t cc, int64_t t_ns)
{
    k->own_cc = cc;
    if (k->attach > 0 && cc >= CC_RP_DEFAULT && (k->cc[0] == CC_RD || k->cc[1] == CC_RD))
        cc_put(k, k->attach, rp_of(k, k->attach), t_ns);
}

void kernel_log_lose(struct kernel_log *k, int64_t t_ns, bool nothing)
{
    const uint8_t body[8] = { 0xFF, 0xFF, 0xFF, 0xFF, LOST_IN_HOST };

    kernel_log_packet_end(k);
    put(k, t_ns, RECORD_LOST, k->options.port, body, sizeof body);
    k->ask.there = false;
    k->own_known = k->own_host = k->plug_asked = false;
    if (nothing && k->attach > 0)
        cc_put(k, 0, 0, t_ns);
}

/* States. */

static void state_take(struct kernel_log *k, const struct kernel_line *l, int64_t t_ns)
{
    if (words_are(l->words, "SRC_ATTACHED"))
        role_take(k, KERNEL_LOG_SOURCE, t_ns);
    if (words_are(l->words, "SNK_ATTACHED"))
        role_take(k, KERNEL_LOG_SINK, t_ns);
    /* The plug is reset where VCONN has come over to this port. */
    k->plug_next = words_are(l->words, "VCONN_SWAP_SEND_SOFT_RESET") || (k->plug_next && words_begin(l->before, "VCONN_SWAP_SEND_SOFT_RESET")) ||
                   (k->plug_next && words_are(l->words, "SOFT_RESET_SEND"));
    kernel_log_note(k, t_ns, "kernel: %s -> %s", quote(l->before).text, quote(l->words).text);
    /* A swap of roles that came to nothing: the partner that was not there then is gone. */
    if ((words_end(l->words, "_UNATTACHED") || words_are(l->words, "ERROR_RECOVERY") || words_are(l->words, "PORT_RESET")) && k->swapping &&
        attach_of(k->cc) == 0)
        cc_put(k, 0, 0, t_ns);
    k->swapping = words_begin(l->words, "PR_SWAP_") || words_begin(l->words, "FR_SWAP_") || (k->swapping && attach_of(k->cc) == 0);
}

static void reset_tell(struct kernel_log *k, uint8_t which, int64_t t_ns)
{
    const uint8_t body[4] = { which };

    k->facts.resets++;
    put(k, t_ns, RECORD_RESET_SIGNAL, k->options.port, body, sizeof body);
}

static void signal_take(struct kernel_log *k, int64_t type, int64_t t_ns)
{
    if (type == TYPE_HARD_RESET || type == TYPE_CABLE_RESET)
        reset_tell(k, type == TYPE_HARD_RESET ? RECORD_HARD_RESET : RECORD_CABLE_RESET, t_ns);
    else
        kernel_log_note(k, t_ns, "kernel: a signal of type %d was sent", (int)type);
}

/* Does the line end the packet in hand? Lines of other threads may stand between what belongs together. */
static bool ends_packet(enum kernel_line_kind kind)
{
    return kind <= KERNEL_LINE_TX_SIGNAL || kind == KERNEL_LINE_HARD_RESET || kind == KERNEL_LINE_STATE || kind == KERNEL_LINE_FULL ||
           (kind >= KERNEL_LINE_ASKS_MA && kind <= KERNEL_LINE_ASKED_RANGE);
}

/* It becomes part of JSON. */
static void name_take(struct kernel_log *k, struct cursor words)
{
    for (struct cursor c = words; c.left > 0;) {
        uint8_t byte = cursor_u8(&c);

        if (byte == '"' || byte == '\\')
            return;
    }
    snprintf(k->facts.name, sizeof k->facts.name, "%.*s", (int)sizeof k->facts.name - 1, quote(words).text);
}

static const char *switched(int64_t on)
{
    return on ? "on" : "off";
}

static void power_tell(struct kernel_log *k, const struct kernel_line *l, int64_t t_ns)
{
    int mv = (int)l->numbers[0], ma = (int)l->numbers[1];

    if (ma == 0)
        kernel_log_note(k, t_ns, "kernel: nothing may be drawn");
    else
        kernel_log_note(k, t_ns, "kernel: %d.%03d V, %d.%03d A at the most may be drawn", mv / 1000, mv % 1000, ma / 1000, ma % 1000);
}

void kernel_log_line(struct kernel_log *k, const struct kernel_line *l, int64_t t_ns)
{
    const int64_t *n = l->numbers;

    if (ends_packet(l->kind))
        kernel_log_packet_end(k);
    switch (l->kind) {
    case KERNEL_LINE_RX: packet_received(k, (uint16_t)n[0], t_ns); return;
    case KERNEL_LINE_TX: packet_sent(k, (uint16_t)n[0], t_ns); return;
    case KERNEL_LINE_TX_SIGNAL: signal_take(k, n[0], t_ns); return;
    case KERNEL_LINE_TX_DONE: packet_done(k, n[0], t_ns); return;
    case KERNEL_LINE_HARD_RESET: reset_tell(k, RECORD_HARD_RESET, t_ns); return;
    case KERNEL_LINE_PDO_FIXED:
    case KERNEL_LINE_PDO_RANGE:
    case KERNEL_LINE_PDO_BATTERY:
    case KERNEL_LINE_PDO_OTHER: object_take(k, l); return;
    case KERNEL_LINE_ASKS_MA:
    case KERNEL_LINE_ASKS_MW:
    case KERNEL_LINE_ASKS_APDO: ask_take(k, l); return;
    case KERNEL_LINE_ASKED_MA:
    case KERNEL_LINE_ASKED_RANGE: asked_tell(k, l, t_ns); return;
    case KERNEL_LINE_STATE: state_take(k, l, t_ns); return;
    case KERNEL_LINE_CC: cc_take(k, l, t_ns); return;
    case KERNEL_LINE_CC_SET: own_cc_take(k, n[0], t_ns); return;
    case KERNEL_LINE_USB_ROLE: k->own_host = n[1] == ROLE_HOST; return;
    case KERNEL_LINE_VDM: vendor_word_take(k, l); return;
    case KERNEL_LINE_VBUS_ON: kernel_log_note(k, t_ns, "kernel: VBUS is there"); return;
    case KERNEL_LINE_VBUS_OFF: kernel_log_note(k, t_ns, "kernel: VBUS is gone"); return;
    case KERNEL_LINE_VBUS_SAFE: kernel_log_note(k, t_ns, "kernel: VBUS is at safe 0 V"); return;
    case KERNEL_LINE_SOURCING: kernel_log_note(k, t_ns, "kernel: supplying VBUS switched %s", switched(n[0])); return;
    case KERNEL_LINE_CHARGING: kernel_log_note(k, t_ns, "kernel: drawing from VBUS switched %s", switched(n[1])); return;
    case KERNEL_LINE_VCONN: kernel_log_note(k, t_ns, "kernel: VCONN switched %s", switched(n[0])); return;
    case KERNEL_LINE_LIMIT: power_tell(k, l, t_ns); return;
    case KERNEL_LINE_IDENTITY:
        kernel_log_note(k, t_ns, "kernel: identity: vendor 0x%04X, product 0x%04X, release 0x%04X", (unsigned)n[0], (unsigned)n[1], (unsigned)n[2]);
        return;
    case KERNEL_LINE_NAME: name_take(k, l->words); return;
    case KERNEL_LINE_FULL:
        kernel_log_lose(k, t_ns, false);
        kernel_log_note(k, t_ns, "kernel: the log was full here, lines are missing");
        return;
    case KERNEL_LINE_TOLD:
    case KERNEL_LINE_UNKNOWN: kernel_log_note(k, t_ns, "kernel: %s", quote(l->text).text); return;
    case KERNEL_LINE_SILENT: return;
    }
}

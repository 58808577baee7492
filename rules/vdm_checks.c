/* Structured Vendor_Defined messages: their header, their answers; and whether a source bears them. */
#include "rules/vdm_checks.h"

#include "rules/vdm_words.h"

#include <string.h>

#define DATA(type) MESSAGE_INDEX(CLASS_DATA, DATA_##type)
#define CONTROL(type) MESSAGE_INDEX(CLASS_CONTROL, CONTROL_##type)

static unsigned partner_of(unsigned set, unsigned player)
{
    if (set == SET_SOP)
        return player == PLAYER_A ? PLAYER_B : player == PLAYER_B ? PLAYER_A : PLAYER_UNKNOWN;
    return player == PLAYER_CABLE ? PLAYER_A : PLAYER_CABLE; /* whoever asks a plug asks on the same stream */
}

/* The structured VDM that waits for this sender's answer, or NULL. */
static const struct ask *asked_of(const struct judge *j, const struct speech *s)
{
    const struct ask *a = judge_open_ask(j, s->m.set, partner_of(s->m.set, s->player));

    return a && a->index == DATA(VENDOR_DEFINED) ? a : NULL;
}

/* vdm.header */

static bool command_known(unsigned command)
{
    return (command >= VDM_DISCOVER_IDENTITY && command <= VDM_ATTENTION) || command >= VDM_OF_SVID;
}

static bool asks_pd(unsigned command)
{
    return command == VDM_DISCOVER_IDENTITY || command == VDM_DISCOVER_SVIDS;
}

/* What SVID, command and position leave to say; -1: nothing. */
static int command_fault(uint32_t header, struct outcome *o)
{
    unsigned command = vdm_command(header);

    o->values[0] = command;
    o->values[1] = vdm_svid(header);
    if (!command_known(command))
        return HEADER_COMMAND;
    if (command == VDM_ATTENTION && vdm_type(header) != VDM_REQ)
        return HEADER_ATTENTION;
    if (asks_pd(command) && vdm_svid(header) != VDM_SID_PD)
        return HEADER_SVID;
    o->values[1] = vdm_position(header);
    return asks_pd(command) && vdm_position(header) ? HEADER_POSITION : -1;
}

/* An answer echoes what was asked: what is wrong with that was the asker's fault, what differs is vdm.answer-fields' affair. */
static int echo_fault(uint32_t header, uint32_t asked, struct outcome *o)
{
    unsigned command = vdm_command(header);

    o->values[0] = command;
    o->values[1] = vdm_position(header);
    return asks_pd(command) && command == vdm_command(asked) && vdm_position(header) && vdm_position(header) != vdm_position(asked)
               ? HEADER_POSITION
               : -1;
}

/* Requests that carry so many objects and no others; -1: not such a one, or right. */
static int objects_fault(uint32_t header, unsigned words, struct outcome *o)
{
    unsigned command = vdm_command(header);

    o->values[0] = command;
    o->values[1] = words;
    if (command == VDM_DISCOVER_SVIDS || command == VDM_DISCOVER_MODES || command == VDM_EXIT_MODE)
        return words == 1 ? -1 : HEADER_ONE_OBJECT;
    return command == VDM_ENTER_MODE && words > 2 ? HEADER_TWO_OBJECTS : -1;
}

static int header_fault(const struct judge *j, const struct speech *s, struct outcome *o)
{
    uint32_t          header = message_word(&s->m, 0);
    const struct ask *asked = vdm_type(header) == VDM_REQ ? NULL : asked_of(j, s);
    int               fault;

    if (header >> 5 & 1)
        return HEADER_BIT_5;
    fault = asked ? echo_fault(header, asked->word, o) : command_fault(header, o);
    return fault < 0 && vdm_type(header) == VDM_REQ ? objects_fault(header, message_words(&s->m), o) : fault;
}

void vdm_check_header(struct judge *j, const struct event *e)
{
    struct outcome o;
    int            fault;

    if (message_words(&e->speech->m) == 0 || !vdm_structured(message_word(&e->speech->m, 0)))
        return;
    o = judge_outcome(j, e);
    fault = header_fault(j, e->speech, &o);
    if (fault < 0) {
        judge_pass(j);
        return;
    }
    o.sentence = (uint8_t)fault;
    outcome_evidence(&o, e->frame);
    judge_fail(j, &o);
}

/* vdm.answer */

static unsigned agreed_by_standard(const struct judge *j, unsigned agreed)
{
    unsigned standard = judge_standard(j);

    if (standard)
        return standard <= SINCE_R2 ? AGREED_R2 : AGREED_R3;
    return agreed;
}

/* The revision that holds between the two; unknown where silence means nothing. */
static unsigned silence_agreed(const struct judge *j, const struct ask *a, const struct vdm_answer_state *state)
{
    if (a->set == SET_SOP)
        return a->in_contract ? agreed_by_standard(j, a->agreed) : AGREED_UNKNOWN; /* VDMs before a contract are ignored */
    if (!(state->answered >> a->set & 1) || a->player == PLAYER_CABLE)
        return AGREED_UNKNOWN;
    return agreed_by_standard(j, a->revision <= HEADER_R2 || state->revision[a->set] <= HEADER_R2 ? AGREED_R2 : AGREED_R3);
}

static void answer_missing(struct judge *j, const struct port *p, const struct ask *a, unsigned agreed)
{
    unsigned       partner = partner_of(a->set, a->player);
    struct outcome o = judge_outcome_at(j, a->sent.last_frame, a->sent.last_start_ns);

    if (agreed == AGREED_UNKNOWN)
        return;
    if (agreed == AGREED_R2) {
        judge_pass_at(j, a->sent.start_ns);
        return;
    }
    if (partner <= PLAYER_B && a->set == SET_SOP)
        outcome_by(&o, p->role[partner], partner);
    else
        outcome_by(&o, a->set == SET_SOP ? SIDE_UNKNOWN : SIDE_CABLE, partner);
    o.sentence = ANSWER_NEVER;
    o.values[0] = a->detail;
    o.values[1] = a->set;
    o.parameter = judge_parameter(j, 0);
    outcome_evidence(&o, a->sent.frame);
    outcome_evidence(&o, a->sent.goodcrc_frame);
    if (a->gap)
        judge_undecided(j, &o, (enum cause)a->cause);
    else
        judge_fail(j, &o);
}

void vdm_check_answer(struct judge *j, const struct event *e)
{
    struct vdm_answer_state *state = judge_state(j, e->port);
    const struct ask        *a = judge_ask(j);

    if (!a) { /* EVENT_ATTACH, EVENT_DETACH */
        *state = (struct vdm_answer_state){ .answered = 0 };
        return;
    }
    if (a->end == ASK_SILENT)
        answer_missing(j, e->port, a, silence_agreed(j, a, state));
    if (a->end != ASK_ANSWERED)
        return; /* another exchange came between, or a reset; an answer of another kind is exchange.answer-kind's affair */
    if (a->answer_player == PLAYER_CABLE && e->speech) {
        state->answered |= (uint8_t)(1u << a->set);
        state->revision[a->set] = e->speech->m.revision;
    }
    /* Under 2.0 there is no Not_Supported: message.allowed-in-revision says so. */
    if (a->answer_index != CONTROL(NOT_SUPPORTED) || agreed_by_standard(j, a->agreed) != AGREED_R2)
        judge_pass(j);
}

/* vdm.answer-fields */

static int fields_fault(const struct ask *a, uint32_t header, unsigned words, struct outcome *o)
{
    unsigned command = vdm_command(header);

    if (a && vdm_svid(header) != vdm_svid(a->word)) {
        o->values[0] = vdm_svid(header);
        o->values[1] = vdm_svid(a->word);
        return FIELDS_SVID;
    }
    o->values[0] = command;
    o->values[1] = a ? vdm_command(a->word) : command;
    if (o->values[0] != o->values[1])
        return FIELDS_COMMAND;
    o->values[0] = vdm_position(header);
    o->values[1] = a ? vdm_position(a->word) : 0;
    if (a && (command == VDM_ENTER_MODE || command == VDM_EXIT_MODE) && o->values[0] != o->values[1])
        return FIELDS_POSITION;
    o->values[0] = words;
    o->values[1] = vdm_type(header);
    return vdm_type(header) != VDM_ACK && words > 1 ? FIELDS_OBJECTS : -1;
}

void vdm_check_answer_fields(struct judge *j, const struct event *e)
{
    const struct ask *a = judge_ask(j);
    uint32_t          header = message_word(&e->speech->m, 0);
    struct outcome    o;
    int               fault;

    if (message_words(&e->speech->m) == 0 || !vdm_structured(header) || vdm_type(header) == VDM_REQ)
        return;
    if (a && a->index != DATA(VENDOR_DEFINED))
        a = NULL;
    o = judge_outcome(j, e);
    fault = fields_fault(a, header, message_words(&e->speech->m), &o);
    if (fault < 0) {
        if (a)
            judge_pass(j);
        return; /* without what was asked there is nothing to compare */
    }
    o.sentence = (uint8_t)fault;
    outcome_evidence(&o, a ? a->sent.frame : 0);
    outcome_evidence(&o, e->frame);
    if (a && a->gap)
        judge_undecided(j, &o, (enum cause)a->cause); /* what it answers may have been missed */
    else
        judge_fail(j, &o);
}

/* vdm.identity-fields */

static bool ufp_known(unsigned ufp)
{
    return ufp <= UFP_PSD || ufp == UFP_AMA;
}

/*
 * How many objects product types take. Of a power sink device it is not established whether it has one (decode/vdm.c), and the filler
 * between those of a UFP and a DFP is from memory: with and without pass.
 */
static bool types_count_fits(unsigned ufp, unsigned dfp, unsigned count)
{
    if (dfp == DFP_NONE)
        return ufp == UFP_NONE ? count == 0 : count == 1 || (ufp == UFP_PSD && count == 0);
    if (ufp == UFP_NONE)
        return count == 1;
    return count == 2 || count == 3 || (ufp == UFP_PSD && count == 1);
}

static int types_fault(uint32_t id, unsigned count, struct outcome *o)
{
    unsigned ufp = identity_product(id), dfp = identity_dfp(id);

    o->values[0] = ufp;
    if (!ufp_known(ufp))
        return PARTNER_UFP;
    o->values[0] = dfp;
    if (dfp > DFP_BRICK)
        return PARTNER_DFP;
    o->values[0] = count;
    o->values[1] = ufp;
    o->values[2] = dfp;
    return types_count_fits(ufp, dfp, count) ? -1 : PARTNER_COUNT;
}

/* Under 2.0 the bits that 3.x gave to DFP type and connector are reserved as well: Linux include/linux/usb/pd_vdo.h. */
#define ID_RESERVED_R2 UINT32_C(0x03FF0000)

static int partner_fault(const struct judge *j, const struct port *p, const struct identity *i, struct outcome *o)
{
    unsigned agreed = agreed_by_standard(j, p->agreed);
    uint32_t id = i->words[IDENTITY_HEADER];
    bool     layout_r3 = vdm_major(i->words[0]) > 0; /* structured VDM 1.0 has the layout of 2.0 */

    o->values[0] = i->count + 1;
    if (i->count + 1u < IDENTITY_TYPES)
        return PARTNER_FEW_OBJECTS;
    o->values[0] = id;
    o->values[1] = agreed == AGREED_R2 && !layout_r3 ? (int64_t)(id & ID_RESERVED_R2)
                                                      : (int64_t)object_reserved_set(OBJECT_ID_HEADER, id);
    if (o->values[1])
        return PARTNER_RESERVED;
    return agreed == AGREED_R3 && layout_r3 ? types_fault(id, i->count + 1u - IDENTITY_TYPES, o) : -1;
}

void vdm_check_identity_fields(struct judge *j, const struct event *e)
{
    struct identity i;
    struct outcome  o;
    int             fault;

    if (!speech_is_identity(e->speech))
        return;
    i = identity_of(e->speech);
    o = judge_outcome(j, e);
    fault = partner_fault(j, e->port, &i, &o);
    if (fault < 0) {
        judge_pass(j);
        return;
    }
    o.sentence = (uint8_t)fault;
    outcome_evidence(&o, e->frame);
    judge_fail(j, &o);
}

/* vdm.busy-count */
void vdm_check_busy_count(struct judge *j, const struct event *e)
{
    struct busy_state *state = judge_state(j, e->port);
    const struct ask  *a = judge_ask(j);
    struct busy_run   *run = &state->runs[stream_index(a->set, a->player)];
    int64_t            most = judge_parameter(j, 0)->max / 1000;
    struct outcome     o;

    if (a->gap || run->word != a->word)
        run->count = 0;
    run->word = a->word;
    if (a->end != ASK_ANSWERED || a->answer_index != DATA(VENDOR_DEFINED) || vdm_type(a->answer_word) != VDM_BUSY) {
        run->count = 0;
        return;
    }
    if (run->count < UINT32_MAX)
        run->count++;
    if (run->count <= most) {
        judge_pass(j);
        return;
    }
    if (run->count > most + 1)
        return; /* told */
    o = judge_outcome(j, e);
    o.sentence = BUSY_MANY;
    o.values[0] = run->count;
    o.values[1] = most;
    o.values[2] = a->detail;
    o.parameter = judge_parameter(j, 0);
    outcome_evidence(&o, a->sent.frame);
    outcome_evidence(&o, e->frame);
    judge_fail(j, &o);
}

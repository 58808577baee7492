#include "cli/finding_text.h"

#include "cli/limits_file.h"
#include "cli/offers_text.h"

#include <ctype.h>

enum { FORM_BYTES = 8 };

/* Forms that are a number with a unit: value x 10^-scale. */
struct quantity_form { const char *form, *unit; unsigned scale; };
static const struct quantity_form quantities[] = {
    { "V", "V", 3 }, { "A", "A", 3 }, { "W", "W", 3 }, { "ms", "ms", 6 }, { "s", "s", 9 },
};

enum { TIME_DIGITS = 7, UNCERTAINTY_DIGITS = 3 };

/* To the nearest multiple of unit, a power of ten. */
static int64_t round_to(int64_t value, int64_t unit)
{
    int64_t half = value < 0 ? -(unit / 2) : unit / 2;

    return value > INT64_MAX - unit || value < INT64_MIN + unit ? value : (value + half) / unit * unit;
}

/* The power of ten that leaves a value so many digits. */
static int64_t unit_for(int64_t value, unsigned digits)
{
    int64_t unit = 1, most = 1;

    for (unsigned k = 0; k < digits; k++)
        most *= 10;
    while (value / unit >= most || value / unit <= -most)
        unit *= 10;
    return unit;
}

/* No more digits of a measured value than its uncertainty leaves it, unless that would put it on the other side of a limit, or onto it. */
static int64_t measured_shown(const struct finding *f)
{
    int64_t shown;

    if (!f->has_uncertainty || f->uncertainty <= 0)
        return f->measured;
    shown = round_to(f->measured, unit_for(f->uncertainty, UNCERTAINTY_DIGITS));
    if ((f->has_low && ((f->measured < f->low) != (shown < f->low) || (f->measured > f->low) != (shown > f->low))) ||
        (f->has_high && ((f->measured < f->high) != (shown < f->high) || (f->measured > f->high) != (shown > f->high))))
        return f->measured;
    return shown;
}

static bool fill_quantity(struct phrase *p, const char *form, int64_t value)
{
    for (size_t k = 0; k < sizeof quantities / sizeof quantities[0]; k++) {
        if (strcmp(form, quantities[k].form) != 0)
            continue;
        if (quantities[k].scale >= 6)
            value = round_to(value, unit_for(value, TIME_DIGITS));
        phrase_short(p, value, quantities[k].scale);
        phrase_format(p, " %s", quantities[k].unit);
        return true;
    }
    return false;
}

static const char *const class_names[] = { "control", "data", "extended" };

static void fill_message(struct phrase *p, int64_t index)
{
    if (index < 0 || index >= MESSAGE_INDEXES) {
        phrase_i64(p, index);
        return;
    }
    const struct message_kind *kind = message_kind((unsigned)index);

    if (kind->name)
        phrase_add(p, kind->name);
    else
        phrase_format(p, "reserved %s message %u", class_names[index / 32], (unsigned)(index % 32));
}

static void fill(struct phrase *p, const char *form, int64_t value)
{
    unsigned small = value >= 0 && value < 256 ? (unsigned)value : 255;

    if (fill_quantity(p, form, value))
        return;
    if (strcmp(form, "x") == 0)
        phrase_format(p, "0x%08x", (unsigned)(uint32_t)value);
    else if (strcmp(form, "xh") == 0)
        phrase_format(p, "0x%04x", (unsigned)(uint16_t)value);
    else if (strcmp(form, "xb") == 0)
        phrase_format(p, "0x%02x", small);
    else if (strcmp(form, "c") == 0)
        phrase_format(p, isgraph((int)small) && small < 127 ? "%c" : "\\x%02x", small);
    else if (strcmp(form, "m") == 0)
        fill_message(p, value);
    else if (strcmp(form, "r") == 0)
        phrase_add(p, header_revision_name(small));
    else if (strcmp(form, "k") == 0)
        phrase_add(p, supply_text(small));
    else if (strcmp(form, "set") == 0)
        phrase_add(p, ordered_set_name(small));
    else if (strcmp(form, "side") == 0)
        phrase_add(p, side_name(small));
    else
        phrase_i64(p, value);
}

/* Reads "{2:ms}" at text; its length, or 0 if it is no placeholder. */
static size_t placeholder(const char *text, unsigned *index, char form[FORM_BYTES])
{
    size_t at = 2, length = 0;

    if (text[0] != '{' || text[1] < '0' || text[1] >= '0' + FINDING_VALUES)
        return 0;
    *index = (unsigned)(text[1] - '0');
    if (text[at] == ':')
        for (at++; isalpha((unsigned char)text[at]) && length + 1 < FORM_BYTES; at++)
            form[length++] = text[at];
    form[length] = '\0';
    return text[at] == '}' ? at + 1 : 0;
}

void sentence_fill(struct phrase *p, const char *sentence, const int64_t values[FINDING_VALUES])
{
    while (*sentence) {
        char     form[FORM_BYTES], letter[2] = { *sentence, '\0' };
        unsigned index;
        size_t   length = placeholder(sentence, &index, form);

        if (length > 0) {
            fill(p, form, values[index]);
            sentence += length;
            continue;
        }
        phrase_add(p, letter);
        sentence++;
    }
}

void finding_seen(struct phrase *p, const struct finding *f)
{
    const char *sentence = f->rule->sentences ? f->rule->sentences[f->sentence] : NULL;
    int64_t     values[FINDING_VALUES];

    /* A time is said as it is shown beside its uncertainty. */
    for (unsigned k = 0; k < FINDING_VALUES; k++)
        values[k] = f->has_measured && f->per_unit == 1000000 && f->values[k] == f->measured ? measured_shown(f) : f->values[k];
    sentence_fill(p, sentence ? sentence : f->rule->title, values);
}

unsigned finding_decimals(const struct finding *f)
{
    return f->per_unit == 1000000 ? 6 : 3;
}

static void add_amount(struct phrase *p, const struct finding *f, int64_t amount)
{
    phrase_short(p, amount, finding_decimals(f));
    if (f->unit && *f->unit)
        phrase_format(p, " %s", f->unit);
}

static void parameter_used(struct phrase *p, const struct finding *f)
{
    if (!f->parameter)
        return;
    phrase_format(p, "goes by %s, ", f->parameter->name);
    parameter_phrase(p, f->parameter);
    if (parameter_by_limits(f->parameter))
        phrase_add(p, ", by --limits");
}

void finding_measured(struct phrase *p, const struct finding *f)
{
    /* A count or a number without a unit stands in the sentence already; the limit that was used has its name here. */
    if (!f->has_measured || !f->unit || !f->unit[0]) {
        parameter_used(p, f);
        return;
    }
    phrase_add(p, "measured ");
    add_amount(p, f, measured_shown(f));
    if (f->has_uncertainty) {
        phrase_add(p, " (+- ");
        add_amount(p, f, round_to(f->uncertainty, unit_for(f->uncertainty, UNCERTAINTY_DIGITS)));
        phrase_add(p, ")");
    }
    if (!f->has_low && !f->has_high)
        return;
    phrase_add(p, "; required ");
    if (f->has_low && f->has_high && f->low == f->high)
        phrase_add(p, "exactly ");
    else if (f->has_low && f->has_high) {
        phrase_short(p, f->low, finding_decimals(f));
        phrase_add(p, " to ");
    } else {
        phrase_add(p, f->has_low ? "at least " : "at most ");
    }
    add_amount(p, f, f->has_high ? f->high : f->low);
    if (f->parameter)
        phrase_format(p, " (%s%s)", f->parameter->name, parameter_by_limits(f->parameter) ? ", by --limits" : "");
}

const char *cause_text(unsigned cause)
{
    switch ((enum cause)cause) {
    case CAUSE_NONE:            return "";
    case CAUSE_LOST:            return "records are missing here, and one of them could change the answer";
    case CAUSE_BAD_PACKET:      return "a packet that could not be read lies in between, and it may have been any message";
    case CAUSE_BEGINNING:       return "the recording began too late to know what was agreed before";
    case CAUSE_REVISION:        return "the revision that holds here did not show, and the answer depends on it";
    case CAUSE_UNKNOWN_OFFER:   return "the offer that this refers to was not seen";
    case CAUSE_UNKNOWN_CABLE:   return "the cable's identity was not seen";
    case CAUSE_INFERRED_RATING: return "the port's power rating was not stated, only inferred from its offer";
    case CAUSE_UNCERTAINTY:     return "the uncertainty of the reading reaches over the limit";
    case CAUSE_NO_READING:      return "there is no reading just here";
    case CAUSE_UNSEEN_WORDS:    return "the messages that would settle it were not seen since the attach";
    case CAUSE_RECENT_OFFER:    return "the offer had changed so shortly before that the request may refer to the old one";
    case CAUSE_ORIGIN:          return "a Hard Reset has no sender, and the trace does not tell whose it was";
    case CAUSE_NO_GOODCRC:      return "the message was heard, but its GoodCRC is not in the recording";
    case CAUSE_CROSSING:        return "both sides spoke at the same time";
    case CAUSE_ROLES:           return "which side had which role did not show";
    case CAUSE_CAPTURE:         return "what the recording holds and what the receiver did contradict each other";
    case CAUSE_CUT:             return "only the beginning of the packet is in the recording";
    case CAUSE_RP:              return "Rp changed just before, and the sink may not have seen it";
    case CAUSE_RESET:           return "the answer might have come yet when the reset came";
    case CAUSE_LOAD:            return "the load changed too fast, or was more than agreed on";
    case CAUSE_LIGHT:           return "no load pulls VBUS down, and it falls too slowly to show when the source let go of it";
    case CAUSE_RATE:            return "the readings are too far apart, or the instrument too slow, to rule it out";
    case CAUSE_TICK:            return "the line was not looked at often enough for so small a difference";
    case CAUSE_CELL:            return "a change of level lies where neither a bit nor half of one ends";
    case CAUSE_EDGES:           return "the packet is not whole in the edges that were recorded";
    case CAUSE_NOISE:           return "the line is so noisy that a change of level more or less may be noise";
    case CAUSE_TIE:             return "packets and readings go by clocks of their own, and it may have been before or after";
    case CAUSE_ONCE:            return "it was seen once, and once may be chance";
    }
    return "";
}

void finding_text(struct phrase *p, const struct finding *f)
{
    finding_seen(p, f);
    if (f->verdict == VERDICT_UNDECIDED && f->cause != CAUSE_NONE)
        phrase_format(p, " Not decided: %s.", cause_text(f->cause));
}

const char *finding_verdict_name(const struct finding *f)
{
    if (f->rule->level == LEVEL_NOTE && f->verdict == VERDICT_FAIL)
        return "note";
    return verdict_name(f->verdict);
}

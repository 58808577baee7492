/* Forms of the lines of a port manager's log, and one line held against them. */
#include "decode/kernel_log_inside.h"

#include <string.h>

enum { SECOND_DIGITS_MAX = 9, MICRO_DIGITS = 6, NUMBER_MAX = 0x7FFFFFFF };

/*
 * %d decimal number, %x hexadecimal one (with or without 0x), %w a word (the first goes to `words`, the second to `before`, the first is then
 * the later one), %* all that follows. The first row that fits counts.
 * Source: the strings of Linux drivers/usb/typec/tcpm/tcpm.c in Debian's 6.12; what each argument is: the logs of two such ports, beside what
 * went over the wire between them, and Linux include/linux/usb/tcpm.h (typec_cc_status, tcpm_transmit_status, tcpm_transmit_type).
 */
static const struct form {
    enum kernel_line_kind kind;
    const char           *pattern;
} forms[] = {
    { KERNEL_LINE_SILENT, "pending state change %*" },
    { KERNEL_LINE_STATE, "state change %w -> %w%*" },
    { KERNEL_LINE_RX, "PD RX, header: %x [%d]" },
    { KERNEL_LINE_TX_DONE, "PD TX complete, status: %d" },
    { KERNEL_LINE_TX, "PD TX, header: %x" },
    { KERNEL_LINE_TX_SIGNAL, "PD TX, type: %x" },
    { KERNEL_LINE_CC, "CC1: %d -> %d, CC2: %d -> %d [state %w,%*" },
    { KERNEL_LINE_CC_SET, "cc:=%d" },
    { KERNEL_LINE_SILENT, "cc=%*" },
    { KERNEL_LINE_SILENT, "AMS %*" },
    { KERNEL_LINE_PDO_FIXED, "PDO %d: type %d, %d mV, %d mA [%*" },
    { KERNEL_LINE_PDO_RANGE, "PDO %d: type %d, %d-%d mV, %d mA" },
    { KERNEL_LINE_PDO_BATTERY, "PDO %d: type %d, %d-%d mV, %d mW" },
    { KERNEL_LINE_PDO_OTHER, "PDO %d: type %d, %*" },
    { KERNEL_LINE_ASKS_APDO, "Requesting APDO %d: %d mV, %d mA" },
    { KERNEL_LINE_ASKS_MA, "Requesting PDO %d: %d mV, %d mA%*" },
    { KERNEL_LINE_ASKS_MW, "Requesting PDO %d: %d mV, %d mW%*" },
    { KERNEL_LINE_ASKED_MA, "Requested %d mV, %d mA for %d / %d mA" },
    { KERNEL_LINE_ASKED_RANGE, "Requested %d -> %d mV, %d mA for %d / %d mA" },
    { KERNEL_LINE_ASKED_RANGE, "Requested %d -> %d mV, %d mW for %d / %d mW" },
    { KERNEL_LINE_USB_ROLE, "Requesting mux state %d, usb-role %d, orientation %d" },
    { KERNEL_LINE_VDM, "Rx VDM cmd %x type %d cmd %d len %d" },
    { KERNEL_LINE_HARD_RESET, "Received hard reset" },
    { KERNEL_LINE_VBUS_ON, "VBUS on" },
    { KERNEL_LINE_VBUS_OFF, "VBUS off" },
    { KERNEL_LINE_VBUS_SAFE, "VBUS VSAFE0V" },
    { KERNEL_LINE_SOURCING, "vbus:=%d charge=%d" },
    { KERNEL_LINE_CHARGING, "vbus=%d charge:=%d" },
    { KERNEL_LINE_VCONN, "vconn:=%d" },
    { KERNEL_LINE_LIMIT, "Setting voltage/current limit %d mV %d mA" },
    { KERNEL_LINE_IDENTITY, "Identity: %x:%x.%x" },
    { KERNEL_LINE_TOLD, "SVID %d: %x" },
    { KERNEL_LINE_TOLD, "Alternate mode %d: SVID %*" },
    { KERNEL_LINE_TOLD, "sourcing vbus" },
    { KERNEL_LINE_TOLD, "Data role mismatch, initiating error recovery" },
    { KERNEL_LINE_TOLD, "port triggering error recovery" },
    { KERNEL_LINE_TOLD, "Initiating hard-reset, %*" },
    { KERNEL_LINE_TOLD, "Unrecognized %w message type %x" },
    { KERNEL_LINE_TOLD, "Unrecognized %w %w message type %x" },
    { KERNEL_LINE_TOLD, "Unchunked extended messages unsupported" },
    { KERNEL_LINE_TOLD, "Chunk handling not yet supported" },
    { KERNEL_LINE_TOLD, "Alert message received with no type" },
    { KERNEL_LINE_TOLD, "Port partner FRS capable %*" },
    { KERNEL_LINE_TOLD, "Discarding FRS_SIGNAL! %*" },
    { KERNEL_LINE_TOLD, "VDM Tx error, retry" },
    { KERNEL_LINE_TOLD, "err: %*" },
    { KERNEL_LINE_TOLD, "skipped %*" },
    { KERNEL_LINE_FULL, "overflow" },
    { KERNEL_LINE_SILENT, "Setting usb_comm capable %*" },
    { KERNEL_LINE_SILENT, "Setting standby current %*" },
    { KERNEL_LINE_SILENT, "polarity %d" },
    { KERNEL_LINE_SILENT, "Sink TX No Go" },
    { KERNEL_LINE_SILENT, "Start toggling" },
    { KERNEL_LINE_SILENT, "port clean" },
    { KERNEL_LINE_SILENT, "Apply_RC" },
    { KERNEL_LINE_SILENT, "Not APDO type (source), ignoring" },
    { KERNEL_LINE_SILENT, "Not PPS APDO (source), ignoring" },
    { KERNEL_LINE_SILENT, "Invalid %*" },
    { KERNEL_LINE_SILENT, "Enable BIST MODE TESTDATA" },
    { KERNEL_LINE_SILENT, "disable BIST MODE TESTDATA" },
    { KERNEL_LINE_SILENT, "Enable FRS %*" },
    { KERNEL_LINE_SILENT, "Skip SVID %*" },
    { KERNEL_LINE_SILENT, "enable vbus discharge %*" },
    { KERNEL_LINE_SILENT, "disable vbus discharge %*" },
    { KERNEL_LINE_SILENT, "set_auto_vbus_discharge_threshold %*" },
    { KERNEL_LINE_NAME, "%w: registered" },
};

static bool literal_take(struct cursor *c, uint8_t byte)
{
    struct cursor ahead = *c;

    if (ahead.left == 0 || cursor_u8(&ahead) != byte)
        return false;
    *c = ahead;
    return true;
}

static int digit_of(uint8_t byte, bool hex)
{
    if (byte >= '0' && byte <= '9')
        return byte - '0';
    return hex && byte >= 'a' && byte <= 'f' ? byte - 'a' + 10 : -1;
}

/* At least one digit, and no more than 32 bits. */
static bool number_take(struct cursor *c, bool hex, int64_t *value)
{
    struct cursor ahead = *c;
    unsigned      digits = 0;
    int64_t       v = 0;

    if (hex && literal_take(&ahead, '0') && !literal_take(&ahead, 'x'))
        ahead = *c;
    for (; ahead.left > 0; digits++) {
        struct cursor one = ahead;
        int           digit = digit_of(cursor_u8(&one), hex);

        if (digit < 0)
            break;
        v = v * (hex ? 16 : 10) + digit;
        if (v > (hex ? (int64_t)UINT32_MAX : NUMBER_MAX))
            return false;
        ahead = one;
    }
    if (digits == 0)
        return false;
    *c = ahead;
    *value = v;
    return true;
}

static bool word_byte(uint8_t byte)
{
    return byte > ' ' && byte < 0x7F && byte != ',' && byte != ':' && byte != '[' && byte != ']';
}

static struct cursor word_take(struct cursor *c)
{
    struct cursor ahead = *c, word = *c;

    while (ahead.left > 0) {
        struct cursor one = ahead;

        if (!word_byte(cursor_u8(&one)))
            break;
        ahead = one;
    }
    word.left = c->left - ahead.left;
    *c = ahead;
    return word;
}

/* One % of a pattern. False: it does not fit. */
static bool part_take(char what, struct cursor *c, struct kernel_line *l, unsigned *numbers)
{
    if (what == 'w') {
        l->before = l->words;
        l->words = word_take(c);
        return l->words.left > 0;
    }
    return *numbers < KERNEL_LINE_NUMBERS && number_take(c, what == 'x', &l->numbers[(*numbers)++]);
}

static bool form_fits(const char *pattern, struct cursor c, struct kernel_line *l)
{
    unsigned numbers = 0;

    l->words = l->before = cursor_over(c.at, 0);
    for (; *pattern; pattern++) {
        if (*pattern != '%') {
            if (!literal_take(&c, (uint8_t)*pattern))
                return false;
        } else if (*++pattern == '*') {
            if (l->words.left == 0)
                l->words = c;
            return true;
        } else if (!part_take(*pattern, &c, l, &numbers)) {
            return false;
        }
    }
    return c.left == 0;
}

/* Digits, exactly so many if least is most. */
static bool digits_take(struct cursor *c, unsigned least, unsigned most, int64_t *value)
{
    size_t before = c->left;

    return number_take(c, false, value) && before - c->left >= least && before - c->left <= most;
}

/* "[    4.821758] " (Linux drivers/usb/typec/tcpm/tcpm.c: "[%5lu.%06lu] %s") */
static bool time_take(struct cursor *c, int64_t *t_ns)
{
    int64_t seconds, micros;

    if (!literal_take(c, '['))
        return false;
    while (literal_take(c, ' '))
        ;
    if (!digits_take(c, 1, SECOND_DIGITS_MAX, &seconds) || !literal_take(c, '.') || !digits_take(c, MICRO_DIGITS, MICRO_DIGITS, &micros) ||
        !literal_take(c, ']'))
        return false;
    *t_ns = seconds * INT64_C(1000000000) + micros * 1000;
    return true;
}

bool kernel_line_read(struct cursor line, struct kernel_line *l)
{
    *l = (struct kernel_line){ .kind = KERNEL_LINE_UNKNOWN };
    if (!time_take(&line, &l->t_ns))
        return false;
    while (literal_take(&line, ' '))
        ;
    l->text = line;
    for (size_t k = 0; k < sizeof forms / sizeof *forms; k++) {
        if (form_fits(forms[k].pattern, line, l)) {
            l->kind = forms[k].kind;
            return true;
        }
    }
    return true;
}

bool words_begin(struct cursor words, const char *with)
{
    for (; *with; with++)
        if (!literal_take(&words, (uint8_t)*with))
            return false;
    return true;
}

bool words_are(struct cursor words, const char *word)
{
    return words.left == strlen(word) && words_begin(words, word);
}

bool words_end(struct cursor words, const char *with)
{
    size_t length = strlen(with);

    return words.left >= length && cursor_take(&words, words.left - length) && words_are(words, with);
}

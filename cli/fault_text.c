#include "cli/fault_text.h"

#include "cli/command.h"

#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { COMPLAINT_BYTES = 2000, LINKTYPE_USER0 = 147 };

const char *subject_of(const char *path)
{
    return strcmp(path, "-") == 0 ? "standard input" : path;
}

static void read_text(const struct fault *f, const char *subject, char *out, size_t cap)
{
    if (f->sys == EISDIR)
        snprintf(out, cap, "%s: is a folder; name a file in it", subject);
    else
        snprintf(out, cap, "%s: cannot be read: %s", subject, strerror(f->sys));
}

static void table_text(const struct fault *f, const char *subject, char *out, size_t cap)
{
    switch ((enum table_trouble)f->number) {
    case TABLE_UTF16:
        snprintf(out, cap, "%s: text of 16 bits a character (UTF-16); save it as UTF-8", subject);
        return;
    case TABLE_NO_HEADING:
        snprintf(out, cap, "%s: no line near its beginning heads columns with units, numbers below; say with --columns which is which", subject);
        return;
    case TABLE_NO_TIME:
        snprintf(out, cap, "%s: no column of times; name it (--columns time=...) or give the rate of the rows (rate=...)", subject);
        return;
    case TABLE_NO_COLUMN:
        snprintf(out, cap, "%s: no column \"%s\"; give a name as it stands in the heading, or a number from 1", subject, f->detail);
        return;
    case TABLE_TWICE:
        snprintf(out, cap, "%s: several columns could be %s; say with --columns which one", subject, f->detail);
        return;
    case TABLE_UNIT:
        snprintf(out, cap, "%s: the unit of column %s is not clear; give it with --columns, behind a colon", subject, f->detail);
        return;
    case TABLE_MAP:
        snprintf(out, cap, "%s: columns cannot be read at \"%s\"; write them like time=1,vbus=Voltage,ibus=3:mA", subject, f->detail);
        return;
    }
}

void fault_text(const struct fault *f, const char *subject, char *out, size_t cap)
{
    switch (f->code) {
    case FAULT_NONE:
        snprintf(out, cap, "%s: no fault", subject);
        return;
    case FAULT_OPEN:
        snprintf(out, cap, "%s: cannot be opened: %s; check the name and the rights", subject, strerror(f->sys));
        return;
    case FAULT_READ:
        read_text(f, subject, out, cap);
        return;
    case FAULT_WRITE:
        snprintf(out, cap, "%s: cannot be written: %s; what is there is not complete", subject, strerror(f->sys));
        return;
    case FAULT_EMPTY:
        snprintf(out, cap, "%s: 0 bytes, so no capture; check that the recording was written", subject);
        return;
    case FAULT_NOT_A_CAPTURE:
        snprintf(out, cap, "%s: neither pcap nor pcapng (plain, gzip or zstd) nor the text form of a trace; give a trace", subject);
        return;
    case FAULT_CAPTURE:
        snprintf(out, cap, "%s: a broken capture file: %s", subject, f->detail);
        return;
    case FAULT_LINK_TYPE:
        snprintf(out, cap, "%s: a capture of link type %" PRId64 "%s%s%s, but a trace has %d (USER0); give a trace",
                 subject, f->number, f->detail[0] ? " (" : "", f->detail, f->detail[0] ? ")" : "", LINKTYPE_USER0);
        return;
    case FAULT_COMPRESSION:
        snprintf(out, cap, "%s: cannot be unpacked: %s; fetch or copy the file again", subject, f->detail);
        return;
    case FAULT_JSON:
        snprintf(out, cap, "%s: no JSON object: at byte %" PRId64 "%s%s; correct the file", subject, f->number,
                 f->detail[0] ? ": expected " : "", f->detail);
        return;
    case FAULT_USB:
        snprintf(out, cap, "%s: USB cannot be used: %s; see that /dev/bus/usb is there", subject, f->detail);
        return;
    case FAULT_FORMAT:
        if (f->number > 0)
            snprintf(out, cap, "%s: line %" PRId64 ": %s; export it again, or say what kind of file it is", subject, f->number, f->detail);
        else
            snprintf(out, cap, "%s: %s; export it again, or say what kind of file it is", subject, f->detail);
        return;
    case FAULT_NOT_THERE:
        snprintf(out, cap, "%s: nothing of the name that was asked for; there is %s", subject, f->detail);
        return;
    case FAULT_AMBIGUOUS:
        snprintf(out, cap, "%s: say which is meant of %s", subject, f->detail);
        return;
    case FAULT_RATE:
        snprintf(out, cap, "%s: does not tell its sample rate; say how many samples a second", subject);
        return;
    case FAULT_TABLE:
        table_text(f, subject, out, cap);
        return;
    case FAULT_NO_MEMORY:
        snprintf(out, cap, "%s: out of memory; close something and try again", subject);
        return;
    }
}

const char *record_why_text(enum record_why why)
{
    switch (why) {
    case RECORD_WHY_NONE:         return "nothing wrong";
    case RECORD_WHY_SHORT_HEADER: return "shorter than a record header of 8 bytes";
    case RECORD_WHY_VERSION:      return "a version of the trace format other than 1";
    case RECORD_WHY_KIND:         return "a kind of record that is not known";
    case RECORD_WHY_PRIVATE:      return "a private kind of record";
    case RECORD_WHY_SHORT_BODY:   return "shorter than its kind needs";
    case RECORD_WHY_CUT:          return "captured shorter than it was";
    case RECORD_WHY_LONG:         return "longer than 65535 bytes";
    case RECORD_WHY_SHORT_PACKET: return "packet too short for a header and its CRC";
    case RECORD_WHY_ORDERED_SET:  return "ordered set out of range";
    case RECORD_WHY_RESET:        return "reset that is neither hard nor cable";
    case RECORD_WHY_PORT:         return "port 255 (the bench) where one port is needed";
    case RECORD_WHY_ROWS:         return "power record without rows";
    case RECORD_WHY_COLUMNS:      return "power record with no column or an unknown one";
    case RECORD_WHY_INTERVAL:     return "several rows with no interval";
    case RECORD_WHY_ATTACH:       return "attach state out of range";
    case RECORD_WHY_RP:           return "Rp level out of range";
    case RECORD_WHY_ACTION:       return "action out of range";
    case RECORD_WHY_WHERE:        return "place of the loss out of range";
    case RECORD_WHY_LEVEL:        return "level of the line out of range";
    case RECORD_WHY_TICK:         return "a tick of 0 ps";
    case RECORD_WHY_LEB128:       return "unfinished number of edges";
    case RECORD_WHY_JSON:         return "ABOUT is no JSON object";
    case RECORD_WHY_UTF8:         return "text is no UTF-8";
    case RECORD_WHY_TEXT_LINE:    return "line cannot be read as a record";
    }
    return "unknown";
}

static void line_clean(char *text)
{
    for (; *text; text++)
        if ((unsigned char)*text < 0x20 || *text == 0x7f)
            *text = '?';
}

void complain(const char *format, ...)
{
    char    text[COMPLAINT_BYTES];
    va_list arguments;

    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    line_clean(text);
    fprintf(stderr, PORTASSAY_NAME ": %s\n", text);
}

void complain_fault(const struct fault *f, const char *subject)
{
    char text[COMPLAINT_BYTES];

    fault_text(f, subject, text, sizeof text);
    complain("%s", text);
}

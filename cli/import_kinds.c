/* The kinds of input, and which of them a file is where nobody says it. */
#define _POSIX_C_SOURCE 200809L /* open, read */
#include "cli/import.h"

#include "capture/base/cursor.h"
#include "capture/meter_log.h"
#include "cli/fault_text.h"
#include "decode/kernel_log.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

const struct import_kind *const import_kinds[] = {
    &import_vcd_kind, &import_bits_kind, &import_bytes_kind, &import_volts_kind, &import_samples_kind, &import_meter_kind, &import_klog_kind, &import_text_kind,
    &import_trace_kind, NULL,
};

enum { FIRST_BYTES = 16 * 1024 };

const struct import_kind *import_kind_find(const char *word, size_t length)
{
    for (unsigned k = 0; import_kinds[k]; k++)
        if (strlen(import_kinds[k]->word) == length && memcmp(import_kinds[k]->word, word, length) == 0)
            return import_kinds[k];
    return NULL;
}

/* The end of a name, with what packs it taken off: "log.csv.gz" ends in "csv". */
static bool name_ends(const char *path, const char *end)
{
    size_t length = strlen(path), n = strlen(end);

    if (length > 3 && strcmp(path + length - 3, ".gz") == 0)
        length -= 3;
    else if (length > 4 && strcmp(path + length - 4, ".zst") == 0)
        length -= 4;
    if (length <= n || path[length - n - 1] != '.')
        return false;
    for (size_t k = 0; k < n; k++)
        if ((path[length - n + k] | 0x20) != end[k])
            return false;
    return true;
}

/* The first bytes of a file that can be read twice. */
static size_t file_begin(const char *path, uint8_t bytes[FIRST_BYTES])
{
    struct stat file;
    int         fd = strcmp(path, "-") == 0 || stat(path, &file) != 0 || !S_ISREG(file.st_mode) ? -1 : open(path, O_RDONLY | O_CLOEXEC);
    ssize_t     n = fd >= 0 ? read(fd, bytes, FIRST_BYTES) : 0;

    if (fd >= 0)
        close(fd);
    return n > 0 ? (size_t)n : 0;
}

static bool packed(const uint8_t *bytes, size_t length)
{
    struct cursor c = cursor_over(bytes, length);
    uint32_t      magic = cursor_u32le(&c);

    return (magic & 0xFFFF) == 0x8B1F || magic == 0xFD2FB528; /* gzip (RFC 1952), zstd (RFC 8878) */
}

static const struct import_kind *kind_of_name(const char *path)
{
    static const struct { const char *end, *kind; } names[] = {
        { "vcd", "vcd" }, { "bits", "bits" }, { "s16", "samples" }, { "s16le", "samples" },
    };

    for (size_t k = 0; k < sizeof names / sizeof names[0]; k++)
        if (name_ends(path, names[k].end))
            return import_kind_find(names[k].kind, strlen(names[k].kind));
    return NULL;
}

static const struct import_kind *kind_of_bytes(const uint8_t *bytes, size_t length)
{
    size_t at = 0;

    if (kernel_log_looks_right(bytes, length))
        return &import_klog_kind;
    if (meter_log_fits(bytes, length))
        return &import_meter_kind;
    while (at < length && (bytes[at] == ' ' || (bytes[at] >= '\t' && bytes[at] <= '\r')))
        at++;
    if (at < length && bytes[at] == '$')
        return &import_vcd_kind;
    return NULL;
}

const struct import_kind *import_kind_guess(const char *path)
{
    uint8_t                   bytes[FIRST_BYTES];
    size_t                    length = file_begin(path, bytes);
    const struct import_kind *kind = kind_of_name(path);

    if (!kind && length > 0 && !packed(bytes, length))
        kind = kind_of_bytes(bytes, length);
    if (!kind && name_ends(path, "csv")) {
        complain("%s: a table, but not of what: no heading of volts and amperes is near its beginning; say what it is, meter:%s or volts:%s", path,
                 path, path);
        return NULL;
    }
    return kind ? kind : &import_trace_kind;
}

#define _DEFAULT_SOURCE /* mkdtemp */
#include "tests/cli/program.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>
#include <zlib.h>

enum { ARGUMENTS_MAX = 32, PATH_BYTES = 256 };

/* The directory is made at the first need. */
static char directory[PATH_BYTES];

const char *file_path(const char *name)
{
    static char paths[8][PATH_BYTES * 2];
    static unsigned next;
    char *path = paths[next++ % 8];

    if (!directory[0]) {
        snprintf(directory, sizeof directory, "%s/portassay-test-XXXXXX", getenv("TMPDIR") ? getenv("TMPDIR") : "/tmp");
        assert_non_null(mkdtemp(directory));
    }
    snprintf(path, sizeof paths[0], "%s/%s", directory, name);
    return path;
}

int files_remove(void **state)
{
    (void)state;
    char command[PATH_BYTES * 2];

    if (!directory[0])
        return 0;
    snprintf(command, sizeof command, "rm -rf '%s'", directory);
    directory[0] = '\0';
    return system(command) == 0 ? 0 : -1;
}

void file_write(const char *name, const void *bytes, size_t length)
{
    FILE *f = fopen(file_path(name), "wb");

    assert_non_null(f);
    assert_int_equal(fwrite(bytes, 1, length, f), length);
    assert_int_equal(fclose(f), 0);
}

static char *file_all(const char *path, size_t *length)
{
    FILE *f = fopen(path, "rb");
    long  size;

    assert_non_null(f);
    fseek(f, 0, SEEK_END);
    size = ftell(f);
    rewind(f);
    char *text = malloc((size_t)size + 1);

    assert_non_null(text);
    *length = fread(text, 1, (size_t)size, f);
    text[*length] = '\0';
    fclose(f);
    return text;
}

static void child(const char *input, const char *output, const char *error, const char *const *arguments)
{
    char *argv[ARGUMENTS_MAX] = { (char *)(uintptr_t)"portassay" };
    int   in = open(input, O_RDONLY);
    int   out = strcmp(output, "-") == 0 ? -1 : open(output, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    int   err = open(error, O_WRONLY | O_CREAT | O_TRUNC, 0600);

    dup2(in, 0);
    if (out < 0)
        close(1);
    else
        dup2(out, 1);
    dup2(err, 2);
    for (unsigned i = 0; arguments[i] && i + 2 < ARGUMENTS_MAX; i++)
        argv[i + 1] = (char *)(uintptr_t)arguments[i];
    execv(PORTASSAY_PROGRAM, argv);
    _exit(127);
}

struct run program_run_to(const char *output, const char *input, const char *const *arguments)
{
    char out_path[PATH_BYTES * 2], error_path[PATH_BYTES * 2], input_path[PATH_BYTES * 2] = "/dev/null";
    struct run r = { 0 };
    int status = 0;

    snprintf(out_path, sizeof out_path, "%s", output ? output : file_path("stdout"));
    snprintf(error_path, sizeof error_path, "%s", file_path("stderr"));
    if (input) {
        file_write("stdin", input, strlen(input));
        snprintf(input_path, sizeof input_path, "%s", file_path("stdin"));
    }
    fflush(NULL);
    pid_t pid = fork();

    assert_true(pid >= 0);
    if (pid == 0)
        child(input_path, out_path, error_path, arguments);
    while (waitpid(pid, &status, 0) < 0)
        assert_int_equal(errno, EINTR);
    size_t length;

    r.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    r.err = file_all(error_path, &length);
    r.out = output ? calloc(1, 1) : file_all(out_path, &r.out_length);
    return r;
}

struct run program_run(const char *input, const char *const *arguments)
{
    return program_run_to(NULL, input, arguments);
}

void run_free(struct run *r)
{
    free(r->out);
    free(r->err);
}

struct cJSON *json_line_of(const char *text, unsigned n)
{
    for (; n > 0 && text; n--) {
        text = strchr(text, '\n');
        text = text ? text + 1 : NULL;
    }
    if (!text || !*text)
        return NULL;
    const char *rest;
    struct cJSON *json = cJSON_ParseWithOpts(text, &rest, 0);

    if (json && *rest != '\n') {
        cJSON_Delete(json);
        return NULL;
    }
    return json;
}

const struct cJSON *member(const struct cJSON *object, const char *key)
{
    return cJSON_GetObjectItemCaseSensitive(object, key);
}

int64_t number_of(const struct cJSON *object, const char *key)
{
    const struct cJSON *item = member(object, key);

    if (!cJSON_IsNumber(item))
        fail_msg("\"%s\" is no number", key);
    return (int64_t)item->valuedouble;
}

const char *text_of(const struct cJSON *object, const char *key)
{
    const struct cJSON *item = member(object, key);

    if (!cJSON_IsString(item))
        fail_msg("\"%s\" is no text", key);
    return item->valuestring;
}

bool flag_of(const struct cJSON *object, const char *key)
{
    const struct cJSON *item = member(object, key);

    if (!cJSON_IsBool(item))
        fail_msg("\"%s\" is neither true nor false", key);
    return cJSON_IsTrue(item);
}

bool is_null(const struct cJSON *object, const char *key)
{
    return cJSON_IsNull(member(object, key));
}

void line_add(struct lines *l, const char *format, ...)
{
    va_list arguments;

    va_start(arguments, format);
    int n = vsnprintf(l->text + l->used, sizeof l->text - l->used, format, arguments);

    va_end(arguments);
    assert_true(n >= 0 && l->used + (size_t)n + 1 < sizeof l->text);
    l->used += (size_t)n;
    l->text[l->used++] = '\n';
    l->text[l->used] = '\0';
}

static void bytes_add(struct lines *l, const char *time, unsigned port, const char *set, uint8_t *bytes, size_t length, bool spoil)
{
    char     hex[600] = "";
    uint32_t crc = (uint32_t)crc32(0, bytes, (uInt)length) ^ (spoil ? 1u : 0u);

    for (unsigned i = 0; i < 4; i++)
        bytes[length++] = (uint8_t)(crc >> 8 * i);
    for (size_t i = 0; i < length; i++)
        snprintf(hex + 2 * i, 3, "%02x", bytes[i]);
    line_add(l, "%s %u %s %s", time, port, set, hex);
}

void packet_add(struct lines *l, const char *time, unsigned port, const char *set, uint16_t header, const uint32_t *words,
                unsigned count, bool spoil)
{
    uint8_t bytes[64];
    size_t  length = 0;

    bytes[length++] = (uint8_t)header;
    bytes[length++] = (uint8_t)(header >> 8);
    for (unsigned k = 0; k < count; k++)
        for (unsigned i = 0; i < 4; i++)
            bytes[length++] = (uint8_t)(words[k] >> 8 * i);
    bytes_add(l, time, port, set, bytes, length, spoil);
}

void extended_add(struct lines *l, const char *time, unsigned port, const char *set, uint16_t header, uint16_t extended_header,
                  const uint8_t *bytes, size_t length)
{
    uint8_t all[280];
    size_t  at = 0;

    all[at++] = (uint8_t)header;
    all[at++] = (uint8_t)(header >> 8);
    all[at++] = (uint8_t)extended_header;
    all[at++] = (uint8_t)(extended_header >> 8);
    for (size_t i = 0; i < length; i++)
        all[at++] = bytes[i];
    while ((at - 2) % 4)
        all[at++] = 0;
    bytes_add(l, time, port, set, all, at, false);
}

uint16_t header_of(unsigned type, unsigned objects, unsigned id, bool source)
{
    return (uint16_t)(type | (source ? 0x0120u : 0u) | 0x0080u | id << 9 | objects << 12);
}

#define _POSIX_C_SOURCE 200809L /* mkstemp, dup */
#include "tests/cli/cli_try.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static void put32(FILE *f, uint32_t value)
{
    for (unsigned k = 0; k < 4; k++)
        fputc((int)(value >> (8 * k) & 255), f);
}

static void put16(FILE *f, unsigned value)
{
    fputc((int)(value & 255), f);
    fputc((int)(value >> 8), f);
}

/* libpcap's file format: magic of nanosecond captures, version 2.4, snapshot length, link type (pcap-savefile(5)). */
void try_save(const struct lines *l, char path[64])
{
    int fd;

    strcpy(path, "/tmp/portassay-test-XXXXXX");
    fd = mkstemp(path);
    assert_true(fd >= 0);
    FILE *f = fdopen(fd, "wb");

    assert_non_null(f);
    put32(f, 0xa1b23c4d);
    put16(f, 2);
    put16(f, 4);
    put32(f, 0);
    put32(f, 0);
    put32(f, 262144);
    put32(f, 147);
    for (unsigned k = 0; k < l->count; k++) {
        put32(f, (uint32_t)(l->line[k].t_ns / 1000000000));
        put32(f, (uint32_t)(l->line[k].t_ns % 1000000000));
        put32(f, (uint32_t)l->line[k].length);
        put32(f, (uint32_t)l->line[k].length);
        assert_int_equal(fwrite(l->bytes + l->line[k].at, 1, l->line[k].length, f), l->line[k].length);
    }
    assert_int_equal(fclose(f), 0);
}

void try_remove(const char *path)
{
    unlink(path);
}

static char *file_whole(const char *path)
{
    FILE  *f = fopen(path, "rb");
    char  *text = NULL;
    size_t used = 0, n;

    assert_non_null(f);
    do {
        text = realloc(text, used + 65536 + 1);
        assert_non_null(text);
        n = fread(text + used, 1, 65536, f);
        used += n;
    } while (n > 0);
    text[used] = '\0';
    fclose(f);
    return text;
}

struct try try_run(const struct command *c, ...)
{
    char       output[] = "/tmp/portassay-test-XXXXXX", complaints[] = "/tmp/portassay-test-XXXXXX";
    int        output_fd = mkstemp(output), complaints_fd = mkstemp(complaints), kept = dup(STDERR_FILENO);
    char      *argv[TRY_ARGUMENTS + 4], option[] = "-o", name[32];
    int        argc = 0;
    va_list    arguments;
    struct try t;

    assert_true(output_fd >= 0 && complaints_fd >= 0 && kept >= 0);
    snprintf(name, sizeof name, "%s", c->name);
    argv[argc++] = name;
    argv[argc++] = option;
    argv[argc++] = output;
    va_start(arguments, c);
    for (char *a; (a = va_arg(arguments, char *)) != NULL && argc < TRY_ARGUMENTS;)
        argv[argc++] = a;
    va_end(arguments);
    argv[argc] = NULL;
    fflush(stderr);
    dup2(complaints_fd, STDERR_FILENO);
    t.status = c->run(c, argc, argv);
    fflush(stderr);
    dup2(kept, STDERR_FILENO);
    close(kept);
    close(output_fd);
    close(complaints_fd);
    t.text = file_whole(output);
    t.complaints = file_whole(complaints);
    t.json = cJSON_Parse(t.text);
    unlink(output);
    unlink(complaints);
    return t;
}

void try_free(struct try *t)
{
    free(t->text);
    free(t->complaints);
    cJSON_Delete(t->json);
}

const cJSON *at(const cJSON *root, const char *path)
{
    const cJSON *here = root;
    char         step[64];

    for (const char *p = path; *p && here;) {
        size_t n = strcspn(p, ".");

        assert_true(n < sizeof step);
        memcpy(step, p, n);
        step[n] = '\0';
        here = cJSON_IsArray(here) ? cJSON_GetArrayItem(here, atoi(step)) : cJSON_GetObjectItemCaseSensitive(here, step);
        p += n + (p[n] == '.');
    }
    if (!here)
        fail_msg("there is no %s", path);
    return here;
}

double number_at(const cJSON *root, const char *path)
{
    const cJSON *item = at(root, path);

    if (!cJSON_IsNumber(item))
        fail_msg("%s is no number", path);
    return item->valuedouble;
}

const char *text_at(const cJSON *root, const char *path)
{
    const cJSON *item = at(root, path);

    if (!cJSON_IsString(item))
        fail_msg("%s is no text", path);
    return item->valuestring;
}

bool true_at(const cJSON *root, const char *path)
{
    const cJSON *item = at(root, path);

    if (!cJSON_IsBool(item))
        fail_msg("%s is neither true nor false", path);
    return cJSON_IsTrue(item);
}

int size_at(const cJSON *root, const char *path)
{
    const cJSON *item = at(root, path);

    if (!cJSON_IsArray(item))
        fail_msg("%s is no array", path);
    return cJSON_GetArraySize(item);
}

const cJSON *find_at(const cJSON *root, const char *path, const char *key, const char *value)
{
    const cJSON *element;

    cJSON_ArrayForEach(element, at(root, path))
        if (strcmp(text_at(element, key), value) == 0)
            return element;
    return NULL;
}

/* The text with every stretch of blanks and line ends as one blank: a sentence may be wrapped anywhere. */
static char *unwrapped(const char *text)
{
    char  *flat = malloc(strlen(text) + 1), *to = flat;

    assert_non_null(flat);
    for (; *text; text++)
        if (*text != ' ' && *text != '\n')
            *to++ = *text;
        else if (to > flat && to[-1] != ' ')
            *to++ = ' ';
    *to = '\0';
    return flat;
}

void expect_text(const struct try *t, const char *part)
{
    char *flat = unwrapped(t->text);
    bool  found = strstr(t->text, part) || strstr(flat, part);

    free(flat);
    if (!found)
        fail_msg("\"%s\" is not in:\n%s\n%s", part, t->text, t->complaints);
}

void expect_no_text(const struct try *t, const char *part)
{
    if (strstr(t->text, part))
        fail_msg("\"%s\" is in:\n%s", part, t->text);
}

void expect_complaint(const struct try *t, const char *part)
{
    if (!strstr(t->complaints, part))
        fail_msg("\"%s\" is not in the complaints: %s", part, t->complaints);
    /* One line. */
    assert_ptr_equal(strchr(t->complaints, '\n'), t->complaints + strlen(t->complaints) - 1);
}

void expect_width(const struct try *t, size_t most)
{
    for (const char *line = t->text; *line; line += strcspn(line, "\n") + (line[strcspn(line, "\n")] == '\n')) {
        size_t n = 0;

        for (const char *c = line; *c && *c != '\n'; c++)
            n += ((unsigned char)*c & 0xc0) != 0x80;
        if (n > most)
            fail_msg("%zu characters: %.*s", n, (int)strcspn(line, "\n"), line);
    }
}

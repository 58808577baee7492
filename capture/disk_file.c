#define _POSIX_C_SOURCE 200809L /* O_CLOEXEC, fstat */
#include "capture/disk_file_inside.h"

#include "capture/base/cursor.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { FILE_RIGHTS = 0666, NUMBER_DIGITS = 4, NUMBER_MAX = 99999999, LINKTYPE_USER0 = 147 };
#define SECOND_NS INT64_C(1000000000)

static void put_u32(uint8_t *out, uint32_t value)
{
    for (unsigned k = 0; k < 4; k++)
        out[k] = (uint8_t)(value >> 8 * k);
}

void disk_frame_put(uint8_t *out, int64_t stamp_ns, uint32_t length)
{
    put_u32(out, (uint32_t)(stamp_ns / SECOND_NS));
    put_u32(out + 4, (uint32_t)(stamp_ns % SECOND_NS));
    put_u32(out + 8, length);
    put_u32(out + 12, length);
}

/* Nanosecond magic, version 2.4, no time zone, snapshot length, link type (IETF draft "PCAP Capture File Format", file header). */
static void head_put(uint8_t out[PCAP_HEAD_BYTES])
{
    put_u32(out, 0xa1b23c4d);
    put_u32(out + 4, 2 | 4u << 16);
    put_u32(out + 8, 0);
    put_u32(out + 12, 0);
    put_u32(out + 16, PCAP_RECORD_BYTES_MAX);
    put_u32(out + 20, LINKTYPE_USER0);
}

/* How much of it went out; errno says why not all. */
static size_t write_all(int fd, const uint8_t *bytes, size_t length)
{
    size_t done = 0;

    while (done < length) {
        ssize_t n = write(fd, bytes + done, length - done);

        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0) {
            errno = n == 0 ? ENOSPC : errno;
            break;
        }
        done += (size_t)n;
    }
    return done;
}

/* Of so many bytes of frames, those that make whole ones. */
static size_t whole_frames(const uint8_t *frames, size_t length)
{
    struct cursor c = cursor_over(frames, length);
    size_t        whole = 0;

    for (;;) {
        cursor_take(&c, 8);
        uint32_t captured = cursor_u32le(&c);

        cursor_take(&c, 4);
        cursor_take(&c, captured);
        if (c.short_read || c.left == length - whole)
            return whole;
        whole = length - c.left;
    }
}

bool disk_file_write(struct disk_file *file, const uint8_t *frames, size_t length, struct fault *f)
{
    size_t done = write_all(file->fd, frames, length);

    if (done == length)
        return true;
    int sys = errno;
    size_t over = done - whole_frames(frames, done);
    off_t  end = file->regular ? lseek(file->fd, 0, SEEK_END) : -1;

    /* A record that went out in part only would make the trace end inside a record. */
    if (over > 0 && end >= (off_t)over && ftruncate(file->fd, end - (off_t)over) == 0)
        lseek(file->fd, 0, SEEK_END);
    return fault_set(f, FAULT_WRITE, sys, 0, NULL);
}

/* A new file's name is on the disk too. */
static void name_sync(const char *path)
{
    const char *slash = strrchr(path, '/');
    char        folder[DISK_PATH_BYTES] = ".";

    if (slash)
        snprintf(folder, sizeof folder, "%.*s", (int)(slash == path ? 1 : slash - path), path);
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);

    if (fd >= 0) {
        fsync(fd); /* where that cannot be asked for, nothing is worse than before */
        close(fd);
    }
}

static bool head_write(struct disk_file *file, struct fault *f)
{
    uint8_t     head[PCAP_HEAD_BYTES];
    struct stat about;

    file->regular = fstat(file->fd, &about) == 0 && S_ISREG(about.st_mode);
    head_put(head);
    if (write_all(file->fd, head, sizeof head) == sizeof head) {
        if (file->regular && !file->is_stdout)
            name_sync(file->path);
        return true;
    }
    fault_set(f, FAULT_WRITE, errno, 0, NULL);
    if (file->regular)
        unlink(file->path); /* a file without a head is no trace of anything */
    return false;
}

/* A pipe or a device that is there is written to as it is. */
static int path_open(const struct disk_file *file)
{
    struct stat about;
    int         how = O_WRONLY | O_CLOEXEC;

    if (stat(file->path, &about) == 0 && !S_ISREG(about.st_mode))
        return open(file->path, how | O_NOCTTY);
    return open(file->path, how | O_CREAT | (file->overwrite ? O_TRUNC : O_EXCL), FILE_RIGHTS);
}

static bool numbered_path(struct disk_file *file, unsigned number, char *path)
{
    return snprintf(path, DISK_PATH_BYTES, "%s-%0*u%s", file->stem, NUMBER_DIGITS, number, file->ending) < DISK_PATH_BYTES;
}

/* Opens the file of the next number that is free. */
static bool numbered_open(struct disk_file *file, struct fault *f)
{
    do {
        if (++file->number > NUMBER_MAX || !numbered_path(file, file->number, file->path))
            return fault_set(f, FAULT_OPEN, ENAMETOOLONG, 0, NULL);
        file->fd = open(file->path, O_WRONLY | O_CLOEXEC | O_CREAT | O_EXCL, FILE_RIGHTS);
    } while (file->fd < 0 && errno == EEXIST);
    if (file->fd < 0)
        return fault_set(f, FAULT_OPEN, errno, 0, NULL);
    if (file->keep > 0)
        file->kept[file->kept_count++] = file->number;
    return true;
}

/* The number of a name "NAME-0012.EXT", 0 if it is none of ours. */
static unsigned number_of(const struct disk_file *file, const char *base, const char *name)
{
    size_t front = strlen(base), digits;

    if (strncmp(name, base, front) != 0 || name[front] != '-')
        return 0;
    name += front + 1;
    digits = strspn(name, "0123456789");
    if (digits < NUMBER_DIGITS || digits > 8 || strcmp(name + digits, file->ending) != 0)
        return 0;
    return (unsigned)strtoul(name, NULL, 10);
}

/* New files are numbered after those of earlier recordings. */
static void number_find(struct disk_file *file)
{
    const char    *slash = strrchr(file->stem, '/');
    const char    *base = slash ? slash + 1 : file->stem;
    char           folder[DISK_PATH_BYTES] = ".";
    struct dirent *entry;

    if (slash)
        snprintf(folder, sizeof folder, "%.*s", (int)(slash == file->stem ? 1 : slash - file->stem), file->stem);
    DIR *dir = opendir(folder);

    while (dir && (entry = readdir(dir)) != NULL) {
        unsigned number = number_of(file, base, entry->d_name);

        if (number > file->number)
            file->number = number;
    }
    if (dir)
        closedir(dir);
}

static bool numbered_start(struct disk_file *file, const char *path, struct fault *f)
{
    const char *slash = strrchr(path, '/'), *dot = strrchr(path, '.');

    if (!dot || (slash && dot < slash) || dot == path || (slash && dot == slash + 1))
        dot = path + strlen(path);
    if (strlen(path) >= sizeof file->stem || strlen(dot) >= sizeof file->ending)
        return fault_set(f, FAULT_OPEN, ENAMETOOLONG, 0, NULL);
    snprintf(file->stem, sizeof file->stem, "%.*s", (int)(dot - path), path);
    snprintf(file->ending, sizeof file->ending, "%s", dot);
    if (file->keep > 0) {
        file->kept = calloc(file->keep + 1, sizeof *file->kept);
        if (!file->kept)
            return fault_set(f, FAULT_NO_MEMORY, 0, 0, NULL);
    }
    number_find(file);
    return numbered_open(file, f);
}

bool disk_file_open(struct disk_file *file, const struct disk_options *options, struct fault *f)
{
    file->fd = -1;
    file->numbered = options->numbered;
    file->overwrite = options->overwrite;
    file->keep = options->keep;
    file->is_stdout = strcmp(options->path, "-") == 0;
    if (file->numbered && !file->is_stdout) {
        if (!numbered_start(file, options->path, f))
            return false;
        return head_write(file, f);
    }
    file->numbered = false;
    if (snprintf(file->path, sizeof file->path, "%s", options->path) >= (int)sizeof file->path)
        return fault_set(f, FAULT_OPEN, ENAMETOOLONG, 0, NULL);
    file->fd = file->is_stdout ? fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 0) : path_open(file);
    if (file->fd < 0)
        return fault_set(f, FAULT_OPEN, errno, 0, NULL);
    return head_write(file, f);
}

/* Before the next one is begun, so that it finds room. */
static void oldest_remove(struct disk_file *file)
{
    char path[DISK_PATH_BYTES];

    if (file->keep == 0 || file->kept_count < file->keep)
        return;
    if (numbered_path(file, file->kept[0], path))
        unlink(path);
    memmove(file->kept, file->kept + 1, (--file->kept_count) * sizeof *file->kept);
}

bool disk_file_next(struct disk_file *file, struct fault *f)
{
    int before = file->fd;

    file->fd = -1;
    if (close(before) != 0)
        return fault_set(f, FAULT_WRITE, errno, 0, NULL);
    oldest_remove(file);
    return numbered_open(file, f) && head_write(file, f);
}

bool disk_file_close(struct disk_file *file, struct fault *f)
{
    bool done = file->fd < 0 || close(file->fd) == 0 || fault_set(f, FAULT_WRITE, errno, 0, NULL);

    file->fd = -1;
    free(file->kept);
    file->kept = NULL;
    return done;
}

/*
 * Gives a fuzz target a main, so that any compiler and ctest run the saved corpus: replay FILE-OR-FOLDER...
 */
#include "tests/fuzz/check.h"

#include <dirent.h>
#include <string.h>
#include <sys/stat.h>

static void replay_file(const char *path)
{
    FILE    *f = fopen(path, "rb");
    uint8_t *bytes = NULL;
    size_t   length = 0, room = 0;

    MUST(f);
    do {
        if (length == room) {
            room = room ? room * 2 : 65536;
            bytes = realloc(bytes, room);
            MUST(bytes);
        }
        length += fread(bytes + length, 1, room - length, f);
    } while (!feof(f) && !ferror(f));
    MUST(!ferror(f));
    fclose(f);
    /* A copy of just that size, so that a sanitizer sees the first byte too many. */
    uint8_t *copy = malloc(length ? length : 1);

    MUST(copy);
    memcpy(copy, bytes, length);
    LLVMFuzzerTestOneInput(copy, length);
    free(copy);
    free(bytes);
}

static unsigned replay_folder(const char *path)
{
    DIR           *d = opendir(path);
    struct dirent *e;
    char           name[4096];
    unsigned       replayed = 0;

    MUST(d);
    while ((e = readdir(d)) != NULL) {
        if (e->d_name[0] == '.')
            continue;
        snprintf(name, sizeof name, "%s/%s", path, e->d_name);
        replay_file(name);
        replayed++;
    }
    closedir(d);
    return replayed;
}

int main(int argc, char **argv)
{
    struct stat s;
    unsigned    replayed = 0;

    for (int k = 1; k < argc; k++) {
        MUST(stat(argv[k], &s) == 0);
        if (S_ISDIR(s.st_mode)) {
            replayed += replay_folder(argv[k]);
        } else {
            replay_file(argv[k]);
            replayed++;
        }
    }
    printf("%u inputs\n", replayed);
    return replayed > 0 ? 0 : 1;
}

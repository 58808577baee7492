#define _XOPEN_SOURCE 700
#include "tests/capture/tree.h"

#include "tests/capture/made.h"

#include <errno.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH = 1024 };

char *tree_new(void)
{
    const char *tmp = getenv("TMPDIR");
    char       *root = malloc(PATH);

    assert_non_null(root);
    snprintf(root, PATH, "%s/tree-XXXXXX", tmp ? tmp : "/tmp");
    assert_non_null(mkdtemp(root));
    return root;
}

static void folders_to(char *path, size_t from)
{
    for (char *slash = strchr(path + from + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        assert_true(mkdir(path, 0755) == 0 || errno == EEXIST);
        *slash = '/';
    }
}

void tree_line(const char *root, const char *line)
{
    const char *arrow = strstr(line, " -> "), *colon = strstr(line, ": ");
    char        path[PATH];

    if (!arrow && !colon)
        return;
    snprintf(path, sizeof path, "%s%.*s", root, (int)((arrow ? arrow : colon) - line), line);
    folders_to(path, strlen(root));
    if (arrow) {
        char target[PATH];

        snprintf(target, sizeof target, "%.*s", (int)strcspn(arrow + 4, "\n"), arrow + 4);
        assert_true(symlink(target, path) == 0 || errno == EEXIST);
        return;
    }
    FILE *f = fopen(path, "w");

    assert_non_null(f);
    fprintf(f, "%.*s\n", (int)strcspn(colon + 2, "\n"), colon + 2);
    fclose(f);
}

bool tree_file(const char *root, const char *path)
{
    char  line[4096];
    FILE *f = fopen(path, "r");

    while (f && fgets(line, sizeof line, f))
        if (line[0] == '/')
            tree_line(root, line);
    if (f)
        fclose(f);
    return f != NULL;
}

static int remove_one(const char *path, const struct stat *s, int kind, struct FTW *where)
{
    (void)s;
    (void)kind;
    (void)where;
    return remove(path);
}

void tree_remove(char *root)
{
    nftw(root, remove_one, 16, FTW_DEPTH | FTW_PHYS);
    free(root);
}

/* tests/capture/tree.h - folders, files and links made from lines: "/path: value", "/path -> target". */
#pragma once
#include <stdbool.h>

/* A new folder in $TMPDIR or /tmp; free the name, tree_remove the folder. */
char *tree_new(void);
void  tree_line(const char *root, const char *line);
/* Every line of a file; false: it is not there. */
bool  tree_file(const char *root, const char *path);
void  tree_remove(char *root);

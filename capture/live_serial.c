#define _POSIX_C_SOURCE 200809L
#include "capture/live_serial_inside.h"

#include <dirent.h>
#include <stdio.h>

void live_serial_find(void (*found)(void *context, const struct live_found *one), void *context)
{
    static const char folder[] = "/dev/serial/by-id";
    DIR              *dir = opendir(folder);
    struct dirent    *entry;

    while (dir && (entry = readdir(dir)) != NULL) {
        struct live_found one = { .ports = -1 };

        if (entry->d_name[0] == '.' ||
            snprintf(one.from, sizeof one.from, "text:%s/%s", folder, entry->d_name) >= (int)sizeof one.from)
            continue;
        snprintf(one.what, sizeof one.what, "a serial device: if it prints the text form");
        found(context, &one);
    }
    if (dir)
        closedir(dir);
}

#include "capture/live.h"

#include <stdio.h>
#include <string.h>

struct live_source *live_open(const struct live_kind *const *kinds, const char *from, const struct live_hands *hands, struct fault *f)
{
    fault_set(f, FAULT_NONE, 0, 0, NULL);
    for (unsigned k = 0; kinds[k]; k++) {
        size_t length = strlen(kinds[k]->word);

        if (strncmp(from, kinds[k]->word, length) != 0 || (from[length] != ':' && from[length] != '=' && from[length] != '\0'))
            continue;
        struct live_source *s = kinds[k]->open(from[length] == ':' ? from + length + 1 : from[length] == '=' ? from + length : NULL, hands, f);

        if (s) {
            s->kind = kinds[k];
            s->hands = *hands;
            snprintf(s->name, sizeof s->name, "%s", from);
        }
        return s;
    }
    return NULL;
}

void live_close(struct live_source *s)
{
    if (s)
        s->kind->close(s);
}

unsigned live_watch(struct live_source *s, struct pollfd *fds, unsigned room, int64_t *wake_ns)
{
    return s->kind->watch(s, fds, room, wake_ns);
}

void live_work(struct live_source *s, const struct pollfd *fds, unsigned count)
{
    s->kind->work(s, fds, count);
}

int64_t live_reached_ns(const struct live_source *s)
{
    return s->kind->reached_ns(s);
}

bool live_over(const struct live_source *s)
{
    return s->kind->over(s);
}

void live_stop(struct live_source *s)
{
    if (s->kind->stop)
        s->kind->stop(s);
}

void live_about(const struct live_source *s, struct cJSON *about, bool closing)
{
    s->kind->about(s, about, closing);
}

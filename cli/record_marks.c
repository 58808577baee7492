#define _POSIX_C_SOURCE 200809L /* termios, strtok_r, strncasecmp */
#include "cli/record_marks.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <termios.h>
#include <unistd.h>

enum { MARK_BODY_BYTES = 8, KEY_BACKSPACE = 0x08, KEY_DELETE = 0x7f, KEY_CLEAR = 0x15, LOAD_DIGITS_MAX = 9 };

/* What a letter stands for. */
static const struct { char letter; uint8_t action; bool port, value; const char *words; } letters[] = {
    { 'p', RECORD_PLUGGED, true, false, "plugged at" },       { 'u', RECORD_UNPLUGGED, true, false, "unplugged at" },
    { 'l', RECORD_LOAD_SET, true, true, "load set at" },      { 'i', RECORD_INPUT_ON, false, false, "input power applied" },
    { 'o', RECORD_INPUT_OFF, false, false, "input power removed" },
};
enum { LETTERS = sizeof letters / sizeof letters[0] };

void port_say(unsigned port, const struct about *about, char *out, size_t room)
{
    const struct about_port *p = about_port(about, (uint8_t)port);

    if (p->name[0])
        snprintf(out, room, "%s", p->name);
    else
        snprintf(out, room, "port %u", port);
}

/* The next word, and what follows it. Empty at the end. */
static size_t word_length(const char **at)
{
    *at += strspn(*at, " \t");
    return strcspn(*at, " \t");
}

static bool port_read(const char *word, size_t length, const struct about *about, uint8_t *port)
{
    for (unsigned k = 0; k < RECORD_PORT_BENCH; k++) {
        const char *name = about_port(about, (uint8_t)k)->name;

        if (name[0] && strlen(name) == length && strncasecmp(name, word, length) == 0) {
            *port = (uint8_t)k;
            return true;
        }
    }
    if (length == 1 && ((*word >= 'A' && *word <= 'Z') || (*word >= 'a' && *word <= 'z'))) {
        *port = (uint8_t)((*word | 0x20) - 'a');
        return true;
    }
    if (length == 0 || length > 3 || strspn(word, "0123456789") < length || strtoul(word, NULL, 10) >= RECORD_PORT_BENCH)
        return false;
    *port = (uint8_t)strtoul(word, NULL, 10);
    return true;
}

static bool value_read(const char *word, size_t length, int32_t *value)
{
    size_t sign = length > 0 && *word == '-' ? 1 : 0;

    if (length == sign || length - sign > LOAD_DIGITS_MAX || strspn(word + sign, "0123456789") < length - sign)
        return false;
    *value = (int32_t)strtol(word, NULL, 10);
    return true;
}

/* False: the line does not say all that its letter needs; then it is a note. */
static bool letter_read(struct typed_mark *m, unsigned k, const char *at, const struct about *about)
{
    size_t length;

    m->action = letters[k].action;
    if (letters[k].port) {
        length = word_length(&at);
        if (!port_read(at, length, about, &m->subject))
            return false;
        at += length;
    }
    if (letters[k].value) {
        length = word_length(&at);
        if (!value_read(at, length, &m->value))
            return false;
        at += length;
    }
    word_length(&at);
    if (*at && !letters[k].port)
        return false; /* "i think so" */
    m->length = (size_t)snprintf(m->text, sizeof m->text, "%s", at);
    return m->length < sizeof m->text;
}

bool mark_read(struct typed_mark *m, const char *line, const struct about *about)
{
    const char *at = line;
    size_t      length = word_length(&at);

    for (unsigned k = 0; k < LETTERS && length == 1; k++) {
        *m = (struct typed_mark){ .subject = RECORD_PORT_NONE };
        if (*at == letters[k].letter && letter_read(m, k, at + 1, about))
            return true;
    }
    *m = (struct typed_mark){ .action = RECORD_NOTE, .subject = RECORD_PORT_NONE };
    snprintf(m->text, sizeof m->text, "%s", at);
    m->length = strlen(m->text);
    while (m->length > 0 && (m->text[m->length - 1] == ' ' || m->text[m->length - 1] == '\t'))
        m->text[--m->length] = '\0';
    return m->length > 0;
}

size_t mark_put(const struct typed_mark *m, uint8_t *out, size_t room)
{
    uint8_t body[MARK_BODY_BYTES + MARK_TEXT_BYTES] = { m->action, m->subject };

    for (unsigned k = 0; k < 4; k++)
        body[4 + k] = (uint8_t)((uint32_t)m->value >> 8 * k);
    memcpy(body + MARK_BODY_BYTES, m->text, m->length);
    return record_put(out, room, RECORD_MARK, RECORD_PORT_BENCH, RECORD_HOST_TIME, 0, body, MARK_BODY_BYTES + m->length);
}

void mark_say(const struct typed_mark *m, const struct about *about, char *out, size_t room)
{
    char port[64] = "";

    snprintf(out, room, "note");
    if (m->subject != RECORD_PORT_NONE)
        port_say(m->subject, about, port, sizeof port);
    for (unsigned k = 0; k < LETTERS; k++) {
        if (letters[k].action != m->action)
            continue;
        if (letters[k].value)
            snprintf(out, room, "%s %s to %d mA", letters[k].words, port, m->value);
        else
            snprintf(out, room, "%s%s%s", letters[k].words, port[0] ? " " : "", port);
    }
}

/* Only while this program is the one that the terminal talks to; a background job would be stopped. */
void typing_start(struct typing *t)
{
    struct termios now;

    *t = (struct typing){ .on = false };
    if (isatty(STDIN_FILENO) != 1 || tcgetpgrp(STDIN_FILENO) != getpgrp() || tcgetattr(STDIN_FILENO, &now) != 0)
        return;
    t->before = malloc(sizeof now);
    if (!t->before)
        return;
    memcpy(t->before, &now, sizeof now);
    now.c_lflag &= ~(tcflag_t)(ICANON | ECHO);
    now.c_cc[VMIN] = 1;
    now.c_cc[VTIME] = 0;
    t->on = tcsetattr(STDIN_FILENO, TCSANOW, &now) == 0;
}

void typing_end(struct typing *t)
{
    if (t->on)
        tcsetattr(STDIN_FILENO, TCSANOW, t->before);
    free(t->before);
    *t = (struct typing){ .on = false };
}

/* One character, of one byte or several (UTF-8). */
static void character_drop(struct typing *t)
{
    while (t->used > 0 && ((unsigned char)t->line[--t->used] & 0xc0) == 0x80)
        ;
    t->line[t->used] = '\0';
}

bool typing_take(struct typing *t, char key)
{
    if (key == '\n' || key == '\r')
        return true;
    if (key == KEY_BACKSPACE || key == KEY_DELETE)
        character_drop(t);
    else if (key == KEY_CLEAR)
        typing_next(t);
    else if ((unsigned char)key >= 0x20 && t->used + 1 < sizeof t->line) {
        t->line[t->used++] = key;
        t->line[t->used] = '\0';
    }
    return false;
}

void typing_next(struct typing *t)
{
    t->used = 0;
    t->line[0] = '\0';
}

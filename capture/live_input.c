#define _DEFAULT_SOURCE /* baud rates beyond POSIX, cfsetspeed */
#include "capture/live_input_inside.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* Rates of <termios.h> on Linux. */
static const struct { uint32_t baud; speed_t speed; } rates[] = {
    { 1200, B1200 },       { 2400, B2400 },       { 4800, B4800 },       { 9600, B9600 },       { 19200, B19200 },
    { 38400, B38400 },     { 57600, B57600 },     { 115200, B115200 },   { 230400, B230400 },   { 460800, B460800 },
    { 500000, B500000 },   { 576000, B576000 },   { 921600, B921600 },   { 1000000, B1000000 }, { 1500000, B1500000 },
    { 2000000, B2000000 }, { 3000000, B3000000 }, { 4000000, B4000000 },
};

static bool rate_find(uint32_t baud, speed_t *speed)
{
    for (size_t k = 0; k < sizeof rates / sizeof rates[0]; k++)
        if (rates[k].baud == baud) {
            *speed = rates[k].speed;
            return true;
        }
    return false;
}

/* Bytes as they come; modem lines do not matter. */
static void raw_set(struct live_input *in)
{
    struct termios t;
    speed_t        speed;

    if (tcgetattr(in->fd, &t) != 0)
        return;
    in->before = t;
    t.c_iflag &= ~(tcflag_t)(IGNBRK | BRKINT | PARMRK | ISTRIP | INLCR | IGNCR | ICRNL | IXON);
    t.c_oflag &= ~(tcflag_t)OPOST;
    t.c_lflag &= ~(tcflag_t)(ECHO | ECHONL | ICANON | ISIG | IEXTEN);
    t.c_cflag |= CLOCAL | CREAD;
    t.c_cc[VMIN] = 1;
    t.c_cc[VTIME] = 0;
    if (in->baud > 0 && rate_find(in->baud, &speed))
        cfsetspeed(&t, speed);
    in->raw = tcsetattr(in->fd, TCSANOW, &t) == 0;
}

static bool file_open(struct live_input *in)
{
    struct stat about;

    in->fd = open(in->path, O_RDONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    if (in->fd < 0)
        return false;
    in->kind = LIVE_INPUT_ENDS;
    if (fstat(in->fd, &about) == 0 && S_ISDIR(about.st_mode)) {
        close(in->fd);
        in->fd = -1;
        errno = EISDIR;
        return false;
    }
    if (isatty(in->fd) == 1) {
        in->kind = LIVE_INPUT_TERMINAL;
        raw_set(in);
    } else if (fstat(in->fd, &about) == 0 && S_ISFIFO(about.st_mode)) {
        in->kind = LIVE_INPUT_FIFO;
    }
    return true;
}

bool live_input_open(struct live_input *in, const char *path, uint32_t baud, struct fault *f)
{
    speed_t speed;

    *in = (struct live_input){ .path = path, .fd = -1, .baud = baud };
    if (baud > 0 && !rate_find(baud, &speed))
        return fault_set(f, FAULT_OPEN, EINVAL, baud, NULL);
    if (strcmp(path, "-") == 0) { /* shared with others: it stays as it is set */
        in->fd = STDIN_FILENO;
        in->kind = LIVE_INPUT_ENDS;
        return true;
    }
    in->ours = true;
    return file_open(in) || fault_set(f, FAULT_OPEN, errno, 0, NULL);
}

void live_input_close(struct live_input *in)
{
    if (in->fd >= 0 && in->raw)
        tcsetattr(in->fd, TCSANOW, &in->before);
    if (in->fd >= 0 && in->ours)
        close(in->fd);
    in->fd = -1;
    in->raw = false;
}

bool live_input_again(struct live_input *in)
{
    return in->fd >= 0 || file_open(in);
}

/* The new end is open before the old one is closed, so that what a next writer has written already is not lost. */
static enum live_input_news writer_left(struct live_input *in)
{
    int before = in->fd;

    in->fd = open(in->path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    int sys = errno;

    close(before);
    errno = sys;
    return in->fd >= 0 ? LIVE_INPUT_WRITER_LEFT : LIVE_INPUT_GONE;
}

static enum live_input_news gone(struct live_input *in, int sys)
{
    in->raw = false; /* there is nothing to set back */
    live_input_close(in);
    errno = sys;
    return LIVE_INPUT_GONE;
}

enum live_input_news live_input_read(struct live_input *in, char *out, size_t room, size_t *length)
{
    ssize_t n = in->fd >= 0 ? read(in->fd, out, room) : -1;

    *length = n > 0 ? (size_t)n : 0;
    if (n > 0)
        return LIVE_INPUT_BYTES;
    if (n < 0 && (errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR))
        return LIVE_INPUT_NOTHING;
    switch (in->kind) {
    case LIVE_INPUT_ENDS:     return LIVE_INPUT_END;
    case LIVE_INPUT_FIFO:     return n == 0 ? writer_left(in) : gone(in, errno);
    case LIVE_INPUT_TERMINAL: return gone(in, n == 0 ? 0 : errno);
    }
    return LIVE_INPUT_END;
}

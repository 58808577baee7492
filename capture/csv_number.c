#include "capture/csv_number_inside.h"

enum { EXPONENT_MOST = 1000, POWERS = 19 };
static const int64_t digits_room = (INT64_MAX - 9) / 10; /* one more digit fits */

static const int64_t powers_of_ten[POWERS] = {
    1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000, 1000000000, 10000000000, 100000000000, 1000000000000,
    10000000000000, 100000000000000, 1000000000000000, 10000000000000000, 100000000000000000, 1000000000000000000,
};

/* The most that may be multiplied by each. */
static const int64_t power_room[POWERS] = {
    INT64_C(9223372036854775807), INT64_C(922337203685477580), INT64_C(92233720368547758), INT64_C(9223372036854775),
    INT64_C(922337203685477), INT64_C(92233720368547), INT64_C(9223372036854), INT64_C(922337203685), INT64_C(92233720368),
    INT64_C(9223372036), INT64_C(922337203), INT64_C(92233720), INT64_C(9223372), INT64_C(922337), INT64_C(92233),
    INT64_C(9223), INT64_C(922), INT64_C(92), INT64_C(9),
};

static bool byte_next(struct cursor *c, uint8_t wanted)
{
    if (c->left == 0 || c->at[0] != wanted)
        return false;
    cursor_take(c, 1);
    return true;
}

static bool sign_next(struct cursor *c)
{
    struct cursor ahead = *c;

    if (byte_next(c, '-'))
        return true;
    if (byte_next(&ahead, 0xE2) && byte_next(&ahead, 0x88) && byte_next(&ahead, 0x92)) {
        *c = ahead;
        return true;
    }
    byte_next(c, '+');
    return false;
}

/* How many digits came. fraction: each lowers the exponent. */
static size_t digits_next(struct cursor *c, struct csv_number *n, bool fraction)
{
    size_t came = 0;

    while (c->left > 0 && c->at[0] >= '0' && c->at[0] <= '9') {
        int digit = cursor_u8(c) - '0';

        came++;
        if (n->digits <= digits_room) {
            n->digits = n->digits * 10 + digit;
            n->exponent -= fraction;
        } else if (!fraction && n->exponent < EXPONENT_MOST) {
            n->exponent++;
        }
    }
    return came;
}

static bool mark_next(struct cursor *c, char *mark)
{
    if (c->left == 0 || (c->at[0] != '.' && c->at[0] != ','))
        return false;
    if (*mark == 0)
        *mark = (char)c->at[0];
    return byte_next(c, (uint8_t)*mark);
}

/* An "e" without digits behind it belongs to what follows the number. */
static void exponent_next(struct cursor *c, struct csv_number *n)
{
    struct cursor ahead = *c;
    bool          negative;
    int           value = 0;
    size_t        came = 0;

    if (!byte_next(&ahead, 'e') && !byte_next(&ahead, 'E'))
        return;
    negative = sign_next(&ahead);
    for (; ahead.left > 0 && ahead.at[0] >= '0' && ahead.at[0] <= '9'; came++) {
        int digit = cursor_u8(&ahead) - '0';

        value = value < EXPONENT_MOST ? value * 10 + digit : value;
    }
    if (came == 0)
        return;
    n->exponent += negative ? -value : value;
    *c = ahead;
}

bool csv_number_read(struct cursor *c, char *mark, struct csv_number *n)
{
    struct cursor ahead = *c;
    char          found = *mark;
    size_t        came;

    while (byte_next(&ahead, ' '))
        continue;
    *n = (struct csv_number){ .negative = sign_next(&ahead) };
    came = digits_next(&ahead, n, false);
    if (mark_next(&ahead, &found))
        came += digits_next(&ahead, n, true);
    if (came == 0)
        return false;
    exponent_next(&ahead, n);
    *mark = found;
    *c = ahead;
    return true;
}

bool csv_number_scaled(const struct csv_number *n, int power, int64_t factor, int64_t *value)
{
    int64_t digits = n->digits;
    int     exponent = n->exponent + power;

    for (; factor > 1 && digits > INT64_MAX / factor; exponent++)
        digits /= 10;
    digits *= factor;
    if (exponent > 0) {
        if (digits != 0 && (exponent >= POWERS || digits > power_room[exponent]))
            return false;
        digits *= digits == 0 ? 1 : powers_of_ten[exponent];
    } else if (exponent > -POWERS && exponent < 0) {
        int64_t by = powers_of_ten[-exponent];

        digits = digits / by + (digits % by >= by - by / 2);
    } else if (exponent < 0) {
        digits = exponent == -POWERS && digits >= INT64_C(5000000000000000000); /* 0.5 and more of 1e19 */
    }
    *value = n->negative ? -digits : digits;
    return true;
}

#include "capture/text_words_inside.h"

enum { TIME_DECIMALS = 9, EXPONENT_MOST = 100 };

/* A decimal number taken apart: digits x 10^exponent. */
struct decimal {
    uint64_t digits;
    int      exponent;
    unsigned fraction;  /* digits behind the point */
    bool     negative;
    bool     rounded;   /* more digits than there is room for */
    bool     any, has_exponent;
};

static bool digit_next(struct cursor *c, unsigned *digit)
{
    struct cursor ahead = *c;
    uint8_t       byte = cursor_u8(&ahead);

    if (byte < '0' || byte > '9')
        return false;
    *digit = byte - '0';
    *c = ahead;
    return true;
}

static bool char_next(struct cursor *c, char wanted)
{
    struct cursor ahead = *c;

    if (c->left == 0 || cursor_u8(&ahead) != (uint8_t)wanted)
        return false;
    *c = ahead;
    return true;
}

static void digits_read(struct cursor *c, struct decimal *d, bool fraction)
{
    unsigned digit;

    while (digit_next(c, &digit)) {
        d->any = true;
        if (fraction)
            d->fraction++;
        if (d->digits <= (INT64_MAX - 9) / 10) {
            d->digits = d->digits * 10 + digit;
            d->exponent -= fraction;
        } else {
            d->rounded = true;
            d->exponent += !fraction;
        }
    }
}

static bool exponent_read(struct cursor *c, struct decimal *d)
{
    bool     negative = char_next(c, '-');
    int      value = 0;
    unsigned digit;
    bool     any = false;

    if (!negative)
        char_next(c, '+');
    for (; digit_next(c, &digit); any = true)
        value = value < EXPONENT_MOST ? value * 10 + (int)digit : value;
    d->exponent += negative ? -value : value;
    d->has_exponent = true;
    return any;
}

static bool decimal_read(const struct word *w, struct decimal *d)
{
    struct cursor c = cursor_over((const uint8_t *)w->at, w->length);

    *d = (struct decimal){ .negative = char_next(&c, '-') };
    digits_read(&c, d, false);
    if (char_next(&c, '.'))
        digits_read(&c, d, true);
    if (!d->any)
        return false;
    if ((char_next(&c, 'e') || char_next(&c, 'E')) && !exponent_read(&c, d))
        return false;
    return c.left == 0;
}

/* In units of 10^-decimals. False: beyond an int64_t. */
static bool decimal_scale(const struct decimal *d, unsigned decimals, int64_t *value)
{
    uint64_t number = d->digits, divisor = 1;
    int      power = d->exponent + (int)decimals;

    for (; power > 0 && number > 0; power--) {
        if (number > INT64_MAX / 10)
            return false;
        number *= 10;
    }
    for (; power < 0 && divisor <= UINT64_MAX / 100; power++)
        divisor *= 10;
    if (power < 0)
        number = 0; /* smaller than any half */
    number = divisor == 1 ? number : (number + divisor / 2) / divisor;
    *value = d->negative ? -(int64_t)number : (int64_t)number;
    return true;
}

bool word_decimal(const struct word *w, unsigned decimals, int64_t *value)
{
    struct decimal d;

    return decimal_read(w, &d) && decimal_scale(&d, decimals, value);
}

bool word_time(const struct word *w, int64_t *t_ns)
{
    struct decimal d;

    if (!decimal_read(w, &d) || d.has_exponent || d.rounded || d.fraction > TIME_DECIMALS)
        return false;
    return decimal_scale(&d, TIME_DECIMALS, t_ns);
}

bool word_integer(const struct word *w, int64_t least, int64_t most, int64_t *value)
{
    struct decimal d;

    if (!decimal_read(w, &d) || d.has_exponent || d.rounded || d.fraction > 0 || w->at[w->length - 1] == '.')
        return false;
    return decimal_scale(&d, 0, value) && *value >= least && *value <= most;
}

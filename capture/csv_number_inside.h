/*
 * capture/csv_number_inside.h - decimal numbers in the cells of a table, whatever the locale. Within capture only.
 *
 * A sign (also U+2212), digits, a decimal point or comma, an exponent. Nothing is taken for a mark of thousands.
 */
#pragma once
#include "capture/base/cursor.h"

/* digits x 10^exponent; digits for which there is no room (beyond the 18th at the earliest) are cut off, which no rounding to fewer can notice. */
struct csv_number {
    int64_t  digits;
    int      exponent; /* of the last digit: its step is 10^exponent */
    bool     negative;
};

/*
 * Reads a number from the front of c, blanks before it passed over; c then stands behind it. mark: '.' or ','; 0 where nothing is known
 * yet, and then the first mark that comes settles it. False: c does not begin with a number; c is as it was.
 */
bool csv_number_read(struct cursor *c, char *mark, struct csv_number *n);
/* n x factor x 10^power in whole numbers, half away from zero. factor 1 to 100,000. False: it does not fit. */
bool csv_number_scaled(const struct csv_number *n, int power, int64_t factor, int64_t *value);

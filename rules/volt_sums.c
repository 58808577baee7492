/* Static values counted and added up: their median by bins of 1 mV, and the line that they follow under load. */
#include "rules/volt_table_inside.h"

#include <math.h>
#include <stdlib.h>

enum { UV_OF_MV = 1000, BINS = BIN_PIECES * BIN_PIECE };

/* Median. */

void volt_bins_clear(struct volt_bins *b)
{
    for (unsigned k = 0; b->made && k < BIN_PIECES; k++)
        for (unsigned n = 0; b->pieces[k] && n < BIN_PIECE; n++)
            b->pieces[k][n] = 0;
    b->count = 0;
    b->lost = false;
}

void volt_bins_free(struct volt_bins *b)
{
    for (unsigned k = 0; k < BIN_PIECES; k++) {
        free(b->pieces[k]);
        b->pieces[k] = NULL;
    }
    b->made = 0;
}

/* Values beyond the ends count in the last bin there; least and greatest value are known by themselves. */
static unsigned bin_of(int64_t uv)
{
    int64_t mv = (uv >= 0 ? uv + UV_OF_MV / 2 : uv - UV_OF_MV / 2) / UV_OF_MV - BINS_LEAST_MV;

    return mv < 0 ? 0 : mv >= BINS ? BINS - 1 : (unsigned)mv;
}

void volt_bins_take(struct volt_bins *b, unsigned *made, int64_t uv)
{
    unsigned   bin = bin_of(uv);
    uint32_t **piece = &b->pieces[bin / BIN_PIECE];

    if (!*piece && *made < BIN_PIECES_ALL) {
        *piece = calloc(BIN_PIECE, sizeof **piece);
        *made += *piece != NULL;
        b->made += *piece != NULL;
    }
    if (!*piece || (*piece)[bin % BIN_PIECE] == UINT32_MAX)
        b->lost = true;
    else
        (*piece)[bin % BIN_PIECE]++;
    b->count++;
}

/* The bin in which the k-th value lies, counted from 1. */
static int64_t value_ranked(const struct volt_bins *b, uint64_t k)
{
    uint64_t seen = 0;

    for (unsigned piece = 0; piece < BIN_PIECES; piece++)
        for (unsigned n = 0; b->pieces[piece] && n < BIN_PIECE; n++) {
            seen += b->pieces[piece][n];
            if (seen >= k)
                return (int64_t)(piece * BIN_PIECE + n) + BINS_LEAST_MV;
        }
    return BINS_LEAST_MV;
}

bool volt_bins_median(const struct volt_bins *b, int64_t *uv)
{
    if (b->count == 0 || b->lost)
        return false;
    *uv = (value_ranked(b, (b->count + 1) / 2) + value_ranked(b, b->count / 2 + 1)) * UV_OF_MV / 2;
    return true;
}

/* Line. */

void volt_sums_take(struct volt_sums *s, const struct volt_value *v)
{
    if (s->n++ == 0) {
        s->first_uv = (double)v->uv;
        s->first_ua = v->ua;
    }
    double dv = (double)v->uv - s->first_uv, di = v->ua - s->first_ua;

    s->v += dv;
    s->i += di;
    s->vv += dv * dv;
    s->ii += di * di;
    s->iv += di * dv;
}

/* t for 95.45 % by degrees of freedom, 1 to 10: GUM (JCGM 100), table G.2, from memory; more: 20 of them, then 2. */
static double student(uint64_t freedom)
{
    static const double t[] = { 13.97, 4.53, 3.31, 2.87, 2.65, 2.52, 2.43, 2.37, 2.32, 2.28 };

    if (freedom <= sizeof t / sizeof t[0])
        return t[freedom - 1];
    return freedom < 20 ? 2.28 : freedom < 100 ? 2.13 : 2;
}

bool volt_sums_slope(const struct volt_sums *s, double noise_uv, double *ohm, double *u_ohm)
{
    double n = (double)s->n, ii, iv, vv, left;

    if (s->n < 3)
        return false;
    ii = s->ii - s->i * s->i / n;
    iv = s->iv - s->i * s->v / n;
    vv = s->vv - s->v * s->v / n;
    if (ii <= 0)
        return false;
    left = (vv - iv * iv / ii) / (n - 2); /* variance about the line */
    left = left > noise_uv * noise_uv ? left : noise_uv * noise_uv;
    *ohm = -iv / ii;
    *u_ohm = student(s->n - 2) * sqrt(left / ii);
    return true;
}

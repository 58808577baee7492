/* cli/synth/synth_chance.h - chance that is the same for the same seed, on every machine. */
#pragma once
#include <stdbool.h>
#include <stdint.h>

struct chance { uint64_t state; };

struct chance chance_of(uint64_t seed, uint64_t stream); /* streams of one seed do not follow each other */
uint64_t chance_bits(struct chance *c);
unsigned chance_below(struct chance *c, unsigned below);                 /* 0 .. below - 1; below > 0 */
int64_t  chance_between(struct chance *c, int64_t least, int64_t most);  /* both included; least if most is below it */
bool     chance_in(struct chance *c, unsigned times, unsigned of);       /* true in `times` of `of` */
double   chance_normal(struct chance *c); /* normal, of mean 0 and standard deviation 1; its last bits are those of the C library */

/* cli/synth/synth_read.h - reading JSON by tables of keys; what is wrong is said with the path of the key. */
#pragma once
#include "cli/synth/synth_plan.h"

enum key_kind { KEY_FLAG, KEY_COUNT, KEY_LONG, KEY_TEXT, KEY_CHOICE, KEY_OTHER }; /* bool, unsigned, int64_t, char[], unsigned; read elsewhere */
struct key_row { const char *key; enum key_kind kind; size_t offset; const char *const *choices; int64_t least, most; };

struct reading { char path[64]; struct synth_trouble *trouble; };
struct reading reading_into(const struct reading *r, const char *key, int index); /* index < 0: no list */
bool reading_no(struct reading *r, const char *key, const char *expected);        /* always false */
bool reading_keys(struct reading *r, const struct cJSON *from, const struct key_row *rows, void *into);
bool reading_choice(const char *text, const char *const *choices, unsigned *index);
/* Objects by supply: fixed above 20 V and epr_avs go to epr (NULL: refused). */
bool reading_pdos(struct reading *r, const struct cJSON *list, uint32_t *words, unsigned *count, uint32_t *epr, unsigned *epr_count);

extern const char *const synth_step_names[STEP_DOS + 1];
/* The messages that a get can send (synth_get.c). */
bool synth_question_find(const char *name, unsigned *index);
unsigned synth_questions(void);
/* What a profile leaves open: objects by its watts, flags, identity. */
void partner_complete(struct partner *q, bool source);

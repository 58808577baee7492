#include "tests/fuzz/check_message.h"

#include "capture/record.h"
#include "decode/chunks.h"
#include "decode/exchange.h"
#include "decode/field.h"
#include "decode/message.h"
#include "decode/objects.h"
#include "tests/fuzz/check.h"

#include <zlib.h>

/* The rows of a layout give the whole word back: nothing is left out, nothing is told twice. */
static void check_word(enum object_kind kind, uint32_t word)
{
    const struct object_layout *layout = object_layout(kind);
    uint32_t                    again = 0;

    MUST(layout && layout->title && layout->count > 0);
    for (unsigned k = 0; k < layout->count; k++) {
        const struct field *f = &layout->fields[k];

        MUST(field_scaled(f, word) == (int64_t)field_raw(f, word) * f->step);
        again |= field_raw(f, word) << f->low;
    }
    MUST(again == word);
}

static void check_pdo(const struct pdo *p, uint32_t word, unsigned position)
{
    MUST(p->word == word && p->position == position && p->supply <= SUPPLY_RESERVED);
    MUST(p->min_mv >= 0 && p->max_mv >= 0 && p->max_ma >= 0 && p->max_ma_20v >= 0 && p->max_mw >= 0);
    MUST(supply_name(p->supply));
    MUST(pdo_current_at(p, -1) == 0 && pdo_current_at(p, 5000) >= 0);
}

static void check_objects(uint32_t word, unsigned position)
{
    struct pdo source = pdo_read_source(word, position), sink = pdo_read_sink(word, position);
    struct rdo alone = rdo_read(word, NULL), asked = rdo_read(word, &source);

    check_pdo(&source, word, position);
    check_pdo(&sink, word, position);
    MUST(alone.position == rdo_position(word) && asked.position == alone.position && alone.position < 16);
    MUST(alone.form == REQUEST_FORM_UNKNOWN);
    check_word(object_kind_of_pdo(word, false, position == 1), word);
    check_word(object_kind_of_pdo(word, true, position == 1), word);
    for (unsigned kind = 0; kind < OBJECT_KINDS; kind++)
        check_word((enum object_kind)kind, word);
}

static void check_blocks(const struct message *m, const uint8_t *data, size_t size)
{
    const struct block_layout *layout = block_layout(m->type, m->set != SET_SOP);
    uint64_t                   value = 0;

    for (unsigned k = 0; layout && k < layout->count; k++) {
        const struct block_field *f = &layout->fields[k];
        bool                      there = block_value(f, data, size, &value);

        MUST(!there || (size_t)f->byte + f->size <= size);
    }
}

static void check_chunk(const struct message *m)
{
    struct chunks  c = { 0 };
    const uint8_t *data = NULL;
    uint16_t       size = 0;
    enum chunk_news news = chunks_take(&c, m, 1, &data, &size);

    MUST((news == CHUNK_NONE) == (m->message_class != CLASS_EXTENDED));
    if (news != CHUNK_COMPLETE)
        return;
    MUST(size <= EXTENDED_BYTES_MAX && (data || size == 0));
    check_blocks(m, data, size);
    for (unsigned k = 0; k < size; k++)
        check_blocks(m, data, k); /* shorter than it should be */
}

static void check_crc(const struct message *m, const uint8_t *bytes, size_t length, uint8_t state)
{
    if (state & (RECORD_NO_CRC | RECORD_TRUNCATED)) {
        MUST(m->crc == (state & RECORD_CRC_BAD ? CRC_BAD : CRC_ABSENT));
        return;
    }
    uint32_t sent = 0;

    MUST(length < 6 || m->raw_length == length - 4);
    if (length < 6)
        return;
    for (unsigned k = 0; k < 4; k++)
        sent |= (uint32_t)bytes[length - 4 + k] << 8 * k;
    bool fits = sent == (uint32_t)crc32(0, bytes, (uInt)length - 4);

    MUST(m->crc == (fits && !(state & RECORD_CRC_BAD) ? CRC_GOOD : CRC_BAD));
}

void check_message(const uint8_t *bytes, size_t length, uint8_t set, uint8_t state)
{
    struct message             m;
    const struct message_kind *kind;
    uint32_t                   words[7] = { 0 };

    MUST(message_read(bytes, length, set, state, &m) == (length >= 2));
    if (length < 2)
        return;
    MUST(m.header == (uint16_t)(bytes[0] | bytes[1] << 8) && m.set == set && m.raw == bytes && m.raw_length <= length);
    MUST(m.body_length + (m.has_extended_header ? 4u : 2u) == m.raw_length || m.raw_length < 2);
    MUST(m.index < MESSAGE_INDEXES && m.index == MESSAGE_INDEX(m.message_class, m.type));
    kind = message_kind(m.index);
    MUST(kind);
    (void)message_objects_allowed(kind, m.objects);
    (void)message_size_allowed(kind, m.data_size, set != SET_SOP);
    MUST(exchange_kind(m.index) == NULL || exchange_kind(m.index)->ask == m.index);
    check_crc(&m, bytes, length, state);
    MUST(message_words(&m) <= 65 && message_words(&m) * 4 <= m.body_length);
    for (unsigned k = 0; k < 7 && k < message_words(&m); k++) {
        words[k] = message_word(&m, k);
        check_objects(words[k], k + 1);
        check_word(object_kind_of_data(m.type, k), words[k]);
        check_word(object_kind_of_epr_mode(words[k]), words[k]);
        check_word(object_kind_of_vdm(words, message_words(&m) < 7 ? message_words(&m) : 7, k, set, m.revision), words[k]);
    }
    MUST(message_word(&m, m.body_length / 4u) == 0);
    check_chunk(&m);
}

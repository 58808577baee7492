/*
 * capture/text_form.h - the text form of a trace: one record a line (traces/FORMAT.md, "The same records as text").
 *
 * What a line cannot say (flags, measured POWER blocks, CC millivolts, raw edges ...) stands in a comment line "#= key=value ..."
 * before it: other readers pass over it, ours gives the same record back.
 */
#pragma once
#include "capture/record.h"

struct text_reader; /* keeps what "#=" lines said for the record that follows */

struct text_reader *text_reader_new(int64_t (*now_ns)(void *), void *context);
void text_reader_free(struct text_reader *r);

/* A damaged line's bytes are a header alone, with kind and port if they could be read, else those of a packet of port 255. */
enum text_line { TEXT_NOTHING, TEXT_RECORD, TEXT_DAMAGED };
/*
 * Takes one line (no newline). TEXT_RECORD: a record is complete; *bytes, *length and *stamp_ns are its own and last until the next call;
 * *line is the number of the line it began on. TEXT_NOTHING: comment, blank, or a row of a block that goes on.
 */
enum text_line text_reader_take(struct text_reader *r, const char *line, size_t length, uint64_t number,
                                const uint8_t **bytes, size_t *record_length, int64_t *stamp_ns, uint64_t *first_line);
/* True if a block ended short of its rows, so that the line given last was not taken: give it again (or end). */
bool text_reader_again(const struct text_reader *r);
/* True if the record that came out last was captured shorter than it was. */
bool text_reader_cut(const struct text_reader *r);
/* At the end of the input: a block that was not finished comes out as far as it went. */
enum text_line text_reader_end(struct text_reader *r, const uint8_t **bytes, size_t *record_length, int64_t *stamp_ns,
                               uint64_t *first_line);

/* Writes the line or lines of one record, newline at the end of each, through put. Gives the same record back when read. */
void text_write(const struct record *r, void (*put)(void *context, const char *text, size_t length), void *context);

/*
 * rules/line_checks.h - the checks of the rules that the line watcher wakes (rules/line.h), and which of its sentences each may say.
 */
#pragma once
#include "rules/judge.h"

/* wire_checks.c */
enum { SAYS_CRC_WRONG, SAYS_CRC_ANSWERED, SAYS_CRC_FITS, SAYS_CRC_CUT };
enum { SAYS_REPEATED_ALL, SAYS_REPEATED_BY_NOBODY, SAYS_REPEATED_FEWER };
enum { SAYS_RATE_HIGH, SAYS_RATE_LOW, SAYS_RATE_RESET_HIGH, SAYS_RATE_RESET_LOW };
void wire_check_crc(struct judge *j, const struct event *e);
void wire_check_crc_repeated(struct judge *j, const struct event *e);
void wire_check_bit_rate(struct judge *j, const struct event *e);
void wire_check_frame_gap(struct judge *j, const struct event *e);
/* How long so many bits may last, by the bit rate, in whole ns. */
struct window line_length_window(const struct parameter *rate, uint32_t bits);

/* wire_times.c */
void time_check_goodcrc_turnaround(struct judge *j, const struct event *e);
void time_check_retry(struct judge *j, const struct event *e);

/* exchange_goodcrc.c */
enum { SAYS_NOT_HEARD, SAYS_NEVER_HEARD };
enum { SAYS_ID_OTHER, SAYS_ID_OTHER_SET };
enum { SAYS_COUNT_PORT, SAYS_COUNT_PLUG };
enum { SAYS_SAME_OTHER_BYTES, SAYS_SAME_OTHER_TYPE };
void exchange_check_goodcrc(struct judge *j, const struct event *e);
void exchange_check_first_try(struct judge *j, const struct event *e);
void exchange_check_goodcrc_id(struct judge *j, const struct event *e);
void exchange_check_goodcrc_unprompted(struct judge *j, const struct event *e);
void exchange_check_retry_count(struct judge *j, const struct event *e);
void exchange_check_retry_same(struct judge *j, const struct event *e);

/* The outcome of the occasion in hand: whom, where, evidence, sentence. */
struct outcome line_outcome(struct judge *j);
/* Fault or not, sure or not. */
void line_say(struct judge *j, const struct outcome *o);

/*
 * rules/ext_checks.h - the checks of ext.*, what they remember, and which of its sentences each may say. For the table in
 * ext_rules.c alone.
 */
#pragma once
#include "rules/judge.h"

/* ext_checks.c: extended messages */
enum { STATUS_RESERVED, STATUS_NO_BATTERY };
void ext_check_status_fields(struct judge *j, const struct event *e);

enum { EXTENDED_SPR_PDP, EXTENDED_EPR_PDP, EXTENDED_EPR_UNFLAGGED, EXTENDED_RESERVED, EXTENDED_TOUCH, EXTENDED_PEAK, EXTENDED_OFFER_UNKNOWN };
void ext_check_source_caps_ext_fields(struct judge *j, const struct event *e);

enum { BATTERY_WRONGLY_VALID, BATTERY_WRONGLY_INVALID, BATTERY_STATE, BATTERY_FULL };
void ext_check_battery_fields(struct judge *j, const struct event *e);

enum { TEXT_NO_END, TEXT_TWO_ENDS, TEXT_LETTER, TEXT_VID_IDENTITY, TEXT_VID_EXTENDED };
void ext_check_manufacturer_fields(struct judge *j, const struct event *e);

enum { COUNTRY_LETTERS, COUNTRY_NUMBER, COUNTRY_RESERVED, COUNTRY_OTHER };
void ext_check_country_fields(struct judge *j, const struct event *e);

/* ext_objects.c: Source_Info, Revision, Alert */
enum { INFO_RESERVED, INFO_PRESENT, INFO_REPORTED, INFO_GUARANTEED };
void ext_check_source_info_fields(struct judge *j, const struct event *e);

enum { REVISION_NUMBER, REVISION_VERSION, REVISION_RESERVED, REVISION_HEADER };
void ext_check_revision_fields(struct judge *j, const struct event *e);

enum { ALERT_RESERVED, ALERT_NOTHING, ALERT_BATTERIES, ALERT_TYPE_MISSING, ALERT_TYPE_UNASKED };
void ext_check_alert_fields(struct judge *j, const struct event *e);

enum { FOLLOW_UP_LATE, FOLLOW_UP_NEVER };
enum { ALERTS_KEPT = 8 }; /* that wait for Get_Status; more: the newest takes the place of the one before */
struct open_alert { struct wire wire; };
struct alert_state { struct open_alert open[ALERTS_KEPT]; unsigned count; };
void ext_check_alert_answered(struct judge *j, const struct event *e);

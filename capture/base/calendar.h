/*
 * capture/base/calendar.h - days of the Gregorian calendar.
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

/* Days from 1970-01-01 to that day, of the years 1970 to 2200. False: there is no such day, *days is as it was. */
bool calendar_days(int64_t year, int64_t month, int64_t day, int64_t *days);

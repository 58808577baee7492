#include "capture/base/calendar.h"

/* Whole cycles of 400 years, years that begin in March so that the day of a leap year comes last, 153 days to five months. */
bool calendar_days(int64_t year, int64_t month, int64_t day, int64_t *days)
{
    static const int8_t month_days[] = { 31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
    bool                leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;

    if (year < 1970 || year > 2200 || month < 1 || month > 12 || day < 1 || day > month_days[month - 1] || (month == 2 && day == 29 && !leap))
        return false;
    int64_t from_march = (month + 9) % 12, y = year - (month < 3);

    *days = y * 365 + y / 4 - y / 100 + y / 400 + (from_march * 153 + 2) / 5 + day - 1 - 719468;
    return true;
}

#include "capture/about_read_inside.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

/* Where each reading stands in ABOUT "instrument" and where it goes. */
struct reading {
    const char *group, *key; /* group NULL: in the instrument itself */
    size_t      offset;
    uint32_t    given;
};
#define READING(group, key, member, bit) { group, key, offsetof(struct about_instrument, member), bit }
static const struct reading readings_all[] = {
    READING(NULL, "clock_ppm", clock_ppm, ABOUT_CLOCK_PPM),
    READING(NULL, "time_ns", time_ns, ABOUT_TIME_NS),
    READING(NULL, "host_time_ns", host_time_ns, ABOUT_HOST_TIME_NS),
    READING(NULL, "mark_time_ns", mark_time_ns, ABOUT_MARK_TIME_NS),
    READING(NULL, "align_ns", align_ns, ABOUT_ALIGN_NS),
    READING(NULL, "power_time_ns", power_time_ns, ABOUT_POWER_TIME_NS),
    READING(NULL, "power_clock_ppm", power_clock_ppm, ABOUT_POWER_CLOCK_PPM),
    READING("volt", "gain_ppm", volt.gain_ppm, ABOUT_VOLT_GAIN),
    READING("volt", "offset_uv", volt.offset_uv, ABOUT_VOLT_OFFSET),
    READING("volt", "noise_uv", volt.noise_uv, ABOUT_VOLT_NOISE),
    READING("volt", "bandwidth_hz", volt.bandwidth_hz, ABOUT_VOLT_BANDWIDTH),
    READING("amp", "gain_ppm", amp.gain_ppm, ABOUT_AMP_GAIN),
    READING("amp", "offset_ua", amp.offset_ua, ABOUT_AMP_OFFSET),
    READING("amp", "noise_ua", amp.noise_ua, ABOUT_AMP_NOISE),
    READING("amp", "bandwidth_hz", amp.bandwidth_hz, ABOUT_AMP_BANDWIDTH),
};

struct word { const char *text; int value; };
static const struct word kinds_all[] = {
    { "source", ABOUT_SOURCE }, { "sink", ABOUT_SINK }, { "dual", ABOUT_DUAL }, { "input", ABOUT_INPUT }, { NULL, 0 },
};
static const struct word plugs_all[] = {
    { "receptacle", ABOUT_RECEPTACLE }, { "captive", ABOUT_CAPTIVE }, { "type_a", ABOUT_TYPE_A },
    { "other", ABOUT_PLUG_OTHER }, { NULL, 0 },
};
static const struct word places_all[] = { { "source", ABOUT_VOLT_SOURCE }, { "sink", ABOUT_VOLT_SINK }, { NULL, 0 } };

/* The number of a member; false if it is missing, none, negative or beyond a double. */
static bool number_read(const cJSON *object, const char *key, double *value)
{
    const cJSON *m = cJSON_GetObjectItemCaseSensitive(object, key);

    if (!cJSON_IsNumber(m) || !isfinite(m->valuedouble) || m->valuedouble < 0)
        return false;
    *value = m->valuedouble;
    return true;
}

void about_instrument_read(const cJSON *json, struct about_instrument *out)
{
    if (!cJSON_IsObject(json))
        return;
    for (size_t i = 0; i < sizeof readings_all / sizeof readings_all[0]; i++) {
        const struct reading *r = &readings_all[i];
        const cJSON          *object = r->group ? cJSON_GetObjectItemCaseSensitive(json, r->group) : json;
        double                value;

        if (!cJSON_IsObject(object) || !number_read(object, r->key, &value))
            continue;
        memcpy((char *)out + r->offset, &value, sizeof value);
        out->given |= r->given;
    }
    const cJSON *sampling = cJSON_GetObjectItemCaseSensitive(json, "sampling");

    if (cJSON_IsString(sampling))
        out->mean_sampling = strcmp(sampling->valuestring, "mean") == 0;
}

void about_port_clear(struct about_port *out)
{
    *out = (struct about_port){ .rated_mw = -1, .path_mohm = -1, .path_mohm_u = -1 };
}

int about_port_number(const cJSON *entry)
{
    double port;

    if (!cJSON_IsObject(entry) || !number_read(entry, "port", &port) || port >= (int)RECORD_PORT_BENCH || port != (int)port)
        return -1;
    return (int)port;
}

/* The value of the member's word, or otherwise if it is missing or no word of the list. */
static int word_read(const cJSON *entry, const char *key, const struct word *words, int otherwise)
{
    const cJSON *m = cJSON_GetObjectItemCaseSensitive(entry, key);

    for (; cJSON_IsString(m) && words->text; words++) {
        if (strcmp(m->valuestring, words->text) == 0)
            return words->value;
    }
    return otherwise;
}

/* As much of a name as there is room for, whole characters. */
static void name_copy(const char *from, char *out, size_t cap)
{
    size_t n = strlen(from);

    if (n >= cap) {
        n = cap - 1;
        while (n > 0 && ((unsigned char)from[n] & 0xC0) == 0x80)
            n--;
    }
    memcpy(out, from, n);
    out[n] = '\0';
}

void about_port_read(const cJSON *entry, struct about_port *out)
{
    const cJSON *name = cJSON_GetObjectItemCaseSensitive(entry, "name");
    int          kind = word_read(entry, "kind", kinds_all, -1);
    double       rated_w;

    about_port_clear(out);
    out->listed = true;
    if (cJSON_IsString(name))
        name_copy(name->valuestring, out->name, sizeof out->name);
    out->kind_given = kind >= 0;
    out->kind = kind >= 0 ? (enum about_kind)kind : ABOUT_SOURCE;
    out->plug = (enum about_plug)word_read(entry, "plug", plugs_all, ABOUT_PLUG_UNKNOWN);
    out->volt_at = (enum about_volt_at)word_read(entry, "volt_at", places_all, ABOUT_VOLT_UNKNOWN);
    number_read(entry, "path_mohm", &out->path_mohm);
    number_read(entry, "path_mohm_u", &out->path_mohm_u);
    if (number_read(entry, "rated_w", &rated_w) && rated_w * 1000 + 0.5 < INT32_MAX)
        out->rated_mw = (int32_t)(rated_w * 1000 + 0.5);
}

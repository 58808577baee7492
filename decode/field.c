/* Which layout a word has, and its fields as numbers. The rows stand in fields_*.c. */
#include "decode/field.h"

#include "decode/field_inside.h"
#include "decode/message.h"

#include <string.h>

static const struct object_layout *const layouts[OBJECT_KINDS] = {
    [OBJECT_SOURCE_FIXED_FIRST] = &layout_source_fixed_first,
    [OBJECT_SOURCE_FIXED] = &layout_source_fixed,
    [OBJECT_SOURCE_BATTERY] = &layout_source_battery,
    [OBJECT_SOURCE_VARIABLE] = &layout_source_variable,
    [OBJECT_SOURCE_PPS] = &layout_source_pps,
    [OBJECT_SOURCE_EPR_AVS] = &layout_source_epr_avs,
    [OBJECT_SOURCE_SPR_AVS] = &layout_source_spr_avs,
    [OBJECT_SINK_FIXED_FIRST] = &layout_sink_fixed_first,
    [OBJECT_SINK_FIXED] = &layout_sink_fixed,
    [OBJECT_SINK_BATTERY] = &layout_sink_battery,
    [OBJECT_SINK_VARIABLE] = &layout_sink_variable,
    [OBJECT_SINK_PPS] = &layout_sink_pps,
    [OBJECT_SINK_EPR_AVS] = &layout_sink_epr_avs,
    [OBJECT_SINK_SPR_AVS] = &layout_sink_spr_avs,
    [OBJECT_PDO_RESERVED] = &layout_pdo_reserved,
    [OBJECT_REQUEST_FIXED_VARIABLE] = &layout_request_fixed_variable,
    [OBJECT_REQUEST_BATTERY] = &layout_request_battery,
    [OBJECT_REQUEST_PPS] = &layout_request_pps,
    [OBJECT_REQUEST_AVS] = &layout_request_avs,
    [OBJECT_REQUEST_UNKNOWN] = &layout_request_unknown,
    [OBJECT_EPR_MODE] = &layout_epr_mode,
    [OBJECT_EPR_MODE_ENTER] = &layout_epr_mode_enter,
    [OBJECT_EPR_MODE_FAILED] = &layout_epr_mode_failed,
    [OBJECT_SOURCE_INFO] = &layout_source_info,
    [OBJECT_SOURCE_INFO_SECOND] = &layout_source_info_second,
    [OBJECT_REVISION] = &layout_revision,
    [OBJECT_BATTERY_STATUS] = &layout_battery_status,
    [OBJECT_ALERT] = &layout_alert,
    [OBJECT_COUNTRY_CODE] = &layout_country_code,
    [OBJECT_BIST] = &layout_bist,
    [OBJECT_ENTER_USB] = &layout_enter_usb,
    [OBJECT_VDM_HEADER] = &layout_vdm_header,
    [OBJECT_VDM_UNSTRUCTURED] = &layout_vdm_unstructured,
    [OBJECT_ID_HEADER] = &layout_id_header,
    [OBJECT_ID_HEADER_CABLE] = &layout_id_header_cable,
    [OBJECT_CERT_STAT] = &layout_cert_stat,
    [OBJECT_PRODUCT] = &layout_product,
    [OBJECT_UFP] = &layout_ufp,
    [OBJECT_DFP] = &layout_dfp,
    [OBJECT_PASSIVE_CABLE] = &layout_passive_cable,
    [OBJECT_ACTIVE_CABLE_1] = &layout_active_cable_1,
    [OBJECT_ACTIVE_CABLE_2] = &layout_active_cable_2,
    [OBJECT_CABLE_R2] = &layout_cable_r2,
    [OBJECT_VPD] = &layout_vpd,
    [OBJECT_AMA] = &layout_ama,
    [OBJECT_PSD] = &layout_psd,
    [OBJECT_SVIDS] = &layout_svids,
    [OBJECT_MODE] = &layout_mode,
    [OBJECT_RAW] = &layout_raw,
};

const struct object_layout *object_layout(unsigned kind)
{
    return kind < OBJECT_KINDS ? layouts[kind] : &layout_raw;
}

uint32_t field_raw(const struct field *f, uint32_t word)
{
    return word >> f->low & (uint32_t)((UINT64_C(1) << f->bits) - 1); /* bits may be 32 */
}

int64_t field_scaled(const struct field *f, uint32_t word)
{
    return (int64_t)field_raw(f, word) * f->step;
}

bool field_put(const struct object_layout *l, const char *key, int64_t value, uint32_t *word)
{
    for (unsigned k = 0; k < l->count; k++) {
        const struct field *f = &l->fields[k];
        uint64_t            most = (UINT64_C(1) << f->bits) - 1;

        if (!f->key || strcmp(f->key, key) != 0)
            continue;
        if (value < 0 || (uint64_t)value / f->step > most)
            return false;
        *word = (uint32_t)((*word & ~(most << f->low)) | (uint64_t)value / f->step << f->low);
        return true;
    }
    return false;
}

const char *value_name_of(const struct field_value_name *names, uint64_t raw)
{
    for (const struct field_value_name *v = names; v && v->name; v++)
        if (v->value == raw)
            return v->name;
    return NULL;
}

const char *field_name_of(const struct field *f, uint32_t raw)
{
    return value_name_of(f->names, raw);
}

enum object_kind object_kind_of_pdo(uint32_t word, bool sink, bool first)
{
    /* By bits 31:28; only augmented objects (11) look at the lower two. */
    static const enum object_kind kinds[2][7] = {
        { OBJECT_SOURCE_FIXED, OBJECT_SOURCE_BATTERY, OBJECT_SOURCE_VARIABLE, OBJECT_SOURCE_PPS,
          OBJECT_SOURCE_EPR_AVS, OBJECT_SOURCE_SPR_AVS, OBJECT_PDO_RESERVED },
        { OBJECT_SINK_FIXED, OBJECT_SINK_BATTERY, OBJECT_SINK_VARIABLE, OBJECT_SINK_PPS,
          OBJECT_SINK_EPR_AVS, OBJECT_SINK_SPR_AVS, OBJECT_PDO_RESERVED },
    };
    uint32_t type = word >> 30;

    if (type == 0 && first)
        return sink ? OBJECT_SINK_FIXED_FIRST : OBJECT_SOURCE_FIXED_FIRST;
    return kinds[sink ? 1 : 0][type == 3 ? 3 + (word >> 28 & 3) : type];
}

enum object_kind object_kind_of_data(unsigned data_type, unsigned k)
{
    if (data_type == DATA_SOURCE_INFO && k == 1)
        return OBJECT_SOURCE_INFO_SECOND;
    if (k > 0)
        return OBJECT_RAW; /* BIST test data; what is beyond the table */
    switch (data_type) {
    case DATA_EPR_MODE:         return OBJECT_EPR_MODE;
    case DATA_SOURCE_INFO:      return OBJECT_SOURCE_INFO;
    case DATA_REVISION:         return OBJECT_REVISION;
    case DATA_BATTERY_STATUS:   return OBJECT_BATTERY_STATUS;
    case DATA_ALERT:            return OBJECT_ALERT;
    case DATA_GET_COUNTRY_INFO: return OBJECT_COUNTRY_CODE;
    case DATA_BIST:             return OBJECT_BIST;
    case DATA_ENTER_USB:        return OBJECT_ENTER_USB;
    default:                    return OBJECT_RAW;
    }
}

enum object_kind object_kind_of_epr_mode(uint32_t word)
{
    enum { ACTION_ENTER = 1, ACTION_FAILED = 4 };

    switch (word >> 24) {
    case ACTION_ENTER:  return OBJECT_EPR_MODE_ENTER;
    case ACTION_FAILED: return OBJECT_EPR_MODE_FAILED;
    default:            return OBJECT_EPR_MODE;
    }
}

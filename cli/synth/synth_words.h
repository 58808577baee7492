/*
 * cli/synth/synth_words.h - words of the standard: message types, objects, requests; the model's own, typed from the layouts named.
 *
 *   _mv _ma _mw _w  millivolt, milliampere, milliwatt, watt
 */
#pragma once
#include <stdbool.h>
#include <stdint.h>

/* Message types: Linux include/linux/usb/pd.h, Zephyr usbc_pd.h, Chromium EC include/usb_pd.h. */
enum { C_GOODCRC = 1, C_GOTOMIN, C_ACCEPT, C_REJECT, C_PING, C_PS_RDY, C_GET_SOURCE_CAP, C_GET_SINK_CAP, C_DR_SWAP, C_PR_SWAP, C_VCONN_SWAP,
       C_WAIT, C_SOFT_RESET, C_DATA_RESET, C_DATA_RESET_COMPLETE, C_NOT_SUPPORTED, C_GET_SOURCE_CAP_EXTENDED, C_GET_STATUS, C_FR_SWAP,
       C_GET_PPS_STATUS, C_GET_COUNTRY_CODES, C_GET_SINK_CAP_EXTENDED, C_GET_SOURCE_INFO, C_GET_REVISION };
enum { D_SOURCE_CAPABILITIES = 1, D_REQUEST, D_BIST, D_SINK_CAPABILITIES, D_BATTERY_STATUS, D_ALERT, D_GET_COUNTRY_INFO, D_ENTER_USB,
       D_EPR_REQUEST, D_EPR_MODE, D_SOURCE_INFO, D_REVISION, D_VENDOR_DEFINED = 15 };
enum { E_SOURCE_CAPABILITIES_EXTENDED = 1, E_STATUS, E_GET_BATTERY_CAP, E_GET_BATTERY_STATUS, E_BATTERY_CAPABILITIES, E_GET_MANUFACTURER_INFO,
       E_MANUFACTURER_INFO, E_SECURITY_REQUEST, E_SECURITY_RESPONSE, E_FIRMWARE_REQUEST, E_FIRMWARE_RESPONSE, E_PPS_STATUS,
       E_COUNTRY_INFO, E_COUNTRY_CODES, E_SINK_CAPABILITIES_EXTENDED, E_EXTENDED_CONTROL, E_EPR_SOURCE_CAPABILITIES,
       E_EPR_SINK_CAPABILITIES, E_VENDOR_DEFINED_EXTENDED = 30 };
enum { EC_EPR_GET_SOURCE_CAP = 1, EC_EPR_GET_SINK_CAP, EC_EPR_KEEPALIVE, EC_EPR_KEEPALIVE_ACK };
enum { EPR_ENTER = 1, EPR_ENTER_ACKNOWLEDGED, EPR_ENTER_SUCCEEDED, EPR_ENTER_FAILED, EPR_EXIT };

/* Flags of the first fixed object of a source: the same layouts. */
#define PDO_DUAL_POWER (UINT32_C(1) << 29)
#define PDO_SUSPEND (UINT32_C(1) << 28)
#define PDO_UNCONSTRAINED (UINT32_C(1) << 27)
#define PDO_USB_COMM (UINT32_C(1) << 26)
#define PDO_DUAL_DATA (UINT32_C(1) << 25)
#define PDO_UNCHUNKED (UINT32_C(1) << 24)
#define PDO_EPR (UINT32_C(1) << 23)
#define PDO_PPS_LIMITED (UINT32_C(1) << 27)
#define PDO_PEAK (UINT32_C(3) << 20) /* of any fixed object */
#define PDO_HIGHER (UINT32_C(1) << 28) /* of a sink */
#define PDO_FAST_3A (UINT32_C(3) << 23) /* of a sink: what it needs after a fast role swap */

uint32_t pdo_fixed(int32_t mv, int32_t ma);
uint32_t pdo_battery(int32_t min_mv, int32_t max_mv, int32_t mw);
uint32_t pdo_variable(int32_t min_mv, int32_t max_mv, int32_t ma);
uint32_t pdo_pps(int32_t min_mv, int32_t max_mv, int32_t ma);
uint32_t pdo_spr_avs(int32_t ma_15v, int32_t ma_20v);
uint32_t pdo_epr_avs(int32_t min_mv, int32_t max_mv, int32_t watts);

enum supply { SUPPLY_FIXED, SUPPLY_BATTERY, SUPPLY_VARIABLE, SUPPLY_PPS, SUPPLY_EPR_AVS, SUPPLY_SPR_AVS, SUPPLY_RESERVED };
enum supply pdo_supply(uint32_t word);
int32_t pdo_min_mv(uint32_t word); /* fixed: its voltage; SPR AVS: 9 V */
int32_t pdo_max_mv(uint32_t word); /* SPR AVS: 15 V, or 20 V where it offers current there */
/* The most current it gives at this voltage (battery: at its least voltage), in its own steps rounded down. */
int32_t pdo_max_ma(uint32_t word, int32_t mv);
int32_t pdo_max_mw(uint32_t word); /* battery */
/* The same object with no more than so much current. */
uint32_t pdo_capped(uint32_t word, int32_t ma);

#define RDO_MISMATCH (UINT32_C(1) << 26)
#define RDO_USB_COMM (UINT32_C(1) << 25)
#define RDO_NO_SUSPEND (UINT32_C(1) << 24)
#define RDO_UNCHUNKED (UINT32_C(1) << 23)
#define RDO_EPR (UINT32_C(1) << 22)
/* Operating and maximum in the steps of the object: 10 mA, 250 mW. */
uint32_t asking_fixed(unsigned position, int32_t ma, int32_t max_ma);
uint32_t asking_battery(unsigned position, int32_t mw, int32_t max_mw);
uint32_t asking_pps(unsigned position, int32_t mv, int32_t ma);
uint32_t asking_avs(unsigned position, int32_t mv, int32_t ma);
unsigned asking_position(uint32_t word);
int32_t  asking_mv(uint32_t word, uint32_t pdo); /* what VBUS is to be */
int32_t  asking_ma(uint32_t word, uint32_t pdo);
int32_t  asking_most_ma(uint32_t word, uint32_t pdo); /* Maximum Operating Current; battery: at the object's highest voltage, as asking_ma */

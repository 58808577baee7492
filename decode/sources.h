/*
 * decode/sources.h - where a fact was seen, in words, for the source columns of the tables.
 *
 * The standard itself was not at hand when the tables were written: a row names the published code or text that
 * shows the same number. FROM_MEMORY: nobody checked it against a text. SECONDARY: one note about the standard.
 */
#pragma once

#define FROM_LINUX "Linux include/linux/usb/pd.h"
#define FROM_LINUX_VDO "Linux include/linux/usb/pd_vdo.h"
#define FROM_LINUX_ADO "Linux include/linux/usb/pd_ado.h"
#define FROM_LINUX_BDO "Linux include/linux/usb/pd_bdo.h"
#define FROM_LINUX_SDB "Linux include/linux/usb/pd_ext_sdb.h"
#define FROM_LINUX_LIST "linux-usb mailing list, patches of 2025-10 to 2026-03"
#define FROM_ZEPHYR "Zephyr usbc_pd.h (PD R3.0 V2.0 and R3.1 V1.6 table numbers)"
#define FROM_CHROMIUM "Chromium EC include/usb_pd.h"
#define FROM_CHROMIUM_VDO "Chromium EC include/usb_pd_vdo.h"
#define FROM_CHROMIUM_LINE "Chromium EC include/usb_pd.h, common/usb_pd_tcpc.c and chip/stm32/ucpd-stm32gx.h"
#define FROM_INFINEON "Infineon cy_pdstack_common.h and cy_usbpd_defines.h"
#define FROM_ONSEMI "onsemi PD firmware pd_types.h"
#define FROM_FUCHSIA "Fuchsia usb-pd-message-objects.h (PD R3.1 V1.7 sections)"
#define FROM_MICROCHIP "Microchip PD software framework headers"
#define FROM_ARTICLE "public article CSDN 134421370"
#define FROM_MEMORY "from memory"
#define SECONDARY "secondary: notes on PD R3.2 V1.2"

/*
 * rules/vdm_words.h - Vendor_Defined messages as numbers: the structured header, and what an answer to Discover Identity holds.
 * For the rules of the groups cable, vdm and ext.
 */
#pragma once
#include "decode/field.h"
#include "decode/port.h"

/* Structured VDM header: Linux include/linux/usb/pd_vdo.h, Chromium EC include/usb_pd.h. */
enum { VDM_SID_PD = 0xFF00 };
enum vdm_command {
    VDM_DISCOVER_IDENTITY = 1, VDM_DISCOVER_SVIDS, VDM_DISCOVER_MODES, VDM_ENTER_MODE, VDM_EXIT_MODE, VDM_ATTENTION,
    VDM_OF_SVID = 16, /* 16 to 31 belong to the SVID */
};
enum vdm_type { VDM_REQ, VDM_ACK, VDM_NAK, VDM_BUSY };
static inline bool vdm_structured(uint32_t header) { return header >> 15 & 1; }
static inline unsigned vdm_svid(uint32_t header) { return header >> 16; }
static inline unsigned vdm_major(uint32_t header) { return header >> 13 & 3; } /* 0: structured VDM 1.0, 1: 2.x */
static inline unsigned vdm_position(uint32_t header) { return header >> 8 & 7; }
static inline unsigned vdm_type(uint32_t header) { return header >> 6 & 3; }
static inline unsigned vdm_command(uint32_t header) { return header & 31; }

/* Words of an answer to Discover Identity, and product types: Linux include/linux/usb/pd_vdo.h, Chromium EC. */
enum { IDENTITY_HEADER = 1, IDENTITY_TYPES = 4 }; /* place of the ID Header, and of the first object of a product type */
enum cable_product { CABLE_PASSIVE = 3, CABLE_ACTIVE = 4, CABLE_VPD = 6 };
enum ufp_product { UFP_NONE, UFP_HUB, UFP_PERIPHERAL, UFP_PSD, UFP_AMA = 5 };
enum dfp_product { DFP_NONE, DFP_HUB, DFP_HOST, DFP_BRICK };
static inline unsigned identity_product(uint32_t id_header) { return id_header >> 27 & 7; } /* SOP: of the UFP; SOP': of the plug */
static inline unsigned identity_dfp(uint32_t id_header) { return id_header >> 23 & 7; }
static inline unsigned identity_vid(uint32_t id_header) { return id_header & 0xFFFF; }

/* Is this message an answer to Discover Identity that gives one? */
bool speech_is_identity(const struct speech *s);
/* The same as the port model keeps it. */
struct identity identity_of(const struct speech *s);
/* Which of the word's bits that this kind of object leaves reserved are 1. */
uint32_t object_reserved_set(enum object_kind kind, uint32_t word);

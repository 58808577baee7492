/*
 * decode/message.h - one PD packet: message header, class, type, extended header, CRC.
 *
 * Header layout: USB PD message header, as in Linux include/linux/usb/pd.h and Zephyr usbc_pd.h.
 * Nothing is copied: body points into the packet. Unknown types stay numbers.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum ordered_set { SET_SOP, SET_SOP1, SET_SOP2, SET_SOP1_DEBUG, SET_SOP2_DEBUG };
enum crc_state { CRC_GOOD, CRC_BAD, CRC_ABSENT };
enum message_class { CLASS_CONTROL, CLASS_DATA, CLASS_EXTENDED };
enum header_revision { HEADER_R1, HEADER_R2, HEADER_R3, HEADER_RESERVED };

/* Index of a message over the three classes: class * 32 + type. */
enum { MESSAGE_INDEXES = 96 };
#define MESSAGE_INDEX(message_class, type) ((message_class) * 32 + (type))

enum control_type {
    CONTROL_GOODCRC = 1, CONTROL_GOTOMIN, CONTROL_ACCEPT, CONTROL_REJECT, CONTROL_PING, CONTROL_PS_RDY,
    CONTROL_GET_SOURCE_CAP, CONTROL_GET_SINK_CAP, CONTROL_DR_SWAP, CONTROL_PR_SWAP, CONTROL_VCONN_SWAP,
    CONTROL_WAIT, CONTROL_SOFT_RESET, CONTROL_DATA_RESET, CONTROL_DATA_RESET_COMPLETE, CONTROL_NOT_SUPPORTED,
    CONTROL_GET_SOURCE_CAP_EXTENDED, CONTROL_GET_STATUS, CONTROL_FR_SWAP, CONTROL_GET_PPS_STATUS,
    CONTROL_GET_COUNTRY_CODES, CONTROL_GET_SINK_CAP_EXTENDED, CONTROL_GET_SOURCE_INFO, CONTROL_GET_REVISION,
};
enum data_type {
    DATA_SOURCE_CAPABILITIES = 1, DATA_REQUEST, DATA_BIST, DATA_SINK_CAPABILITIES, DATA_BATTERY_STATUS, DATA_ALERT,
    DATA_GET_COUNTRY_INFO, DATA_ENTER_USB, DATA_EPR_REQUEST, DATA_EPR_MODE, DATA_SOURCE_INFO, DATA_REVISION,
    DATA_VENDOR_DEFINED = 15,
};
enum extended_type {
    EXTENDED_SOURCE_CAPABILITIES = 1, EXTENDED_STATUS, EXTENDED_GET_BATTERY_CAP, EXTENDED_GET_BATTERY_STATUS,
    EXTENDED_BATTERY_CAPABILITIES, EXTENDED_GET_MANUFACTURER_INFO, EXTENDED_MANUFACTURER_INFO,
    EXTENDED_SECURITY_REQUEST, EXTENDED_SECURITY_RESPONSE, EXTENDED_FIRMWARE_UPDATE_REQUEST,
    EXTENDED_FIRMWARE_UPDATE_RESPONSE, EXTENDED_PPS_STATUS, EXTENDED_COUNTRY_INFO, EXTENDED_COUNTRY_CODES,
    EXTENDED_SINK_CAPABILITIES, EXTENDED_CONTROL, EXTENDED_EPR_SOURCE_CAPABILITIES,
    EXTENDED_EPR_SINK_CAPABILITIES, EXTENDED_VENDOR_DEFINED = 30,
};

/* Since which revision a message exists. */
enum since { SINCE_R1, SINCE_R2, SINCE_R30, SINCE_R31, SINCE_R32 };
/* Who may send it on SOP; DRP: the port of the other role, if it is dual-role and was asked. CABLE: on SOP'/SOP''. */
enum sender { SENDER_SOURCE = 1, SENDER_SINK = 2, SENDER_CABLE = 4, SENDER_SOURCE_DRP = 8, SENDER_SINK_DRP = 16, SENDER_DFP = 32 };

/* One row of the message tables. name NULL: reserved. */
struct message_kind {
    const char *name;                     /* the standard's, underscores for blanks */
    uint8_t     senders;                  /* enum sender, or'ed */
    uint8_t     since;                    /* enum since */
    uint8_t     objects_min, objects_max; /* data messages: number of data objects allowed */
    uint8_t     objects_step;             /* ... going up from the least by this; 0: by one */
    uint16_t    size_min, size_max;       /* extended messages: data size allowed (all revisions, SOP) */
    uint8_t     size_step;                /* ... going up from the least by this; 0: by one */
    uint8_t     cable_size;               /* the one size allowed on SOP' and SOP'' where it differs, else 0 */
    bool        on_cable;                 /* may appear on SOP' and SOP'' */
    const char *source;                   /* where the row's facts were seen */
    const char *senders_source;           /* where the sender columns were seen: mostly "from memory" */
};
/* Row of an index; never NULL: a reserved number's row has name NULL. */
const struct message_kind *message_kind(unsigned index);
/* Does the table allow n data objects (data messages), a data size of n bytes (extended messages)? */
bool message_objects_allowed(const struct message_kind *kind, unsigned n);
bool message_size_allowed(const struct message_kind *kind, unsigned n, bool on_cable);
/* Number of a name like "Source_Capabilities" (case counts), or -1. */
int message_index_of(const char *name);
const char *ordered_set_name(unsigned set); /* SOP SOP' SOP'' SOP'_Debug SOP''_Debug */
const char *header_revision_name(unsigned revision); /* 1.0 2.0 3.x reserved */
const char *since_name(unsigned since); /* 1.0 2.0 3.0 3.1 3.2 */

struct message {
    uint16_t header;
    uint8_t  set;            /* enum ordered_set */
    uint8_t  crc;            /* enum crc_state */
    uint8_t  index;          /* MESSAGE_INDEX(class, type) */
    uint8_t  message_class;  /* enum message_class */
    uint8_t  type;           /* bits 4:0 of the header */
    uint8_t  id;             /* MessageID */
    uint8_t  revision;       /* enum header_revision */
    uint8_t  objects;        /* bits 14:12 */
    bool     power_bit;      /* bit 8: SOP 1 = source; SOP'/SOP'' 1 = cable plug */
    bool     data_bit;       /* bit 5: 1 = DFP (SOP only) */
    bool     truncated;      /* the instrument says so */
    bool     crc_flag;       /* the instrument calls the CRC bad */
    bool     has_extended_header;
    uint16_t extended_header;
    bool     chunked, request_chunk;
    uint8_t  chunk;
    uint16_t data_size;
    uint16_t length;         /* bytes after the message header, CRC excluded (extended header included) */
    const uint8_t *body;     /* after the message header, and after the extended header if there is one */
    uint16_t body_length;    /* CRC excluded */
    const uint8_t *raw;      /* the message header's first byte */
    uint16_t raw_length;     /* header to the last byte before the CRC */
};

/*
 * Reads a packet as it stands in a PD_PACKET record: bytes from the message header on, state as there (RECORD_CRC_BAD ...).
 * Fields are filled as far as bytes are there, also when the CRC is bad. False if there are not even two bytes.
 * crc: good if it fits and the instrument does not object; absent with NO_CRC or TRUNCATED.
 */
bool message_read(const uint8_t *bytes, size_t length, uint8_t set, uint8_t state, struct message *m);

/* Word k of the body (32 bit, little endian); 0 beyond its end. */
uint32_t message_word(const struct message *m, unsigned k);
unsigned message_words(const struct message *m); /* whole words in the body, at most 7 (65 unchunked) */

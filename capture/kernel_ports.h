/*
 * capture/kernel_ports.h - what Linux tells of its own Type-C ports in /sys/class/typec and /sys/class/usb_power_delivery
 * (Documentation/ABI/testing/sysfs-class-typec and sysfs-class-usb_power_delivery; drivers/usb/typec/class.c, pd.c).
 *
 * Names of attributes and forms of values as in Linux 6.0 to 6.12; the adjustable supply as in the patch of October 2025. What a
 * kernel does not have, or does not know, is said to be unknown (-1, or an empty text), never made up.
 */
#pragma once
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { KERNEL_PORTS = 32, KERNEL_SUPPLIES = 16, KERNEL_NAME = 64, KERNEL_UNKNOWN = -1 };

enum kernel_supply_kind { KERNEL_FIXED, KERNEL_VARIABLE, KERNEL_BATTERY, KERNEL_PROGRAMMABLE, KERNEL_SPR_ADJUSTABLE };

/* One object of a list of capabilities. Numbers and flags that are not there: KERNEL_UNKNOWN. */
struct kernel_supply {
    uint8_t position; /* of the object, from 1; there may be holes: the kernel leaves out what it does not know */
    uint8_t kind;     /* enum kernel_supply_kind */
    int32_t mv, min_mv, max_mv, ma, mw, ma_9_15v, ma_15_20v;
    int32_t dual_role_power, usb_suspend, unconstrained, usb_comm, dual_role_data, unchunked, higher_capability, fr_swap, peak, limited;
};
struct kernel_caps {
    struct kernel_supply list[KERNEL_SUPPLIES]; /* by position */
    unsigned             count, left_out;       /* left_out: of a kind or place that is not known here */
};

enum kernel_attach { /* KERNEL_ATTACHED: the side is not told */
    KERNEL_NOTHING, KERNEL_ON_CC1, KERNEL_ON_CC2, KERNEL_ATTACHED, KERNEL_DEBUG_ACCESSORY, KERNEL_AUDIO_ACCESSORY,
};

/* What the power supply class tells of a port: what is drawn, or may be. KERNEL_UNKNOWN: not told. */
struct kernel_contract {
    bool    told;    /* the port has a power supply of its own */
    int32_t online;  /* 0: nothing; 1: a fixed voltage; 2: programmable (drivers/usb/typec/tcpm/tcpm.c) */
    int32_t mv, ma;  /* voltage_now, current_max */
};

struct kernel_port {
    char     name[KERNEL_NAME];          /* port0 */
    unsigned number;
    uint8_t  attach;                     /* enum kernel_attach */
    char     power_role[KERNEL_NAME], data_role[KERNEL_NAME]; /* the one that holds: source, sink; host, device */
    char     port_type[KERNEL_NAME];     /* source, sink, dual */
    char     operation[KERNEL_NAME];     /* default, 1.5A, 3.0A, usb_power_delivery */
    char     partner_revision[KERNEL_NAME], pd_revision[KERNEL_NAME]; /* "3.0"; of the partner, of its list of capabilities */
    char     cable_revision[KERNEL_NAME];
    int8_t   partner_pd;                 /* 1, 0: it speaks USB PD or does not */
    uint32_t identity[6];                /* ID Header, Cert Stat, Product, three product types; 0: not told */
    uint32_t cable_identity[6];
    struct kernel_contract contract;
    struct kernel_caps own_source, own_sink, partner_source, partner_sink;
};

/* Fills names with up to KERNEL_PORTS ports' names in the order of their numbers; how many. root: "" or a folder that stands for /. */
unsigned kernel_ports_list(const char *root, char names[KERNEL_PORTS][KERNEL_NAME]);
/* False: there is no such port (any more). */
bool kernel_port_read(const char *root, const char *name, struct kernel_port *port);

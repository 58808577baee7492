/* Structured Vendor_Defined messages: the header and the objects of Discover Identity, SVIDs and Modes. */
#include "decode/field_inside.h"

static const struct field_value_name svid_names[] = {
    VALUE(0xFF00, "PD SID"), VALUE(0xFF01, "DisplayPort"), VALUE(0x8087, "Thunderbolt"), VALUES_END,
};
static const struct field_value_name vdm_type_names[] = { VALUE(0, "unstructured"), VALUE(1, "structured"), VALUES_END };
static const struct field_value_name vdm_major_names[] = { VALUE(0, "1.0"), VALUE(1, "2.x"), VALUES_END };
static const struct field_value_name vdm_position_names[] = { VALUE(7, "all modes"), VALUES_END };
static const struct field_value_name vdm_command_type_names[] = {
    VALUE(0, "REQ"), VALUE(1, "ACK"), VALUE(2, "NAK"), VALUE(3, "BUSY"), VALUES_END,
};
/* 16 to 31 belong to the SVID. */
static const struct field_value_name vdm_command_names[] = {
    VALUE(1, "Discover Identity"), VALUE(2, "Discover SVIDs"), VALUE(3, "Discover Modes"), VALUE(4, "Enter Mode"),
    VALUE(5, "Exit Mode"), VALUE(6, "Attention"), VALUES_END,
};

static const struct field vdm_header[] = {
    NAMED("Standard or Vendor ID", "svid", 16, 16, UNIT_HEX, 1, svid_names),
    CODE("VDM Type", "vdm_type", 15, 1, vdm_type_names),
    CODE("Structured VDM Version Major", "version_major", 13, 2, vdm_major_names),
    NUMBER("Structured VDM Version Minor", "version_minor", 11, 2, UNIT_NONE, 1), /* SVDM 1.0: reserved */
    CODE("Object Position", "position", 8, 3, vdm_position_names),
    CODE("Command Type", "command_type", 6, 2, vdm_command_type_names),
    RESERVED(5, 1),
    CODE("Command", "command", 0, 5, vdm_command_names),
};
const struct object_layout layout_vdm_header = {
    "Structured VDM Header", "vdm_header", vdm_header, LENGTH(vdm_header),
    FROM_LINUX_VDO "; " FROM_CHROMIUM "; " FROM_INFINEON "; version minor in bits 12:11 not in Linux; version codes "
    FROM_MEMORY,
};

static const struct field vdm_unstructured[] = {
    NAMED("Vendor ID", "svid", 16, 16, UNIT_HEX, 1, svid_names),
    CODE("VDM Type", "vdm_type", 15, 1, vdm_type_names),
    NUMBER("Available for Vendor Use", "vendor_use", 0, 15, UNIT_HEX, 1),
};
const struct object_layout layout_vdm_unstructured = {
    "Unstructured VDM Header", "vdm_unstructured", vdm_unstructured, LENGTH(vdm_unstructured),
    FROM_LINUX_VDO "; " FROM_INFINEON,
};

static const struct field_value_name ufp_type_names[] = {
    VALUE(0, "not a UFP"), VALUE(1, "PDUSB hub"), VALUE(2, "PDUSB peripheral"), VALUE(3, "PSD"),
    VALUE(5, "Alternate Mode Adapter"), /* R2.0, R3.0 */
    VALUES_END,
};
static const struct field_value_name cable_type_names[] = {
    VALUE(0, "not a cable plug"), VALUE(3, "passive cable"), VALUE(4, "active cable"), VALUE(6, "VCONN-powered device"),
    VALUES_END,
};
static const struct field_value_name dfp_type_names[] = {
    VALUE(0, "not a DFP"), VALUE(1, "PDUSB hub"), VALUE(2, "PDUSB host"), VALUE(3, "power brick"), VALUES_END,
};
static const struct field_value_name connector_names[] = { VALUE(2, "receptacle"), VALUE(3, "plug"), VALUES_END };

/* Bits 25:21 are R3.x's (structured VDM version 2.0 on); before, zero. */
#define ID_HEADER_SOURCES FROM_LINUX_VDO "; " FROM_INFINEON "; product types " FROM_LINUX_VDO ", " FROM_CHROMIUM

static const struct field id_header[] = {
    FLAG("USB Communications Capable as USB Host", "usb_host", 31),
    FLAG("USB Communications Capable as USB Device", "usb_device", 30),
    CODE("SOP Product Type (UFP)", "ufp_type", 27, 3, ufp_type_names),
    FLAG("Modal Operation Supported", "modal", 26),
    CODE("SOP Product Type (DFP)", "dfp_type", 23, 3, dfp_type_names),
    CODE("Connector Type", "connector", 21, 2, connector_names),
    RESERVED(16, 5),
    NUMBER("USB Vendor ID", "vid", 0, 16, UNIT_HEX, 1),
};
const struct object_layout layout_id_header = {
    "ID Header VDO", "id_header", id_header, LENGTH(id_header), ID_HEADER_SOURCES,
};

static const struct field id_header_cable[] = {
    FLAG("USB Communications Capable as USB Host", "usb_host", 31),
    FLAG("USB Communications Capable as USB Device", "usb_device", 30),
    CODE("SOP' Product Type (Cable Plug or VPD)", "cable_type", 27, 3, cable_type_names),
    FLAG("Modal Operation Supported", "modal", 26),
    RESERVED(23, 3), /* no DFP in a plug */
    CODE("Connector Type", "connector", 21, 2, connector_names),
    RESERVED(16, 5),
    NUMBER("USB Vendor ID", "vid", 0, 16, UNIT_HEX, 1),
};
const struct object_layout layout_id_header_cable = {
    "ID Header VDO", "id_header_cable", id_header_cable, LENGTH(id_header_cable),
    ID_HEADER_SOURCES "; bits 25:23 reserved " FROM_MEMORY,
};

static const struct field cert_stat[] = {
    NUMBER("XID", "xid", 0, 32, UNIT_HEX, 1), /* R2.0: 19:0 */
};
const struct object_layout layout_cert_stat = {
    "Cert Stat VDO", "cert_stat", cert_stat, LENGTH(cert_stat), FROM_LINUX_VDO "; " FROM_INFINEON,
};

static const struct field product[] = {
    NUMBER("USB Product ID", "pid", 16, 16, UNIT_HEX, 1),
    NUMBER("bcdDevice", "bcd_device", 0, 16, UNIT_HEX, 1),
};
const struct object_layout layout_product = {
    "Product VDO", "product", product, LENGTH(product), FROM_LINUX_VDO "; " FROM_CHROMIUM_VDO "; " FROM_INFINEON,
};

static const struct field_value_name ufp_version_names[] = { VALUE(2, "1.2"), VALUE(3, "1.3"), VALUES_END };
static const struct field_value_name dfp_version_names[] = { VALUE(1, "1.1"), VALUE(2, "1.2"), VALUES_END };
static const struct field_value_name port_connector_names[] = {
    VALUE(2, "receptacle"), VALUE(3, "captive plug"), VALUES_END,
};
static const struct field_value_name vconn_power_names[] = {
    VALUE(0, "1 W"), VALUE(1, "1.5 W"), VALUE(2, "2 W"), VALUE(3, "3 W"), VALUE(4, "4 W"), VALUE(5, "5 W"),
    VALUE(6, "6 W"), VALUES_END,
};
/* 0 means yes. */
static const struct field_value_name inverted_names[] = { VALUE(0, "yes"), VALUE(1, "no"), VALUES_END };
static const struct field_value_name speed_names[] = {
    VALUE(0, "USB 2.0 only"), VALUE(1, "USB 3.2 Gen1"), VALUE(2, "USB 3.2 Gen2 and USB4 Gen2"), VALUE(3, "USB4 Gen3"),
    VALUE(4, "USB4 Gen4"), VALUES_END,
};

static const struct field ufp[] = {
    CODE("UFP VDO Version", "version", 29, 3, ufp_version_names),
    RESERVED(28, 1),
    FLAG("USB4 Device Capable", "usb4", 27),
    FLAG("USB 3.2 Device Capable", "usb3", 26),
    FLAG("USB 2.0 Device Capable (Billboard Only)", "usb2_billboard", 25),
    FLAG("USB 2.0 Device Capable", "usb2", 24),
    CODE("Connector Type (Legacy)", "connector", 22, 2, port_connector_names),
    RESERVED(11, 11),
    CODE("VCONN Power", "vconn_power", 8, 3, vconn_power_names),
    FLAG("VCONN Required", "vconn_required", 7),
    CODE("VBUS Required", "vbus_required", 6, 1, inverted_names),
    FLAG("Alternate Mode not Reconfiguring", "mode_not_reconfiguring", 5),
    FLAG("Alternate Mode Reconfiguring", "mode_reconfiguring", 4),
    FLAG("TBT3 Alternate Mode", "mode_tbt3", 3),
    CODE("USB Highest Speed", "speed", 0, 3, speed_names),
};
const struct object_layout layout_ufp = {
    "UFP VDO", "ufp", ufp, LENGTH(ufp),
    FROM_LINUX_VDO "; " FROM_INFINEON "; version 1.3 and USB4 Gen4 " FROM_MEMORY,
};

static const struct field dfp[] = {
    CODE("DFP VDO Version", "version", 29, 3, dfp_version_names),
    RESERVED(27, 2),
    FLAG("USB4 Host Capable", "usb4", 26),
    FLAG("USB 3.2 Host Capable", "usb3", 25),
    FLAG("USB 2.0 Host Capable", "usb2", 24),
    CODE("Connector Type (Legacy)", "connector", 22, 2, port_connector_names),
    RESERVED(5, 17),
    NUMBER("Port Number", "port_number", 0, 5, UNIT_NONE, 1),
};
const struct object_layout layout_dfp = {
    "DFP VDO", "dfp", dfp, LENGTH(dfp), FROM_LINUX_VDO "; " FROM_INFINEON "; version 1.2 " FROM_MEMORY,
};

static const struct field_value_name cable_version_names[] = { VALUE(0, "1.0"), VALUE(3, "1.3"), VALUES_END };
static const struct field_value_name vpd_version_names[] = { VALUE(0, "1.0"), VALUES_END };
static const struct field_value_name plug_names[] = { VALUE(2, "Type-C"), VALUE(3, "captive"), VALUES_END };
static const struct field_value_name plug_r2_names[] = {
    VALUE(0, "Type-A"), VALUE(1, "Type-B"), VALUE(2, "Type-C"), VALUE(3, "captive"), VALUES_END,
};
static const struct field_value_name latency_names[] = {
    VALUE(1, "under 10 ns (about 1 m)"), VALUE(2, "10 to 20 ns (about 2 m)"), VALUE(3, "20 to 30 ns (about 3 m)"),
    VALUE(4, "30 to 40 ns (about 4 m)"), VALUE(5, "40 to 50 ns (about 5 m)"), VALUE(6, "50 to 60 ns (about 6 m)"),
    VALUE(7, "60 to 70 ns (about 7 m)"), VALUE(8, "over 70 ns (over 7 m)"), VALUES_END,
};
static const struct field_value_name passive_termination_names[] = {
    VALUE(0, "VCONN not required"), VALUE(1, "VCONN required"), VALUES_END,
};
static const struct field_value_name active_termination_names[] = {
    VALUE(2, "one end active, VCONN required"), VALUE(3, "both ends active, VCONN required"), VALUES_END,
};
static const struct field_value_name termination_r2_names[] = {
    VALUE(0, "both ends passive, VCONN not required"), VALUE(1, "both ends passive, VCONN required"),
    VALUE(2, "one end active, VCONN required"), VALUE(3, "both ends active, VCONN required"), VALUES_END,
};
static const struct field_value_name max_vbus_names[] = {
    VALUE(0, "20 V"), VALUE(1, "30 V (deprecated)"), VALUE(2, "40 V (deprecated)"), VALUE(3, "50 V"), VALUES_END,
};
static const struct field_value_name current_names[] = { VALUE(1, "3 A"), VALUE(2, "5 A"), VALUES_END };
static const struct field_value_name current_r2_names[] = {
    VALUE(0, "default USB current"), VALUE(1, "3 A"), VALUE(2, "5 A"), VALUES_END,
};
static const struct field_value_name sbu_type_names[] = { VALUE(0, "passive"), VALUE(1, "active"), VALUES_END };

static const struct field passive_cable[] = {
    NUMBER("HW Version", "hardware", 28, 4, UNIT_NONE, 1),
    NUMBER("FW Version", "firmware", 24, 4, UNIT_NONE, 1),
    CODE("VDO Version", "version", 21, 3, cable_version_names),
    RESERVED(20, 1),
    CODE("Plug Type", "plug", 18, 2, plug_names),
    FLAG("EPR Capable", "epr_capable", 17), /* before R3.1: reserved */
    CODE("Cable Latency", "latency", 13, 4, latency_names),
    CODE("Cable Termination Type", "termination", 11, 2, passive_termination_names),
    CODE("Maximum VBUS Voltage", "max_vbus", 9, 2, max_vbus_names),
    RESERVED(7, 2),
    CODE("VBUS Current Handling Capability", "current", 5, 2, current_names),
    RESERVED(3, 2),
    CODE("USB Highest Speed", "speed", 0, 3, speed_names),
};
const struct object_layout layout_passive_cable = {
    "Passive Cable VDO", "passive_cable", passive_cable, LENGTH(passive_cable),
    FROM_LINUX_VDO "; " FROM_CHROMIUM_VDO "; EPR Capable: one public field table, " FROM_MEMORY
    " (Linux: reserved); 30 V and 40 V deprecated, USB4 Gen4 " FROM_MEMORY,
};

static const struct field active_cable_1[] = {
    NUMBER("HW Version", "hardware", 28, 4, UNIT_NONE, 1),
    NUMBER("FW Version", "firmware", 24, 4, UNIT_NONE, 1),
    CODE("VDO Version", "version", 21, 3, cable_version_names),
    RESERVED(20, 1),
    CODE("Plug Type", "plug", 18, 2, plug_names),
    FLAG("EPR Capable", "epr_capable", 17), /* before R3.1: reserved */
    CODE("Cable Latency", "latency", 13, 4, latency_names),
    CODE("Cable Termination Type", "termination", 11, 2, active_termination_names),
    CODE("Maximum VBUS Voltage", "max_vbus", 9, 2, max_vbus_names),
    CODE("SBU Supported", "sbu_supported", 8, 1, inverted_names),
    CODE("SBU Type", "sbu_type", 7, 1, sbu_type_names),
    CODE("VBUS Current Handling Capability", "current", 5, 2, current_names),
    FLAG("VBUS Through Cable", "vbus_through", 4),
    FLAG("SOP'' Controller Present", "sop2_controller", 3),
    CODE("USB Highest Speed", "speed", 0, 3, speed_names),
};
const struct object_layout layout_active_cable_1 = {
    "Active Cable VDO 1", "active_cable_1", active_cable_1, LENGTH(active_cable_1),
    FROM_LINUX_VDO "; " FROM_CHROMIUM_VDO "; EPR Capable: one public field table, " FROM_MEMORY
    " (Linux: reserved); 30 V and 40 V deprecated, USB4 Gen4 " FROM_MEMORY,
};

static const struct field_value_name u3_power_names[] = {
    VALUE(0, "over 10 mW"), VALUE(1, "5 to 10 mW"), VALUE(2, "1 to 5 mW"), VALUE(3, "0.5 to 1 mW"),
    VALUE(4, "0.2 to 0.5 mW"), VALUE(5, "50 to 200 uW"), VALUE(6, "under 50 uW"), VALUES_END,
};
static const struct field_value_name u3_to_u0_names[] = { VALUE(0, "direct"), VALUE(1, "through U3S"), VALUES_END };
static const struct field_value_name physical_names[] = { VALUE(0, "copper"), VALUE(1, "optical"), VALUES_END };
static const struct field_value_name element_names[] = { VALUE(0, "re-driver"), VALUE(1, "re-timer"), VALUES_END };
static const struct field_value_name lane_names[] = { VALUE(0, "one lane"), VALUE(1, "two lanes"), VALUES_END };
static const struct field_value_name generation_names[] = { VALUE(0, "Gen1"), VALUE(1, "Gen2 or higher"), VALUES_END };

static const struct field active_cable_2[] = {
    NUMBER("Maximum Operating Temperature", "max_operating_c", 24, 8, UNIT_CELSIUS, 1),
    NUMBER("Shutdown Temperature", "shutdown_c", 16, 8, UNIT_CELSIUS, 1),
    RESERVED(15, 1),
    CODE("U3/CLd Power", "u3_power", 12, 3, u3_power_names),
    CODE("U3 to U0 Transition Mode", "u3_to_u0", 11, 1, u3_to_u0_names),
    CODE("Physical Connection", "physical", 10, 1, physical_names),
    CODE("Active Element", "element", 9, 1, element_names),
    CODE("USB4 Supported", "usb4", 8, 1, inverted_names),
    NUMBER("USB 2.0 Hub Hops Consumed", "hub_hops", 6, 2, UNIT_NONE, 1),
    CODE("USB 2.0 Supported", "usb2", 5, 1, inverted_names),
    CODE("USB 3.2 Supported", "usb3", 4, 1, inverted_names),
    CODE("USB Lanes Supported", "lanes", 3, 1, lane_names),
    FLAG("Optically Isolated Active Cable", "optically_isolated", 2),
    FLAG("USB4 Asymmetric Mode Supported", "usb4_asymmetric", 1), /* late R3.1; before: reserved */
    CODE("USB Gen", "generation", 0, 1, generation_names),
};
const struct object_layout layout_active_cable_2 = {
    "Active Cable VDO 2", "active_cable_2", active_cable_2, LENGTH(active_cable_2),
    FROM_LINUX_VDO "; bit 1 " FROM_MEMORY " (Linux: reserved); lower ends of the U3/CLd power ranges " FROM_MEMORY,
};

static const struct field_value_name direction_names[] = { VALUE(0, "fixed"), VALUE(1, "configurable"), VALUES_END };
static const struct field_value_name signaling_r2_names[] = {
    VALUE(0, "USB 2.0 only"), VALUE(1, "USB 3.1 Gen1"), VALUE(2, "USB 3.1 Gen1 and Gen2"), VALUES_END,
};
static const struct field_value_name ama_signaling_names[] = {
    VALUE(0, "USB 2.0 only"), VALUE(1, "USB 3.1 Gen1"), VALUE(2, "USB 3.1 Gen1 and Gen2"),
    VALUE(3, "USB 2.0 billboard only"), VALUES_END,
};

static const struct field cable_r2[] = {
    NUMBER("HW Version", "hardware", 28, 4, UNIT_NONE, 1),
    NUMBER("FW Version", "firmware", 24, 4, UNIT_NONE, 1),
    RESERVED(20, 4),
    CODE("Plug Type", "plug", 18, 2, plug_r2_names),
    RESERVED(17, 1),
    CODE("Cable Latency", "latency", 13, 4, latency_names),
    CODE("Cable Termination Type", "termination", 11, 2, termination_r2_names),
    CODE("SSTX1 Directionality Support", "sstx1", 10, 1, direction_names),
    CODE("SSTX2 Directionality Support", "sstx2", 9, 1, direction_names),
    CODE("SSRX1 Directionality Support", "ssrx1", 8, 1, direction_names),
    CODE("SSRX2 Directionality Support", "ssrx2", 7, 1, direction_names),
    CODE("VBUS Current Handling Capability", "current", 5, 2, current_r2_names),
    FLAG("VBUS Through Cable", "vbus_through", 4),
    FLAG("SOP'' Controller Present", "sop2_controller", 3),
    CODE("USB Superspeed Signaling Support", "speed", 0, 3, signaling_r2_names),
};
const struct object_layout layout_cable_r2 = {
    "Cable VDO (2.0)", "cable_r2", cable_r2, LENGTH(cable_r2),
    FROM_LINUX_VDO "; termination names below 3 " FROM_MEMORY,
};

static const struct field_value_name through_current_names[] = { VALUE(0, "3 A"), VALUE(1, "5 A"), VALUES_END };

static const struct field vpd[] = {
    NUMBER("HW Version", "hardware", 28, 4, UNIT_NONE, 1),
    NUMBER("FW Version", "firmware", 24, 4, UNIT_NONE, 1),
    CODE("VDO Version", "version", 21, 3, vpd_version_names),
    RESERVED(17, 4),
    CODE("Maximum VBUS Voltage", "max_vbus", 15, 2, max_vbus_names),
    CODE("Charge Through Current Support", "through_current", 14, 1, through_current_names),
    RESERVED(13, 1),
    NUMBER("VBUS Impedance", "vbus_mohm", 7, 6, UNIT_MOHM, 2),
    NUMBER("Ground Impedance", "ground_mohm", 1, 6, UNIT_MOHM, 1),
    FLAG("Charge Through Support", "charge_through", 0),
};
const struct object_layout layout_vpd = {
    "VPD VDO", "vpd", vpd, LENGTH(vpd),
    FROM_LINUX_VDO "; charge-through current also " FROM_CHROMIUM_VDO "; units of the impedances " FROM_MEMORY,
};

static const struct field ama[] = {
    NUMBER("HW Version", "hardware", 28, 4, UNIT_NONE, 1),
    NUMBER("FW Version", "firmware", 24, 4, UNIT_NONE, 1),
    RESERVED(12, 12),
    CODE("SSTX1 Directionality Support", "sstx1", 11, 1, direction_names),
    CODE("SSTX2 Directionality Support", "sstx2", 10, 1, direction_names),
    CODE("SSRX1 Directionality Support", "ssrx1", 9, 1, direction_names),
    CODE("SSRX2 Directionality Support", "ssrx2", 8, 1, direction_names),
    CODE("VCONN Power", "vconn_power", 5, 3, vconn_power_names),
    FLAG("VCONN Required", "vconn_required", 4),
    FLAG("VBUS Required", "vbus_required", 3),
    CODE("USB Superspeed Signaling Support", "speed", 0, 3, ama_signaling_names),
};
const struct object_layout layout_ama = {
    "Alternate Mode Adapter VDO", "ama", ama, LENGTH(ama), FROM_LINUX_VDO,
};

/* What a power sink device sends as its product type VDO is not established: a number. */
static const struct field psd[] = {
    NUMBER("Product Type VDO", "value", 0, 32, UNIT_HEX, 1),
};
const struct object_layout layout_psd = {
    "Power Sink Device VDO", "psd", psd, LENGTH(psd), "no layout found in any source: a number as it was sent",
};

static const struct field svids[] = {
    NAMED("SVID", "svid_0", 16, 16, UNIT_HEX, 1, svid_names), /* 0 ends the list */
    NAMED("SVID", "svid_1", 0, 16, UNIT_HEX, 1, svid_names),
};
const struct object_layout layout_svids = {
    "Discover SVIDs VDO", "svids", svids, LENGTH(svids), FROM_LINUX_VDO,
};

static const struct field mode[] = {
    NUMBER("Mode", "mode", 0, 32, UNIT_HEX, 1), /* its bits belong to the SVID */
};
const struct object_layout layout_mode = {
    "Discover Modes VDO", "mode", mode, LENGTH(mode), FROM_LINUX_VDO " (commands); content belongs to the SVID",
};

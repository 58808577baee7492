/* Our side of the kernel's headers. The build names the files: KERNEL_PD_VDO_H includes pd.h beside it. */
#include "tests/decode/kernel_words.h"

#include "decode/message.h"

#include KERNEL_PD_VDO_H
#include KERNEL_PD_ADO_H
#include KERNEL_PD_BDO_H
#include KERNEL_PD_SDB_H

#define LENGTH(array) (sizeof(array) / sizeof(array)[0])

/* One function a field: get_NAME(word) is the kernel's expression. */
#define GET(name, expression) static uint32_t get_##name(uint32_t word) { return (uint32_t)(expression); }

GET(pdo_type, pdo_type(word))
GET(apdo_type, (uint32_t)pdo_type(word) << 2 | (uint32_t)pdo_apdo_type(word))
GET(dual_role, !!(word & PDO_FIXED_DUAL_ROLE))
GET(suspend, !!(word & PDO_FIXED_SUSPEND))
GET(higher_cap, !!(word & PDO_FIXED_HIGHER_CAP))
GET(extpower, !!(word & PDO_FIXED_EXTPOWER))
GET(pdo_usb_comm, !!(word & PDO_FIXED_USB_COMM))
GET(data_swap, !!(word & PDO_FIXED_DATA_SWAP))
GET(unchunk, !!(word & PDO_FIXED_UNCHUNK_EXT))
GET(frs, (word & PDO_FIXED_FRS_CURR_MASK) >> PDO_FIXED_FRS_CURR_SHIFT)
GET(fixed_mv, pdo_fixed_voltage(word))
GET(min_mv, pdo_min_voltage(word))
GET(max_mv, pdo_max_voltage(word))
GET(max_ma, pdo_max_current(word))
GET(max_mw, pdo_max_power(word))
GET(pps_min_mv, pdo_pps_apdo_min_voltage(word))
GET(pps_max_mv, pdo_pps_apdo_max_voltage(word))
GET(pps_max_ma, pdo_pps_apdo_max_current(word))

GET(rdo_index, rdo_index(word))
GET(give_back, !!(word & RDO_GIVE_BACK))
GET(mismatch, !!(word & RDO_CAP_MISMATCH))
GET(rdo_usb_comm, !!(word & RDO_USB_COMM))
GET(no_suspend, !!(word & RDO_NO_SUSPEND))
GET(op_ma, rdo_op_current(word))
GET(rdo_max_ma, rdo_max_current(word))
GET(op_mw, rdo_op_power(word))
GET(rdo_max_mw, rdo_max_power(word))
GET(prog_mv, ((word >> RDO_PROG_VOLT_SHIFT) & RDO_PROG_VOLT_MASK) * RDO_PROG_VOLT_MV_STEP)
GET(prog_ma, ((word >> RDO_PROG_CURR_SHIFT) & RDO_PROG_CURR_MASK) * RDO_PROG_CURR_MA_STEP)

GET(usb_mode, (word & EUDO_USB_MODE_MASK) >> EUDO_USB_MODE_SHIFT)
GET(usb4_drd, !!(word & EUDO_USB4_DRD))
GET(usb3_drd, !!(word & EUDO_USB3_DRD))
GET(eudo_speed, (word & EUDO_CABLE_SPEED_MASK) >> EUDO_CABLE_SPEED_SHIFT)
GET(eudo_type, (word & EUDO_CABLE_TYPE_MASK) >> EUDO_CABLE_TYPE_SHIFT)
GET(eudo_current, (word & EUDO_CABLE_CURRENT_MASK) >> EUDO_CABLE_CURRENT_SHIFT)
GET(pcie, !!(word & EUDO_PCIE_SUPPORT))
GET(dp, !!(word & EUDO_DP_SUPPORT))
GET(tbt, !!(word & EUDO_TBT_SUPPORT))
GET(host, !!(word & EUDO_HOST_PRESENT))

GET(bist, BDO_MODE_MASK(word) >> 28)
GET(ado_fixed, usb_pd_ado_fixed_batt(word))
GET(ado_hot, usb_pd_ado_hot_swap_batt(word))
GET(ado_battery, !!(usb_pd_ado_type(word) & USB_PD_ADO_TYPE_BATT_STATUS_CHANGE))
GET(ado_ocp, !!(usb_pd_ado_type(word) & USB_PD_ADO_TYPE_OCP))
GET(ado_otp, !!(usb_pd_ado_type(word) & USB_PD_ADO_TYPE_OTP))
GET(ado_condition, !!(usb_pd_ado_type(word) & USB_PD_ADO_TYPE_OP_COND_CHANGE))
GET(ado_input, !!(usb_pd_ado_type(word) & USB_PD_ADO_TYPE_SRC_INPUT_CHANGE))
GET(ado_ovp, !!(usb_pd_ado_type(word) & USB_PD_ADO_TYPE_OVP))

GET(vid, PD_VDO_VID(word))
GET(svdm, PD_VDO_SVDM(word))
GET(svdm_version, PD_VDO_SVDM_VER(word))
GET(opos, PD_VDO_OPOS(word))
GET(cmdt, PD_VDO_CMDT(word))
GET(cmd, PD_VDO_CMD(word))

GET(ptype, PD_IDH_PTYPE(word))
GET(modal, !!PD_IDH_MODAL_SUPP(word))
GET(dfp_ptype, PD_IDH_DFP_PTYPE(word))
GET(connector, PD_IDH_CONN_TYPE(word))
GET(idh_vid, PD_IDH_VID(word))
GET(xid, PD_CSTAT_XID(word))
GET(pid, PD_PRODUCT_PID(word))
GET(ufp_usb2, !!(PD_VDO_UFP_DEVCAP(word) & DEV_USB2_CAPABLE))
GET(ufp_billboard, !!(PD_VDO_UFP_DEVCAP(word) & DEV_USB2_BILLBOARD))
GET(ufp_usb3, !!(PD_VDO_UFP_DEVCAP(word) & DEV_USB3_CAPABLE))
GET(ufp_usb4, !!(PD_VDO_UFP_DEVCAP(word) & DEV_USB4_CAPABLE))
GET(dfp_usb2, !!(PD_VDO_DFP_HOSTCAP(word) & HOST_USB2_CAPABLE))
GET(dfp_usb3, !!(PD_VDO_DFP_HOSTCAP(word) & HOST_USB3_CAPABLE))
GET(dfp_usb4, !!(PD_VDO_DFP_HOSTCAP(word) & HOST_USB4_CAPABLE))
GET(plug, VDO_TYPEC_CABLE_TYPE(word))
GET(ama_vconn, PD_VDO_AMA_VCONN_REQ(word))
GET(ama_vbus, PD_VDO_AMA_VBUS_REQ(word))
GET(svid_0, PD_VDO_SVID_SVID0(word))
GET(svid_1, PD_VDO_SVID_SVID1(word))

/* The kernel knows three bits of the position, and 11 of a programmable voltage of 20 mV: the editions before EPR. */
enum { POSITIONS = 8, PROGRAMMABLE_MV = 2048 * 20 };

const struct kernel_field kernel_fields[] = {
    { OBJECT_SOURCE_FIXED_FIRST, "supply", 0, get_pdo_type },
    { OBJECT_SOURCE_FIXED_FIRST, "dual_role_power", 0, get_dual_role },
    { OBJECT_SOURCE_FIXED_FIRST, "usb_suspend", 0, get_suspend },
    { OBJECT_SOURCE_FIXED_FIRST, "unconstrained", 0, get_extpower },
    { OBJECT_SOURCE_FIXED_FIRST, "usb_comm", 0, get_pdo_usb_comm },
    { OBJECT_SOURCE_FIXED_FIRST, "dual_role_data", 0, get_data_swap },
    { OBJECT_SOURCE_FIXED_FIRST, "unchunked", 0, get_unchunk },
    { OBJECT_SOURCE_FIXED_FIRST, "mv", 0, get_fixed_mv },
    { OBJECT_SOURCE_FIXED_FIRST, "ma", 0, get_max_ma },
    { OBJECT_SOURCE_FIXED, "supply", 0, get_pdo_type },
    { OBJECT_SOURCE_FIXED, "mv", 0, get_fixed_mv },
    { OBJECT_SOURCE_FIXED, "ma", 0, get_max_ma },
    { OBJECT_SOURCE_BATTERY, "supply", 0, get_pdo_type },
    { OBJECT_SOURCE_BATTERY, "min_mv", 0, get_min_mv },
    { OBJECT_SOURCE_BATTERY, "max_mv", 0, get_max_mv },
    { OBJECT_SOURCE_BATTERY, "mw", 0, get_max_mw },
    { OBJECT_SOURCE_VARIABLE, "supply", 0, get_pdo_type },
    { OBJECT_SOURCE_VARIABLE, "min_mv", 0, get_min_mv },
    { OBJECT_SOURCE_VARIABLE, "max_mv", 0, get_max_mv },
    { OBJECT_SOURCE_VARIABLE, "ma", 0, get_max_ma },
    { OBJECT_SOURCE_PPS, "supply", 0, get_apdo_type },
    { OBJECT_SOURCE_PPS, "min_mv", 0, get_pps_min_mv },
    { OBJECT_SOURCE_PPS, "max_mv", 0, get_pps_max_mv },
    { OBJECT_SOURCE_PPS, "ma", 0, get_pps_max_ma },
    { OBJECT_SINK_FIXED_FIRST, "supply", 0, get_pdo_type },
    { OBJECT_SINK_FIXED_FIRST, "dual_role_power", 0, get_dual_role },
    { OBJECT_SINK_FIXED_FIRST, "higher_capability", 0, get_higher_cap },
    { OBJECT_SINK_FIXED_FIRST, "unconstrained", 0, get_extpower },
    { OBJECT_SINK_FIXED_FIRST, "usb_comm", 0, get_pdo_usb_comm },
    { OBJECT_SINK_FIXED_FIRST, "dual_role_data", 0, get_data_swap },
    { OBJECT_SINK_FIXED_FIRST, "fr_swap", 0, get_frs },
    { OBJECT_SINK_FIXED_FIRST, "mv", 0, get_fixed_mv },
    { OBJECT_SINK_FIXED_FIRST, "ma", 0, get_max_ma },
    { OBJECT_SINK_FIXED, "mv", 0, get_fixed_mv },
    { OBJECT_SINK_FIXED, "ma", 0, get_max_ma },
    { OBJECT_SINK_BATTERY, "min_mv", 0, get_min_mv },
    { OBJECT_SINK_BATTERY, "max_mv", 0, get_max_mv },
    { OBJECT_SINK_BATTERY, "mw", 0, get_max_mw },
    { OBJECT_SINK_VARIABLE, "min_mv", 0, get_min_mv },
    { OBJECT_SINK_VARIABLE, "max_mv", 0, get_max_mv },
    { OBJECT_SINK_VARIABLE, "ma", 0, get_max_ma },
    { OBJECT_SINK_PPS, "min_mv", 0, get_pps_min_mv },
    { OBJECT_SINK_PPS, "max_mv", 0, get_pps_max_mv },
    { OBJECT_SINK_PPS, "ma", 0, get_pps_max_ma },

    { OBJECT_REQUEST_FIXED_VARIABLE, "position", POSITIONS, get_rdo_index },
    { OBJECT_REQUEST_FIXED_VARIABLE, "give_back", 0, get_give_back },
    { OBJECT_REQUEST_FIXED_VARIABLE, "mismatch", 0, get_mismatch },
    { OBJECT_REQUEST_FIXED_VARIABLE, "usb_comm", 0, get_rdo_usb_comm },
    { OBJECT_REQUEST_FIXED_VARIABLE, "no_usb_suspend", 0, get_no_suspend },
    { OBJECT_REQUEST_FIXED_VARIABLE, "op_ma", 0, get_op_ma },
    { OBJECT_REQUEST_FIXED_VARIABLE, "max_ma", 0, get_rdo_max_ma },
    { OBJECT_REQUEST_BATTERY, "position", POSITIONS, get_rdo_index },
    { OBJECT_REQUEST_BATTERY, "give_back", 0, get_give_back },
    { OBJECT_REQUEST_BATTERY, "mismatch", 0, get_mismatch },
    { OBJECT_REQUEST_BATTERY, "usb_comm", 0, get_rdo_usb_comm },
    { OBJECT_REQUEST_BATTERY, "no_usb_suspend", 0, get_no_suspend },
    { OBJECT_REQUEST_BATTERY, "op_mw", 0, get_op_mw },
    { OBJECT_REQUEST_BATTERY, "max_mw", 0, get_rdo_max_mw },
    { OBJECT_REQUEST_PPS, "position", POSITIONS, get_rdo_index },
    { OBJECT_REQUEST_PPS, "mismatch", 0, get_mismatch },
    { OBJECT_REQUEST_PPS, "usb_comm", 0, get_rdo_usb_comm },
    { OBJECT_REQUEST_PPS, "no_usb_suspend", 0, get_no_suspend },
    { OBJECT_REQUEST_PPS, "mv", PROGRAMMABLE_MV, get_prog_mv },
    { OBJECT_REQUEST_PPS, "op_ma", 0, get_prog_ma },
    { OBJECT_REQUEST_AVS, "position", POSITIONS, get_rdo_index },
    { OBJECT_REQUEST_AVS, "mismatch", 0, get_mismatch },
    { OBJECT_REQUEST_AVS, "op_ma", 0, get_prog_ma },

    { OBJECT_ENTER_USB, "usb_mode", 0, get_usb_mode },
    { OBJECT_ENTER_USB, "usb4_drd", 0, get_usb4_drd },
    { OBJECT_ENTER_USB, "usb3_drd", 0, get_usb3_drd },
    { OBJECT_ENTER_USB, "cable_speed", 0, get_eudo_speed },
    { OBJECT_ENTER_USB, "cable_type", 0, get_eudo_type },
    { OBJECT_ENTER_USB, "cable_current", 0, get_eudo_current },
    { OBJECT_ENTER_USB, "pcie_support", 0, get_pcie },
    { OBJECT_ENTER_USB, "dp_support", 0, get_dp },
    { OBJECT_ENTER_USB, "tbt_support", 0, get_tbt },
    { OBJECT_ENTER_USB, "host_present", 0, get_host },
    { OBJECT_BIST, "mode", 0, get_bist },
    { OBJECT_ALERT, "fixed_batteries", 0, get_ado_fixed },
    { OBJECT_ALERT, "hot_swap_batteries", 0, get_ado_hot },
    { OBJECT_ALERT, "battery_status_change", 0, get_ado_battery },
    { OBJECT_ALERT, "ocp", 0, get_ado_ocp },
    { OBJECT_ALERT, "otp", 0, get_ado_otp },
    { OBJECT_ALERT, "operating_condition_change", 0, get_ado_condition },
    { OBJECT_ALERT, "source_input_change", 0, get_ado_input },
    { OBJECT_ALERT, "ovp", 0, get_ado_ovp },

    { OBJECT_VDM_HEADER, "svid", 0, get_vid },
    { OBJECT_VDM_HEADER, "vdm_type", 0, get_svdm },
    { OBJECT_VDM_HEADER, "version_major", 0, get_svdm_version },
    { OBJECT_VDM_HEADER, "position", 0, get_opos },
    { OBJECT_VDM_HEADER, "command_type", 0, get_cmdt },
    { OBJECT_VDM_HEADER, "command", 0, get_cmd },
    { OBJECT_VDM_UNSTRUCTURED, "svid", 0, get_vid },
    { OBJECT_VDM_UNSTRUCTURED, "vdm_type", 0, get_svdm },
    { OBJECT_ID_HEADER, "ufp_type", 0, get_ptype },
    { OBJECT_ID_HEADER, "modal", 0, get_modal },
    { OBJECT_ID_HEADER, "dfp_type", 0, get_dfp_ptype },
    { OBJECT_ID_HEADER, "connector", 0, get_connector },
    { OBJECT_ID_HEADER, "vid", 0, get_idh_vid },
    { OBJECT_ID_HEADER_CABLE, "cable_type", 0, get_ptype },
    { OBJECT_ID_HEADER_CABLE, "modal", 0, get_modal },
    { OBJECT_ID_HEADER_CABLE, "connector", 0, get_connector },
    { OBJECT_ID_HEADER_CABLE, "vid", 0, get_idh_vid },
    { OBJECT_CERT_STAT, "xid", 0, get_xid },
    { OBJECT_PRODUCT, "pid", 0, get_pid },
    { OBJECT_UFP, "usb2", 0, get_ufp_usb2 },
    { OBJECT_UFP, "usb2_billboard", 0, get_ufp_billboard },
    { OBJECT_UFP, "usb3", 0, get_ufp_usb3 },
    { OBJECT_UFP, "usb4", 0, get_ufp_usb4 },
    { OBJECT_DFP, "usb2", 0, get_dfp_usb2 },
    { OBJECT_DFP, "usb3", 0, get_dfp_usb3 },
    { OBJECT_DFP, "usb4", 0, get_dfp_usb4 },
    { OBJECT_PASSIVE_CABLE, "plug", 0, get_plug },
    { OBJECT_ACTIVE_CABLE_1, "plug", 0, get_plug },
    { OBJECT_CABLE_R2, "plug", 0, get_plug },
    { OBJECT_AMA, "vconn_required", 0, get_ama_vconn },
    { OBJECT_AMA, "vbus_required", 0, get_ama_vbus },
    { OBJECT_SVIDS, "svid_0", 0, get_svid_0 },
    { OBJECT_SVIDS, "svid_1", 0, get_svid_1 },
};
const unsigned kernel_fields_count = LENGTH(kernel_fields);

/* Flags of values: bit of the word where the value is set. */
static uint32_t flag(uint32_t value, uint32_t bit)
{
    return value ? bit : 0;
}

static uint32_t make_source_fixed(const uint32_t *v)
{
    return PDO_FIXED(v[0], v[1], flag(v[2], PDO_FIXED_DUAL_ROLE) | flag(v[3], PDO_FIXED_SUSPEND) |
                     flag(v[4], PDO_FIXED_EXTPOWER) | flag(v[5], PDO_FIXED_USB_COMM) | flag(v[6], PDO_FIXED_DATA_SWAP) |
                     flag(v[7], PDO_FIXED_UNCHUNK_EXT));
}

static uint32_t make_sink_fixed(const uint32_t *v)
{
    return PDO_FIXED(v[0], v[1], flag(v[2], PDO_FIXED_DUAL_ROLE) | flag(v[3], PDO_FIXED_HIGHER_CAP) |
                     flag(v[4], PDO_FIXED_EXTPOWER) | flag(v[5], PDO_FIXED_USB_COMM) | flag(v[6], PDO_FIXED_DATA_SWAP) |
                     v[7] << PDO_FIXED_FRS_CURR_SHIFT);
}

static uint32_t make_battery(const uint32_t *v)
{
    return PDO_BATT(v[0], v[1], v[2]);
}

static uint32_t make_variable(const uint32_t *v)
{
    return PDO_VAR(v[0], v[1], v[2]);
}

static uint32_t make_pps(const uint32_t *v)
{
    return PDO_PPS_APDO(v[0], v[1], v[2]);
}

static uint32_t request_flags(const uint32_t *v)
{
    return flag(v[0], RDO_CAP_MISMATCH) | flag(v[1], RDO_USB_COMM) | flag(v[2], RDO_NO_SUSPEND);
}

static uint32_t make_request(const uint32_t *v)
{
    return RDO_FIXED(v[0], v[1], v[2], request_flags(v + 3) | flag(v[6], RDO_GIVE_BACK));
}

static uint32_t make_request_battery(const uint32_t *v)
{
    return RDO_BATT(v[0], v[1], v[2], request_flags(v + 3) | flag(v[6], RDO_GIVE_BACK));
}

static uint32_t make_request_pps(const uint32_t *v)
{
    return RDO_PROG(v[0], v[1], v[2], request_flags(v + 3));
}

static uint32_t make_vdm_header(const uint32_t *v)
{
    return VDO(v[0], v[1], v[2], VDO_OPOS(v[3]) | VDO_CMDT(v[4]) | v[5]);
}

static uint32_t make_id_header(const uint32_t *v)
{
    return VDO_IDH(v[0], v[1], v[2], v[3], v[4], v[5], v[6]);
}

static uint32_t make_id_header_cable(const uint32_t *v)
{
    return VDO_IDH(v[0], v[1], v[2], v[3], UINT32_C(0), v[4], v[5]);
}

static uint32_t make_cert_stat(const uint32_t *v)
{
    return VDO_CERT(v[0]);
}

static uint32_t make_product(const uint32_t *v)
{
    return VDO_PRODUCT(v[0], v[1]);
}

static uint32_t make_ufp(const uint32_t *v)
{
    uint32_t capability = flag(v[1], DEV_USB2_CAPABLE) | flag(v[2], DEV_USB2_BILLBOARD) | flag(v[3], DEV_USB3_CAPABLE) |
                          flag(v[4], DEV_USB4_CAPABLE);
    uint32_t modes = flag(v[9], UFP_ALTMODE_TBT3) | flag(v[10], UFP_ALTMODE_RECFG) | flag(v[11], UFP_ALTMODE_NO_RECFG);

    return VDO_UFP(v[0], capability, v[5], v[6], v[7], v[8], modes, v[12]);
}

static uint32_t make_dfp(const uint32_t *v)
{
    uint32_t capability = flag(v[1], HOST_USB2_CAPABLE) | flag(v[2], HOST_USB3_CAPABLE) | flag(v[3], HOST_USB4_CAPABLE);

    return VDO_DFP(v[0], capability, v[4], v[5]);
}

static uint32_t make_cable_r2(const uint32_t *v)
{
    return VDO_CABLE(v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], v[8], v[9], v[10], v[11], v[12]);
}

static uint32_t make_passive_cable(const uint32_t *v)
{
    return VDO_PCABLE(v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], v[8]);
}

static uint32_t make_active_cable_1(const uint32_t *v)
{
    return VDO_ACABLE1(v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], v[8], v[9], v[10], v[11], v[12]);
}

static uint32_t make_active_cable_2(const uint32_t *v)
{
    return VDO_ACABLE2(v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], v[8], v[9], v[10], v[11], v[12]);
}

static uint32_t make_ama(const uint32_t *v)
{
    return VDO_AMA(v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], v[8], v[9]);
}

static uint32_t make_vpd(const uint32_t *v)
{
    /* Our impedance is in milliohm, two a step; the kernel's is the number in the field. */
    return VDO_VPD(v[0], v[1], v[2], v[3], v[4], v[5] / 2, v[6], v[7]);
}

static uint32_t make_svids(const uint32_t *v)
{
    return VDO_SVID(v[0], v[1]);
}

/* The kernel's macros for the 2.0 cable and adapter keep three bits of each version, and three of the cable's latency. */
const struct kernel_word kernel_words[] = {
    { OBJECT_SOURCE_FIXED_FIRST,
      { "mv", "ma", "dual_role_power", "usb_suspend", "unconstrained", "usb_comm", "dual_role_data", "unchunked" },
      { 0 }, make_source_fixed },
    { OBJECT_SINK_FIXED_FIRST,
      { "mv", "ma", "dual_role_power", "higher_capability", "unconstrained", "usb_comm", "dual_role_data", "fr_swap" },
      { 0 }, make_sink_fixed },
    { OBJECT_SOURCE_BATTERY, { "min_mv", "max_mv", "mw" }, { 0 }, make_battery },
    { OBJECT_SINK_BATTERY, { "min_mv", "max_mv", "mw" }, { 0 }, make_battery },
    { OBJECT_SOURCE_VARIABLE, { "min_mv", "max_mv", "ma" }, { 0 }, make_variable },
    { OBJECT_SINK_VARIABLE, { "min_mv", "max_mv", "ma" }, { 0 }, make_variable },
    { OBJECT_SOURCE_PPS, { "min_mv", "max_mv", "ma" }, { 0 }, make_pps },
    { OBJECT_SINK_PPS, { "min_mv", "max_mv", "ma" }, { 0 }, make_pps },
    { OBJECT_REQUEST_FIXED_VARIABLE,
      { "position", "op_ma", "max_ma", "mismatch", "usb_comm", "no_usb_suspend", "give_back" }, { 3 }, make_request },
    { OBJECT_REQUEST_BATTERY,
      { "position", "op_mw", "max_mw", "mismatch", "usb_comm", "no_usb_suspend", "give_back" }, { 3 },
      make_request_battery },
    { OBJECT_REQUEST_PPS, { "position", "mv", "op_ma", "mismatch", "usb_comm", "no_usb_suspend" }, { 3, 11 },
      make_request_pps },
    { OBJECT_VDM_HEADER, { "svid", "vdm_type", "version_major", "position", "command_type", "command" }, { 0 },
      make_vdm_header },
    { OBJECT_ID_HEADER, { "usb_host", "usb_device", "ufp_type", "modal", "dfp_type", "connector", "vid" }, { 0 },
      make_id_header },
    { OBJECT_ID_HEADER_CABLE, { "usb_host", "usb_device", "cable_type", "modal", "connector", "vid" }, { 0 },
      make_id_header_cable },
    { OBJECT_CERT_STAT, { "xid" }, { 0 }, make_cert_stat },
    { OBJECT_PRODUCT, { "pid", "bcd_device" }, { 0 }, make_product },
    { OBJECT_UFP,
      { "version", "usb2", "usb2_billboard", "usb3", "usb4", "connector", "vconn_power", "vconn_required", "vbus_required",
        "mode_tbt3", "mode_reconfiguring", "mode_not_reconfiguring", "speed" },
      { 0 }, make_ufp },
    { OBJECT_DFP, { "version", "usb2", "usb3", "usb4", "connector", "port_number" }, { 0 }, make_dfp },
    { OBJECT_CABLE_R2,
      { "hardware", "firmware", "plug", "latency", "termination", "sstx1", "sstx2", "ssrx1", "ssrx2", "current",
        "vbus_through", "sop2_controller", "speed" },
      { 3, 3, 0, 3 }, make_cable_r2 },
    { OBJECT_PASSIVE_CABLE,
      { "hardware", "firmware", "version", "plug", "latency", "termination", "max_vbus", "current", "speed" },
      { 0 }, make_passive_cable },
    { OBJECT_ACTIVE_CABLE_1,
      { "hardware", "firmware", "version", "plug", "latency", "termination", "max_vbus", "sbu_supported", "sbu_type",
        "current", "vbus_through", "sop2_controller", "speed" },
      { 0 }, make_active_cable_1 },
    { OBJECT_ACTIVE_CABLE_2,
      { "max_operating_c", "shutdown_c", "u3_power", "u3_to_u0", "physical", "element", "usb4", "hub_hops", "usb2",
        "usb3", "lanes", "optically_isolated", "generation" },
      { 0 }, make_active_cable_2 },
    { OBJECT_AMA,
      { "hardware", "firmware", "sstx1", "sstx2", "ssrx1", "ssrx2", "vconn_power", "vconn_required", "vbus_required",
        "speed" },
      { 3, 3 }, make_ama },
    { OBJECT_VPD,
      { "hardware", "firmware", "version", "max_vbus", "through_current", "vbus_mohm", "ground_mohm", "charge_through" },
      { 0 }, make_vpd },
    { OBJECT_SVIDS, { "svid_0", "svid_1" }, { 0 }, make_svids },
};
const unsigned kernel_words_count = LENGTH(kernel_words);

const struct kernel_type kernel_types[] = {
    { "GoodCRC", CLASS_CONTROL, PD_CTRL_GOOD_CRC },
    { "GotoMin", CLASS_CONTROL, PD_CTRL_GOTO_MIN },
    { "Accept", CLASS_CONTROL, PD_CTRL_ACCEPT },
    { "Reject", CLASS_CONTROL, PD_CTRL_REJECT },
    { "Ping", CLASS_CONTROL, PD_CTRL_PING },
    { "PS_RDY", CLASS_CONTROL, PD_CTRL_PS_RDY },
    { "Get_Source_Cap", CLASS_CONTROL, PD_CTRL_GET_SOURCE_CAP },
    { "Get_Sink_Cap", CLASS_CONTROL, PD_CTRL_GET_SINK_CAP },
    { "DR_Swap", CLASS_CONTROL, PD_CTRL_DR_SWAP },
    { "PR_Swap", CLASS_CONTROL, PD_CTRL_PR_SWAP },
    { "VCONN_Swap", CLASS_CONTROL, PD_CTRL_VCONN_SWAP },
    { "Wait", CLASS_CONTROL, PD_CTRL_WAIT },
    { "Soft_Reset", CLASS_CONTROL, PD_CTRL_SOFT_RESET },
    { "Not_Supported", CLASS_CONTROL, PD_CTRL_NOT_SUPP },
    { "Get_Source_Cap_Extended", CLASS_CONTROL, PD_CTRL_GET_SOURCE_CAP_EXT },
    { "Get_Status", CLASS_CONTROL, PD_CTRL_GET_STATUS },
    { "FR_Swap", CLASS_CONTROL, PD_CTRL_FR_SWAP },
    { "Get_PPS_Status", CLASS_CONTROL, PD_CTRL_GET_PPS_STATUS },
    { "Get_Country_Codes", CLASS_CONTROL, PD_CTRL_GET_COUNTRY_CODES },
    { "Source_Capabilities", CLASS_DATA, PD_DATA_SOURCE_CAP },
    { "Request", CLASS_DATA, PD_DATA_REQUEST },
    { "BIST", CLASS_DATA, PD_DATA_BIST },
    { "Sink_Capabilities", CLASS_DATA, PD_DATA_SINK_CAP },
    { "Battery_Status", CLASS_DATA, PD_DATA_BATT_STATUS },
    { "Alert", CLASS_DATA, PD_DATA_ALERT },
    { "Get_Country_Info", CLASS_DATA, PD_DATA_GET_COUNTRY_INFO },
    { "Enter_USB", CLASS_DATA, PD_DATA_ENTER_USB },
    { "Vendor_Defined", CLASS_DATA, PD_DATA_VENDOR_DEF },
    { "Source_Capabilities_Extended", CLASS_EXTENDED, PD_EXT_SOURCE_CAP_EXT },
    { "Status", CLASS_EXTENDED, PD_EXT_STATUS },
    { "Get_Battery_Cap", CLASS_EXTENDED, PD_EXT_GET_BATT_CAP },
    { "Get_Battery_Status", CLASS_EXTENDED, PD_EXT_GET_BATT_STATUS },
    { "Battery_Capabilities", CLASS_EXTENDED, PD_EXT_BATT_CAP },
    { "Get_Manufacturer_Info", CLASS_EXTENDED, PD_EXT_GET_MANUFACTURER_INFO },
    { "Manufacturer_Info", CLASS_EXTENDED, PD_EXT_MANUFACTURER_INFO },
    { "Security_Request", CLASS_EXTENDED, PD_EXT_SECURITY_REQUEST },
    { "Security_Response", CLASS_EXTENDED, PD_EXT_SECURITY_RESPONSE },
    { "Firmware_Update_Request", CLASS_EXTENDED, PD_EXT_FW_UPDATE_REQUEST },
    { "Firmware_Update_Response", CLASS_EXTENDED, PD_EXT_FW_UPDATE_RESPONSE },
    { "PPS_Status", CLASS_EXTENDED, PD_EXT_PPS_STATUS },
    { "Country_Info", CLASS_EXTENDED, PD_EXT_COUNTRY_INFO },
    { "Country_Codes", CLASS_EXTENDED, PD_EXT_COUNTRY_CODES },
};
const unsigned kernel_types_count = LENGTH(kernel_types);

struct kernel_header kernel_header(uint16_t header)
{
    return (struct kernel_header){
        .objects = pd_header_cnt(header), .type = pd_header_type(header), .id = pd_header_msgid(header),
        .revision = pd_header_rev(header), .source = !!(header & PD_HEADER_PWR_ROLE),
        .dfp = !!(header & PD_HEADER_DATA_ROLE), .extended = !!(header & PD_HEADER_EXT_HDR),
    };
}

uint16_t kernel_header_make(const struct kernel_header *h)
{
    return (uint16_t)PD_HEADER(h->type, h->source ? TYPEC_SOURCE : TYPEC_SINK, h->dfp ? TYPEC_HOST : TYPEC_DEVICE,
                               h->revision, h->id, h->objects, h->extended);
}

struct kernel_extended kernel_extended(uint16_t header)
{
    return (struct kernel_extended){
        .chunked = !!(header & PD_EXT_HDR_CHUNKED), .chunk = pd_ext_header_chunk_num(header),
        .request = !!(header & PD_EXT_HDR_REQ_CHUNK), .size = pd_ext_header_data_size(header),
    };
}

uint16_t kernel_extended_make(const struct kernel_extended *h)
{
    return (uint16_t)PD_EXT_HDR(h->size, h->request, h->chunk, h->chunked);
}

/* The bit's number of a mask of one bit. */
#define BIT_NUMBER(mask) ((mask) == BIT(1) ? 1 : (mask) == BIT(2) ? 2 : (mask) == BIT(3) ? 3 : (mask) == BIT(4) ? 4 : 254)

const struct kernel_status kernel_status[] = {
    { "internal_c", USB_PD_EXT_SDB_INTERNAL_TEMP, 255 },
    { "external_power", USB_PD_EXT_SDB_PRESENT_INPUT, 1 },
    { "fixed_batteries", USB_PD_EXT_SDB_PRESENT_BATT_INPUT, 0 },
    { "ocp", USB_PD_EXT_SDB_EVENT_FLAGS, BIT_NUMBER(USB_PD_EXT_SDB_EVENT_OCP) },
    { "otp", USB_PD_EXT_SDB_EVENT_FLAGS, BIT_NUMBER(USB_PD_EXT_SDB_EVENT_OTP) },
    { "ovp", USB_PD_EXT_SDB_EVENT_FLAGS, BIT_NUMBER(USB_PD_EXT_SDB_EVENT_OVP) },
    { "operating_mode", USB_PD_EXT_SDB_EVENT_FLAGS, BIT_NUMBER(USB_PD_EXT_SDB_EVENT_CF_CV_MODE) },
    { "temperature_status", USB_PD_EXT_SDB_TEMP_STATUS, 1 },
};
const unsigned kernel_status_count = LENGTH(kernel_status);

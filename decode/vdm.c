/* Which layout the words of a Vendor_Defined message have: the header says the command, the ID header who answers. */
#include "decode/field.h"
#include "decode/message.h"

enum { VDM_SID_PD = 0xFF00 };
enum { VDM_DISCOVER_IDENTITY = 1, VDM_DISCOVER_SVIDS, VDM_DISCOVER_MODES };
enum { VDM_ACK = 1 };
/* Product types of the ID header: Linux include/linux/usb/pd_vdo.h. */
enum { UFP_NONE = 0, UFP_HUB = 1, UFP_PERIPHERAL = 2, UFP_PSD = 3, UFP_AMA = 5 };
enum { CABLE_PASSIVE = 3, CABLE_ACTIVE = 4, CABLE_VPD = 6 };
enum { DFP_HUB = 1, DFP_BRICK = 3 };
/* Places in an answer to Discover Identity. Place 5 is a zero filler where both a UFP and a DFP answer (from memory). */
enum { AT_ID_HEADER = 1, AT_CERT_STAT, AT_PRODUCT, AT_FIRST_TYPE, AT_SECOND_TYPE, AT_DFP_AFTER_UFP };

static bool set_is_cable(unsigned set)
{
    return set != SET_SOP;
}

/* Only R3.x knows structured VDM version 2.x and header revision 10: either of them tells its layouts. */
static bool layouts_are_r3(uint32_t vdm_header, unsigned header_revision)
{
    return header_revision >= HEADER_R3 || (vdm_header >> 13 & 3) != 0;
}

static enum object_kind cable_kind(uint32_t id_header, unsigned k, bool r3)
{
    uint32_t type = id_header >> 27 & 7;

    if (k == AT_FIRST_TYPE && type == CABLE_VPD)
        return OBJECT_VPD;
    if (type != CABLE_PASSIVE && type != CABLE_ACTIVE)
        return OBJECT_RAW;
    if (k == AT_FIRST_TYPE && !r3)
        return OBJECT_CABLE_R2;
    if (k == AT_FIRST_TYPE)
        return type == CABLE_PASSIVE ? OBJECT_PASSIVE_CABLE : OBJECT_ACTIVE_CABLE_1;
    return k == AT_SECOND_TYPE && type == CABLE_ACTIVE && r3 ? OBJECT_ACTIVE_CABLE_2 : OBJECT_RAW;
}

static enum object_kind ufp_kind(uint32_t type, bool r3)
{
    switch (type) {
    case UFP_HUB:
    case UFP_PERIPHERAL: return r3 ? OBJECT_UFP : OBJECT_RAW; /* R2.0 has no VDO for them */
    case UFP_PSD:        return OBJECT_PSD;
    case UFP_AMA:        return r3 ? OBJECT_UFP : OBJECT_AMA; /* R3's UFP VDO has the adapter's fields (Linux pd_vdo.h) */
    default:             return OBJECT_RAW;
    }
}

static enum object_kind port_kind(uint32_t id_header, unsigned count, unsigned k, bool r3)
{
    uint32_t ufp = id_header >> 27 & 7;
    uint32_t dfp_type = id_header >> 23 & 7;
    bool     dfp = r3 && dfp_type >= DFP_HUB && dfp_type <= DFP_BRICK;

    if (k == AT_DFP_AFTER_UFP)
        return dfp && ufp != UFP_NONE ? OBJECT_DFP : OBJECT_RAW;
    if (k != AT_FIRST_TYPE)
        return OBJECT_RAW;
    /* Every DFP answers with its VDO; a PSD may have none: one that stands alone is the DFP's. */
    if (dfp && (ufp == UFP_NONE || (ufp == UFP_PSD && count == AT_FIRST_TYPE + 1)))
        return OBJECT_DFP;
    return ufp_kind(ufp, r3);
}

static enum object_kind identity_kind(const uint32_t *words, unsigned count, unsigned k, unsigned set, bool r3)
{
    switch (k) {
    case AT_ID_HEADER: return set_is_cable(set) ? OBJECT_ID_HEADER_CABLE : OBJECT_ID_HEADER;
    case AT_CERT_STAT: return OBJECT_CERT_STAT;
    case AT_PRODUCT:   return OBJECT_PRODUCT;
    default:           break;
    }
    if (set_is_cable(set))
        return cable_kind(words[AT_ID_HEADER], k, r3);
    return port_kind(words[AT_ID_HEADER], count, k, r3);
}

enum object_kind object_kind_of_vdm(const uint32_t *words, unsigned count, unsigned k, unsigned set, unsigned header_revision)
{
    if (k >= count)
        return OBJECT_RAW;
    uint32_t header = words[0];
    bool     structured = header >> 15 & 1;

    if (k == 0)
        return structured ? OBJECT_VDM_HEADER : OBJECT_VDM_UNSTRUCTURED;
    if (!structured || (header >> 6 & 3) != VDM_ACK)
        return OBJECT_RAW;
    uint32_t command = header & 0x1f;
    bool     pd = header >> 16 == VDM_SID_PD; /* identity and SVIDs are asked of PD itself, modes of an SVID */

    if (command == VDM_DISCOVER_IDENTITY && pd)
        return identity_kind(words, count, k, set, layouts_are_r3(header, header_revision));
    if (command == VDM_DISCOVER_SVIDS && pd)
        return OBJECT_SVIDS;
    return command == VDM_DISCOVER_MODES ? OBJECT_MODE : OBJECT_RAW;
}

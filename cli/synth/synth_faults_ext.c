/* Faults of what status and identity messages say. Places of fields: Linux include/linux/usb/pd_ext_sdb.h, pd_ado.h, Chromium EC
 * include/usb_pd.h, Infineon cy_pdstack_common.h; those of battery, maker and country blocks partly from memory. */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_words.h"

const struct synth_fault synth_faults_ext[] = {
    { "ext.status-fields", NULL, NULL, "A reserved bit of Status or PPS_Status is set.", "ext.status-fields" },
    { "ext.source-caps-ext-fields", NULL, "source", "Source_Capabilities_Extended gives touch temperature 4.", "ext.source-caps-ext-fields" },
    { "ext.source-info-fields", NULL, "source", "A reserved bit of Source_Info is set.", "ext.source-info-fields" },
    { "ext.battery-fields", NULL, NULL, "A battery holds more than its design allows, or its charging state is the one that there is not.",
      "ext.battery-fields" },
    { "ext.alert-fields", NULL, NULL, "A reserved bit of an Alert is set.", "ext.alert-fields" },
    { "ext.alert-answered", NULL, "sink", "The sink asks for Status only 1.3 s after an Alert.", "ext.alert-answered" },
    { "ext.manufacturer-fields", NULL, NULL, "The maker's name begins with a sign that cannot be printed.", "ext.manufacturer-fields" },
    { "ext.revision-fields", NULL, NULL, "A reserved bit of Revision is set.", "ext.revision-fields" },
    { "ext.country-fields", NULL, NULL, "A country code has a small letter.", "ext.country-fields" },
    { "ext.trip-announced", NULL, "source", "The source goes off under a current above the contract, and no Alert says so.", "ext.trip-announced" },
    { NULL, NULL, NULL, NULL, NULL },
};

/* Blocks stand behind the two bytes of the extended header. */
#define BLOCK(n) (2 + (n))
#define DATA_OF(type) BY_PORTS, SET_SOP, false, (type)
#define BLOCK_OF(type) BY_PORTS, SET_SOP, true, (type)
#define BIT(n) (UINT32_C(1) << (n))

static const struct twist twists[] = {
    { "ext.status-fields", BLOCK_OF(E_STATUS), BLOCK(4), BIT(3), 0, 0, 0 },
    { "ext.status-fields", BLOCK_OF(E_PPS_STATUS), BLOCK(3), BIT(4), 0, 0, 0 },
    { "ext.source-caps-ext-fields", BLOCK_OF(E_SOURCE_CAPABILITIES_EXTENDED), BLOCK(20), BIT(2), 0, 0, 0 },
    { "ext.source-info-fields", DATA_OF(D_SOURCE_INFO), 0, BIT(24), 0, 0, 0 },
    /* Where a battery is there: its reference is valid, or it is told to be present. 72.0 Wh become 276.8 Wh. */
    { "ext.battery-fields", BLOCK_OF(E_BATTERY_CAPABILITIES), BLOCK(6), BIT(11), BLOCK(8), 1, 0 },
    { "ext.battery-fields", DATA_OF(D_BATTERY_STATUS), 0, BIT(10), 0, BIT(9) | BIT(10), BIT(9) },
    { "ext.alert-fields", DATA_OF(D_ALERT), 0, BIT(24), 0, 0, 0 },
    { "ext.manufacturer-fields", BLOCK_OF(E_MANUFACTURER_INFO), BLOCK(4), BIT(6), BLOCK(4), 0xe0, 0x40 },
    { "ext.revision-fields", DATA_OF(D_REVISION), 0, BIT(0), 0, 0, 0 },
    { "ext.country-fields", BLOCK_OF(E_COUNTRY_CODES), BLOCK(2), BIT(5), 0, 0, 0 },
    { "ext.country-fields", BLOCK_OF(E_COUNTRY_INFO), BLOCK(0), BIT(5), 0, 0, 0 },
    { NULL, 0, 0, false, 0, 0, 0, 0, 0, 0 },
};

void faults_ext_message(struct life *l, struct say *m)
{
    if (l->contract)
        faults_twist(l, m, twists);
}

/* Only where the sink has nothing else to say meanwhile: what it says could be about the Alert. */
void faults_alert_ignored(struct life *l)
{
    const struct injected *f;

    if (l->epr_mode || (l->position && pdo_supply(l->offer[l->position - 1]) == SUPPLY_PPS) || !(f = synth_fault(l, "ext.alert-answered")))
        return;
    synth_blame_sent(l, f, sink_of(l));
    synth_idle(l, 1300000);
}

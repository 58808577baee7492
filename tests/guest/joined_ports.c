// SPDX-License-Identifier: GPL-2.0
/*
 * Two Type-C ports of the kernel's own port manager, a source and a sink, joined by a cable that is only a variable:
 *   echo 1 > /sys/module/joined_ports/parameters/plugged
 * GPL-2.0, as the kernel's functions that it calls ask for; it is for a test's guest alone and no part of the program.
 */
#include <linux/module.h>
#include <linux/platform_device.h>
#include <linux/property.h>
#include <linux/usb/pd.h>
#include <linux/usb/tcpm.h>

struct end {
	struct tcpc_dev dev;
	struct tcpm_port *port;
	struct platform_device *parent;
	struct end *other;
	enum typec_cc_status pull;
	bool drives, hears;
};

static struct end ends[2];
static bool plugged;

static struct end *end_of(struct tcpc_dev *dev)
{
	return container_of(dev, struct end, dev);
}

static void tell(struct end *e)
{
	if (!e->port)
		return;
	tcpm_cc_change(e->port);
	tcpm_vbus_change(e->port);
}

static bool pulls_up(enum typec_cc_status s)
{
	return s == TYPEC_CC_RP_DEF || s == TYPEC_CC_RP_1_5 || s == TYPEC_CC_RP_3_0;
}

static int do_nothing(struct tcpc_dev *dev)
{
	return 0;
}

static int get_vbus(struct tcpc_dev *dev)
{
	struct end *e = end_of(dev);

	return e->drives || (plugged && e->other->drives);
}

static int set_cc(struct tcpc_dev *dev, enum typec_cc_status cc)
{
	struct end *e = end_of(dev);

	e->pull = cc;
	tell(e->other);
	return 0;
}

/* What the other end does is seen on CC2 alone: the plug is the wrong way round. */
static int get_cc(struct tcpc_dev *dev, enum typec_cc_status *cc1, enum typec_cc_status *cc2)
{
	struct end *e = end_of(dev);
	bool fits = pulls_up(e->pull) ? e->other->pull == TYPEC_CC_RD : e->pull == TYPEC_CC_RD && pulls_up(e->other->pull);

	*cc1 = TYPEC_CC_OPEN;
	*cc2 = plugged && fits ? e->other->pull : TYPEC_CC_OPEN;
	return 0;
}

static int set_polarity(struct tcpc_dev *dev, enum typec_cc_polarity polarity)
{
	return 0;
}

static int set_vconn(struct tcpc_dev *dev, bool on)
{
	return 0;
}

static int set_vbus(struct tcpc_dev *dev, bool on, bool sink)
{
	struct end *e = end_of(dev);

	if (e->drives == on)
		return 0;
	e->drives = on;
	tell(e);
	tell(e->other);
	return 0;
}

static int set_pd_rx(struct tcpc_dev *dev, bool on)
{
	end_of(dev)->hears = on;
	return 0;
}

static int set_roles(struct tcpc_dev *dev, bool attached, enum typec_role role, enum typec_data_role data)
{
	return 0;
}

static int pd_transmit(struct tcpc_dev *dev, enum tcpm_transmit_type type, const struct pd_message *message, unsigned int revision)
{
	struct end *e = end_of(dev);
	bool heard = plugged && e->other->port && (type == TCPC_TX_HARD_RESET || (type == TCPC_TX_SOP && e->other->hears && message));

	if (heard && type == TCPC_TX_SOP)
		tcpm_pd_receive(e->other->port, message);
	else if (heard)
		tcpm_pd_hard_reset(e->other->port);
	tcpm_pd_transmit_complete(e->port, heard ? TCPC_TX_SUCCESS : TCPC_TX_FAILED);
	return 0;
}

/* 5 V 3 A, 9 V 3 A, 15 V 2 A, 3.3 to 11 V 3 A. */
static const u32 offers[] = { PDO_FIXED(5000, 3000, 0), PDO_FIXED(9000, 3000, 0), PDO_FIXED(15000, 2000, 0), PDO_PPS_APDO(3300, 11000, 3000) };
static const u32 needs[] = { PDO_FIXED(5000, 3000, 0), PDO_FIXED(9000, 2000, 0) };
static const struct property_entry source_properties[] = {
	PROPERTY_ENTRY_STRING("power-role", "source"), PROPERTY_ENTRY_STRING("data-role", "host"),
	PROPERTY_ENTRY_U32_ARRAY("source-pdos", offers), { }
};
static const struct property_entry sink_properties[] = {
	PROPERTY_ENTRY_STRING("power-role", "sink"), PROPERTY_ENTRY_STRING("data-role", "device"),
	PROPERTY_ENTRY_U32_ARRAY("sink-pdos", needs), PROPERTY_ENTRY_U32("op-sink-microwatt", 10000000), { }
};

static int add(unsigned int k, const struct property_entry *properties)
{
	struct end *e = &ends[k];

	e->other = &ends[1 - k];
	e->dev = (struct tcpc_dev){
		.init = do_nothing, .get_vbus = get_vbus, .set_cc = set_cc, .get_cc = get_cc, .set_polarity = set_polarity,
		.set_vconn = set_vconn, .set_vbus = set_vbus, .set_pd_rx = set_pd_rx, .set_roles = set_roles, .pd_transmit = pd_transmit,
	};
	e->dev.fwnode = fwnode_create_software_node(properties, NULL);
	e->parent = platform_device_register_simple("joined_ports", k, NULL, 0);
	e->port = tcpm_register_port(&e->parent->dev, &e->dev);
	if (IS_ERR(e->port)) {
		int error = PTR_ERR(e->port);

		e->port = NULL;
		return error;
	}
	return 0;
}

static int plugged_set(const char *value, const struct kernel_param *kp)
{
	int error = param_set_bool(value, kp);

	if (!error) {
		tell(&ends[0]);
		tell(&ends[1]);
	}
	return error;
}
static const struct kernel_param_ops plugged_ops = { .set = plugged_set, .get = param_get_bool };
module_param_cb(plugged, &plugged_ops, &plugged, 0644);

static int __init joined_ports_init(void)
{
	int error = add(0, source_properties);

	return error ? error : add(1, sink_properties);
}
module_init(joined_ports_init);
MODULE_LICENSE("GPL");
MODULE_DESCRIPTION("Two of the kernel's Type-C port managers, joined");

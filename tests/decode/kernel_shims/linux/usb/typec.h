/* The roles that the kernel's message header macro names. */
#pragma once

enum typec_data_role { TYPEC_DEVICE, TYPEC_HOST };
enum typec_role { TYPEC_SINK, TYPEC_SOURCE };

/* The voltage of a contract outside EPR mode. */
#include "rules/epr_checks.h"
#include "rules/volt_checks.h"

static const struct volt_says says = { HIGH_ABOVE, HIGH_ABOVE, HIGH_UNSURE, HIGH_UNREAD };

void epr_check_high_voltage(struct judge *j, const struct event *e)
{
    const struct rail_steady *s = judge_section(j)->steady;

    (void)e;
    if (s->contract.epr || s->epr_mode || judge_silenced_since(j, s->from_ns))
        return;
    if (s->ceiling.count == 0 && s->to_ns - s->from_ns < judge_window(j, HIGH_AFTER).high_ns + judge_window(j, HIGH_STATIC).high_ns)
        return; /* too short to be read */
    volt_judge_fit(j, &s->ceiling, s, &says, judge_parameter(j, HIGH_LIMIT), s->epr_certain ? CAUSE_NONE : CAUSE_BEGINNING, 1);
}

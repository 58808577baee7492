/*
 * A load that asks for more than a source gives. A programmable supply holds the current that was asked for, and VBUS goes where the
 * load's resistance says; others hold theirs somewhat higher, and below a part of their voltage let the current go down with it.
 * iPpsCLNew: 150 mA up to 3 A, 5 % above (onsemi PD firmware pd_types.h).
 */
#include "cli/synth/synth_faults.h"
#include "cli/synth/synth_read.h"
#include "cli/synth/synth_words.h"

enum { MS_NS = 1000000, SMALL_MA = 3000, SMALL_BY_MA = 150, REST_US = 100000, LONGEST_MS = 8000, FOLD_SHARE = 60, SHORT_SHARE = 40 };

bool synth_in_pps(const struct life *l)
{
    return l->contract && !l->epr_mode && l->position && pdo_supply(l->offer[l->position - 1]) == SUPPLY_PPS;
}

int32_t synth_limit_by_ma(const struct life *l)
{
    return l->contract_ma > SMALL_MA ? l->contract_ma / 20 : SMALL_BY_MA;
}

/* Half of what the contract gives: what a load takes before and after. */
static void rest(struct life *l)
{
    synth_load(l, l->contract_ma / 2);
    synth_idle(l, REST_US);
}

void synth_limit_begin(struct life *l, int32_t ma, int32_t uv)
{
    rest(l);
    l->unlimited_uv = wave_end(&l->vbus);
    l->limiting = true;
    synth_load(l, ma);
    /* The current is there before VBUS gives way. */
    wave_set(&l->vbus, l->now_ns + 2 * MS_NS, l->now_ns + 2 * MS_NS + MS_NS / 2, uv);
}

/* Of a supply that is no programmable one: it gives more for a moment, then goes down, and the current with it. */
static void fold_begin(struct life *l, int32_t most_ma, int32_t ma, int32_t uv)
{
    rest(l);
    l->unlimited_uv = wave_end(&l->vbus);
    l->limiting = true;
    synth_load(l, most_ma);
    synth_idle(l, 12000);
    wave_set(&l->vbus, l->now_ns, l->now_ns + MS_NS / 2, uv);
    wave_set(&l->ibus, l->now_ns, l->now_ns + MS_NS / 2, ma * 1000);
}

void synth_limit_end(struct life *l)
{
    wave_set(&l->vbus, l->now_ns, l->now_ns + MS_NS / 2, l->unlimited_uv);
    l->limiting = false;
    synth_load(l, l->contract_ma / 2);
    synth_idle(l, 60000);
    synth_load(l, l->load_ma < l->contract_ma ? l->load_ma : l->contract_ma * 9 / 10);
    synth_idle(l, 20000);
}

/*
 * Where a load of this resistance takes a supply that holds ma. Of a fixed one the current goes down with VBUS below FOLD_SHARE of its
 * voltage, to SHORT_SHARE at 0 V: on that line U = R * (short + (ma - short) * U / fold).
 */
static int32_t level_uv(const struct life *l, int32_t *ma, int64_t mohm)
{
    int64_t uv = (int64_t)*ma * mohm, fold_uv = (int64_t)l->contract_mv * 10 * FOLD_SHARE, short_ma = *ma * SHORT_SHARE / 100;

    if (!synth_in_pps(l) && uv < fold_uv) {
        uv = (int64_t)((double)(short_ma * mohm) / (1 - (double)((*ma - short_ma) * mohm) / (double)fold_uv));
        *ma = (int32_t)(uv / mohm);
    }
    return (int32_t)uv;
}

/* PPS keeps its sink from falling silent meanwhile. */
static bool renewed(struct life *l)
{
    if (!synth_in_pps(l))
        return true;
    synth_open_exchange(l, sink_of(l));
    if (!synth_repeat_request(l))
        return false;
    synth_idle(l, 60000);
    return true;
}

static bool asked(struct life *l, const struct step *s)
{
    struct step question = { .from = WHO_SINK };

    return !s->asks || !synth_question_find("Get_PPS_Status", &question.message) || synth_get(l, &question);
}

/* A load whose resistance is not said takes VBUS to 80 %, a programmable supply not far below the least of its object. */
static int64_t resistance_mohm(const struct life *l, int32_t ma)
{
    int64_t mv = (int64_t)l->contract_mv * 8 / 10, least = (int64_t)pdo_min_mv(l->offer[l->position - 1]) * 9 / 10;

    return (synth_in_pps(l) && mv < least ? least : mv) * 1000 / ma;
}

/* What is held: of a programmable supply what was asked for, give or take; of others 15 % more than the sink may take. */
static int32_t held_ma(struct life *l)
{
    int32_t by_ma = synth_limit_by_ma(l) * 2 / 3;

    return synth_in_pps(l) ? l->contract_ma + (int32_t)chance_between(&l->volts, -by_ma, by_ma)
                           : asking_most_ma(l->request, l->offer[l->position - 1]) * 115 / 100;
}

bool synth_limit(struct life *l, const struct step *s)
{
    int32_t most_ma, ma, uv;
    int64_t ms = s->ms < LONGEST_MS ? s->ms : LONGEST_MS;
    bool    good;

    if (synth_in_pps(l) != (s->act == DO_LIMIT) || !l->contract || !l->position || l->epr_mode || l->contract_ma < 200 || !l->plan->instrument.power)
        return true;
    if (!renewed(l))
        return false;
    ma = most_ma = s->ma ? (int32_t)s->ma : held_ma(l);
    uv = level_uv(l, &ma, s->mohm ? s->mohm : resistance_mohm(l, ma));
    if (s->act == DO_LIMIT)
        synth_limit_begin(l, ma, uv);
    else
        fold_begin(l, most_ma, ma, uv);
    synth_idle(l, ms * 500);
    good = asked(l, s);
    if (!l->limiting)
        return good;
    synth_idle(l, ms * 500);
    synth_limit_end(l);
    return good;
}

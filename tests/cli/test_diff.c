#define _POSIX_C_SOURCE 200809L /* mkstemp, fdopen */
/*
 * diff: the arithmetic by worked examples, the alignment beside the textbook's table of all distances, and the whole command on traces of
 * the model: the same life again, shifted, read a little otherwise or with its ports renumbered shows nothing; what is made wrong is named.
 */
#include "tests/cli/cli_try.h"

#include "cli/diff.h"
#include "cli/synth/synth.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

extern const struct command command_diff;

/* Numbers. */

/* The worked example of metric M43: 62.9 +- 0.37 and 62.3 +- 0.37 differ (0.6 / 0.523 = 1.15), 62.9 and 62.5 do not (0.76). */
static void numbers_differ_beyond_their_uncertainties_together(void **state)
{
    (void)state;
    assert_float_equal(diff_e_n(62.9, 0.37, 62.3, 0.37), 1.15, 0.005);
    assert_float_equal(diff_e_n(62.9, 0.37, 62.5, 0.37), 0.76, 0.005);
    assert_float_equal(diff_e_n(62.5, 0.37, 62.9, 0.37), 0.76, 0.005);
    assert_float_equal(diff_e_n(5, 0, 5, 0), 0, 0);
    assert_true(diff_e_n(5, 0, 5.001, 0) > 1);
}

static void a_verdict_that_nobody_could_reach_is_no_difference(void **state)
{
    (void)state;
    assert_true(diff_verdict_differs(VERDICT_PASS, VERDICT_FAIL));
    assert_true(diff_verdict_differs(VERDICT_FAIL, VERDICT_NOT_SEEN));
    assert_false(diff_verdict_differs(VERDICT_FAIL, VERDICT_UNDECIDED));
    assert_false(diff_verdict_differs(VERDICT_PASS, VERDICT_UNDECIDED));
    assert_false(diff_verdict_differs(VERDICT_PASS, VERDICT_NOT_SEEN));
    assert_false(diff_verdict_differs(VERDICT_FAIL, VERDICT_FAIL));
}

/* Alignment. */

enum { LONGEST = 40, KINDS = 3, VALUES = 2 };

static uint32_t next_random(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u; /* Numerical Recipes' generator */
    return *seed >> 16;
}

static size_t draw_deeds(uint32_t *seed, struct deed *deeds)
{
    static const uint8_t kinds[KINDS] = { DEED_OFFER, DEED_CONTRACT, DEED_HARD_RESET };
    size_t               n = next_random(seed) % (LONGEST + 1);

    memset(deeds, 0, LONGEST * sizeof *deeds);
    for (size_t k = 0; k < n; k++) {
        deeds[k].kind = kinds[next_random(seed) % KINDS];
        if (deeds[k].kind != DEED_HARD_RESET)
            deeds[k].mv = (int32_t)(5000 * (1 + next_random(seed) % VALUES));
        deeds[k].frame = k + 1;
        deeds[k].times = deeds[k].cycle = 1;
    }
    return n;
}

static uint64_t pair_cost(const struct deed *a, const struct deed *b)
{
    if (deed_same(a, b))
        return 0;
    return !deed_alike(a, b) ? 4 : a->kind == DEED_OFFER ? 1 : 3;
}

/* Wagner and Fischer, "The string-to-string correction problem" (1974): the whole table. */
static uint64_t table_cost(const struct deed *a, size_t n, const struct deed *b, size_t m)
{
    static uint64_t table[LONGEST + 1][LONGEST + 1];

    for (size_t i = 0; i <= n; i++)
        for (size_t j = 0; j <= m; j++) {
            uint64_t best = i == 0 && j == 0 ? 0 : UINT64_MAX;

            if (i > 0 && table[i - 1][j] + 2 < best)
                best = table[i - 1][j] + 2;
            if (j > 0 && table[i][j - 1] + 2 < best)
                best = table[i][j - 1] + 2;
            if (i > 0 && j > 0 && table[i - 1][j - 1] + pair_cost(&a[i - 1], &b[j - 1]) < best)
                best = table[i - 1][j - 1] + pair_cost(&a[i - 1], &b[j - 1]);
            table[i][j] = best;
        }
    return table[n][m];
}

static void assert_partners(const struct diff_alignment *ab, const struct diff_alignment *ba)
{
    size_t next = 0;

    for (size_t k = 0; k < ab->a_count; k++) {
        if (ab->partner[k] == DIFF_ALONE)
            continue;
        assert_true(ab->partner[k] >= next && ab->partner[k] < ab->b_count);
        assert_int_equal(ba->partner[ab->partner[k]], k); /* the other way round it is the same */
        next = ab->partner[k] + 1;
    }
}

static void the_alignment_is_the_least_edit_from_either_side(void **state)
{
    static struct deed a[LONGEST], b[LONGEST];
    uint32_t           seed = 7;

    (void)state;
    for (unsigned k = 0; k < 2000; k++) {
        struct behaviour_port pa = { .deeds = a, .count = draw_deeds(&seed, a) }, pb = { .deeds = b, .count = draw_deeds(&seed, b) };
        struct diff_alignment ab, ba;

        assert_true(diff_align(&ab, &pa, &pb) && diff_align(&ba, &pb, &pa));
        assert_int_equal(ab.cost, table_cost(a, pa.count, b, pb.count));
        assert_int_equal(ba.cost, ab.cost);
        assert_partners(&ab, &ba);
        diff_align_free(&ab);
        diff_align_free(&ba);
    }
}

static void plugs_that_only_one_of_them_saw_are_left_out(void **state)
{
    struct deed           a[2] = { { .kind = DEED_ATTACH }, { .kind = DEED_HARD_RESET } }, b[1] = { { .kind = DEED_HARD_RESET } };
    struct behaviour_port pa = { .deeds = a, .count = 2 }, pb = { .deeds = b, .count = 1 };
    struct diff_alignment d;

    (void)state;
    assert_true(diff_align(&d, &pa, &pb));
    assert_int_equal(d.cost, 0);
    assert_true(d.plugs_left_out);
    diff_align_free(&d);
}

/* Traces of the model. */

typedef void change(struct synth_record *r, unsigned number);

static void put_le(FILE *f, uint32_t value, unsigned bytes)
{
    for (unsigned k = 0; k < bytes; k++)
        fputc((int)(value >> (8 * k) & 255), f);
}

static void put_record(FILE *f, const struct synth_record *r)
{
    put_le(f, (uint32_t)(r->stamp_ns / 1000000000), 4);
    put_le(f, (uint32_t)(r->stamp_ns % 1000000000), 4);
    put_le(f, (uint32_t)r->length, 4);
    put_le(f, (uint32_t)r->length, 4);
    assert_int_equal(fwrite(r->bytes, 1, r->length, f), r->length);
}

/* As try_save, but of a scenario. */
static void save_played(const cJSON *scenario, change *how, char path[64])
{
    struct synth_trouble trouble;
    struct synth        *s = synth_open(scenario, -1, &trouble);
    struct synth_record  r;

    if (!s)
        fail_msg("%s: %s", trouble.path, trouble.text);
    strcpy(path, "/tmp/portassay-test-XXXXXX");
    int   fd = mkstemp(path);
    FILE *f = fd < 0 ? NULL : fdopen(fd, "wb");

    assert_non_null(f);
    put_le(f, 0xa1b23c4d, 4);
    put_le(f, 0x00040002, 4);
    put_le(f, 0, 4);
    put_le(f, 0, 4);
    put_le(f, 262144, 4);
    put_le(f, 147, 4);
    for (unsigned k = 0; synth_next(s, &r); k++) {
        if (how)
            how(&r, k);
        put_record(f, &r);
    }
    assert_int_equal(fclose(f), 0);
    synth_close(s);
}

static cJSON *scenario_of(const char *name)
{
    char        path[512];
    static char text[1 << 16];

    snprintf(path, sizeof path, "%s/%s.json", SCENARIOS_DIR, name);
    FILE *f = fopen(path, "r");

    assert_non_null(f);
    text[fread(text, 1, sizeof text - 1, f)] = '\0';
    fclose(f);
    cJSON *scenario = cJSON_Parse(text);

    assert_non_null(scenario);
    return scenario;
}

/* A day later, each stamp off by up to 20 ns: half of what the model's instrument is uncertain by (time_ns 20, k = 2). */
static void time_again(struct synth_record *r, unsigned number)
{
    r->stamp_ns += INT64_C(86400000000000) + (int64_t)(number * 7919u % 41u) - 20;
}

static const char *const lives[] = { "fixed", "two", "swaps", "extended", "pps-volts", "epr", "model", "resets-volts", "vdms", "random" };
enum { LIVES = sizeof lives / sizeof lives[0] };

static void assert_no_difference(const char *a, const char *b, const char *life)
{
    struct try t = try_run(&command_diff, a, b, "-v", NULL);

    if (t.status != STATUS_DONE || !strstr(t.text, "NO DIFFERENCE"))
        fail_msg("%s: %s%s", life, t.complaints, t.text);
    try_free(&t);
}

static void a_trace_does_not_differ_from_itself_nor_from_itself_timed_anew(void **state)
{
    (void)state;
    for (unsigned k = 0; k < LIVES; k++) {
        cJSON *scenario = scenario_of(lives[k]);
        char   a[64], b[64];

        save_played(scenario, NULL, a);
        save_played(scenario, time_again, b);
        assert_no_difference(a, a, lives[k]);
        assert_no_difference(a, b, lives[k]);
        assert_no_difference(b, a, lives[k]);
        try_remove(a);
        try_remove(b);
        cJSON_Delete(scenario);
    }
}

/* MessageIDs that count on from others: a life that begins in the middle. */
static void save_middle(void **state, unsigned id, char path[64])
{
    struct lines  *l = *state;
    const uint32_t caps[] = { word_fixed(5000, 3000), word_fixed(9000, 3000) };

    lines_clear(l);
    l->next_id[SET_SOP][SIDE_SOURCE] = (uint8_t)id;
    l->next_id[SET_SOP][SIDE_SINK] = (uint8_t)(7 - id);
    lines_data(l, SIDE_SOURCE, DATA_SOURCE_CAPABILITIES, 2, caps);
    lines_data(l, SIDE_SINK, DATA_REQUEST, 1, (const uint32_t[]){ word_ask_fixed(2, 2000, 2000) });
    lines_control(l, SIDE_SOURCE, CONTROL_ACCEPT);
    lines_wait(l, MS(60));
    lines_control(l, SIDE_SOURCE, CONTROL_PS_RDY);
    lines_wait(l, MS(600));
    try_save(l, path);
}

static void other_message_ids_are_no_difference(void **state)
{
    char a[64], b[64];

    save_middle(state, 1, a);
    save_middle(state, 6, b);
    assert_no_difference(a, b, "the middle of a life");
    try_remove(a);
    try_remove(b);
}

/* Two ports, C1 and C2, of a Lumenbrick 65; INVENTED. Everything that could be drawn otherwise is said. */
static const char *const two_ports =
    "{\"schema\":1,\"seed\":5,\"device\":\"Lumenbrick 65\",\"instrument\":{\"power\":true,\"power_interval_us\":5000},\"ports\":["
    "{\"port\":%d,\"name\":\"C1\",\"cable\":{\"kind\":\"passive\",\"ma\":5000},\"sink\":{\"policy\":\"most_power\"},"
    "\"source\":{\"pdos\":[{\"supply\":\"fixed\",\"mv\":5000,\"ma\":3000},{\"supply\":\"fixed\",\"mv\":9000,\"ma\":3000},"
    "{\"supply\":\"fixed\",\"mv\":15000,\"ma\":3000},{\"supply\":\"fixed\",\"mv\":20000,\"ma\":%d}]},"
    "\"steps\":[{\"do\":\"attach\"},{\"do\":\"wait\",\"ms\":2500}%s,{\"do\":\"detach\"}]},"
    "{\"port\":%d,\"name\":\"C2\",\"rated_w\":20,\"cable\":{\"kind\":\"passive\"},\"sink\":{\"policy\":\"most_power\"},"
    "\"source\":{\"pdos\":[{\"supply\":\"fixed\",\"mv\":5000,\"ma\":3000},{\"supply\":\"fixed\",\"mv\":9000,\"ma\":2220}]},"
    "\"steps\":[{\"do\":\"wait\",\"ms\":900},{\"do\":\"attach\"},{\"do\":\"wait\",\"ms\":1200},{\"do\":\"detach\"}]}]}";

struct brick { int c1, c2, most_ma; const char *more; };

static void save_brick(const struct brick *b, char path[64])
{
    char text[4096];

    snprintf(text, sizeof text, two_ports, b->c1, b->most_ma, b->more, b->c2);
    cJSON *scenario = cJSON_Parse(text);

    assert_non_null(scenario);
    save_played(scenario, NULL, path);
    cJSON_Delete(scenario);
}

static const struct brick as_sold = { 0, 1, 3250, "" };

static void ports_that_changed_places_are_said_first_and_are_no_difference(void **state)
{
    static const struct { struct brick b; const char *said; } cases[] = {
        { { 1, 0, 3250, "" }, "\nPort 1 of B (C1) behaves as port 0 of A (C1) did" },
        { { 7, 3, 3250, "" }, "\nPort 7 of B (C1) behaves as port 0 of A (C1) did" },
        { { 3, 7, 3250, "" }, "\nPort 3 of B (C1) is compared with port 0 of A (C1)." },
    };
    char a[64], b[64];

    (void)state;
    save_brick(&as_sold, a);
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        save_brick(&cases[k].b, b);
        struct try t = try_run(&command_diff, a, b, NULL);

        assert_int_equal(t.status, STATUS_DONE);
        expect_text(&t, "NO DIFFERENCE");
        expect_text(&t, cases[k].said);
        expect_width(&t, 100);
        try_free(&t);
        try_remove(b);
    }
    try_remove(a);
}

static void ports_are_compared_as_the_user_says(void **state)
{
    const struct brick turned = { 1, 0, 3250, "" };
    char               a[64], b[64];

    (void)state;
    save_brick(&as_sold, a);
    save_brick(&turned, b);
    struct try t = try_run(&command_diff, "--json", "--port-map", "0=0", a, b, NULL);

    assert_int_equal(t.status, STATUS_FAILED);
    assert_int_equal(number_at(t.json, "ports.0.b"), 0);
    assert_int_equal(number_at(t.json, "ports.1.b"), 1);
    assert_false(true_at(t.json, "renumbered"));
    assert_string_equal(text_at(t.json, "differences.0.kind"), "offer");
    try_free(&t);
    t = try_run(&command_diff, "--port-map", "0=9", a, b, NULL);
    assert_int_equal(t.status, STATUS_NOT_DONE);
    expect_complaint(&t, "--port-map 0=9: the second trace has no such port");
    try_free(&t);
    t = try_run(&command_diff, "--port-map", "0=1,1=1", a, b, NULL);
    assert_int_equal(t.status, STATUS_NOT_DONE);
    expect_complaint(&t, "a port stands there twice");
    try_free(&t);
    t = try_run(&command_diff, "--port-map", "0", a, b, NULL);
    assert_int_equal(t.status, STATUS_NOT_DONE);
    expect_complaint(&t, "as in 0=1,1=0");
    try_free(&t);
    try_remove(a);
    try_remove(b);
}

/* Changes, one at a time. */

static void less_current_in_an_offer_is_an_offer_and_a_contract(void **state)
{
    const struct brick weaker = { 0, 1, 2250, "" };
    char               a[64], b[64];

    (void)state;
    save_brick(&as_sold, a);
    save_brick(&weaker, b);
    struct try t = try_run(&command_diff, "--json", a, b, NULL);

    assert_int_equal(t.status, STATUS_FAILED);
    assert_string_equal(text_at(t.json, "differences.0.kind"), "offer");
    assert_string_equal(text_at(t.json, "differences.0.a"), "20 V 3.25 A");
    assert_string_equal(text_at(t.json, "differences.0.b"), "20 V 2.25 A");
    assert_string_equal(text_at(t.json, "differences.0.text"), "Offer: 20 V 3.25 A has become 20 V 2.25 A.");
    assert_int_equal(number_at(t.json, "differences.0.port"), 0);
    assert_int_equal(size_at(t.json, "differences.0.frames_a"), 1);
    assert_int_equal(size_at(t.json, "differences.0.frames_b"), 1);
    assert_non_null(find_at(t.json, "differences", "kind", "contract"));
    for (int k = 0; k < size_at(t.json, "differences"); k++) {
        char path[40];

        snprintf(path, sizeof path, "differences.%d.port", k);
        assert_int_equal(number_at(t.json, path), 0);
    }
    try_free(&t);
    try_remove(a);
    try_remove(b);
}

/* The same differences, with a and b changed over. */
static void assert_mirrored(const struct try *ab, const struct try *ba)
{
    int n = size_at(ab->json, "differences");

    assert_int_equal(size_at(ba->json, "differences"), n);
    for (int k = 0; k < n; k++) {
        const cJSON *x = cJSON_GetArrayItem(at(ab->json, "differences"), k);
        bool         found = false;

        for (int i = 0; i < n && !found; i++) {
            const cJSON *y = cJSON_GetArrayItem(at(ba->json, "differences"), i);

            found = strcmp(text_at(x, "kind"), text_at(y, "kind")) == 0 && number_at(x, "weight") == number_at(y, "weight") &&
                    cJSON_Compare(at(x, "a"), at(y, "b"), true) && cJSON_Compare(at(x, "b"), at(y, "a"), true) &&
                    cJSON_Compare(at(x, "frames_a"), at(y, "frames_b"), true) && cJSON_Compare(at(x, "frames_b"), at(y, "frames_a"), true);
        }
        if (!found)
            fail_msg("only one way round: %s", text_at(x, "text"));
    }
}

static void the_other_way_round_the_same_differs(void **state)
{
    static const char *const others[] = { "two", "swaps", "epr", "random" };
    char                     a[64], b[64];

    (void)state;
    for (unsigned k = 0; k < 4; k++) {
        cJSON *x = scenario_of("fixed"), *y = scenario_of(others[k]);

        save_played(x, NULL, a);
        save_played(y, NULL, b);
        struct try ab = try_run(&command_diff, "--json", "--port-map", "0=0", a, b, NULL);
        struct try ba = try_run(&command_diff, "--json", "--port-map", "0=0", b, a, NULL);

        assert_int_equal(ab.status, STATUS_FAILED);
        assert_mirrored(&ab, &ba);
        try_free(&ab);
        try_free(&ba);
        try_remove(a);
        try_remove(b);
        cJSON_Delete(x);
        cJSON_Delete(y);
    }
}

/* Each with the rules that the matrix (tests/matrix/faults.txt) says fail by it. */
static const struct { const char *fault, *rules; } faults[] = {
    { "message.length", "message.length" },
    { "message.power-role", "message.power-role" },
    { "message.id-sequence", "message.id-sequence" },
    { "message.reserved-type", "message.reserved-type" },
    { "message.deprecated", "message.deprecated" },
    { "wire.crc", "wire.crc" },
    { "wire.bit-rate", "wire.bit-rate" },
    { "wire.inter-frame-gap", "wire.inter-frame-gap" },
    { "exchange.goodcrc", "exchange.goodcrc" },
    { "exchange.request-answered", "exchange.request-answered" },
};

static void add_fault(cJSON *scenario, const char *name)
{
    cJSON *list = cJSON_AddArrayToObject(scenario, "faults"), *fault = cJSON_CreateObject();

    cJSON_AddStringToObject(fault, "fault", name);
    cJSON_AddItemToArray(list, fault);
}

/* The sink asks for 1 A each time: what is drawn after the fault may be drawn otherwise. */
static cJSON *settled_scenario(const char *name)
{
    cJSON *scenario = scenario_of(name), *port = cJSON_GetArrayItem(cJSON_GetObjectItem(scenario, "ports"), 0), *step;

    cJSON_ArrayForEach(step, cJSON_GetObjectItem(port, "steps"))
        if (strcmp(cJSON_GetStringValue(cJSON_GetObjectItem(step, "do")), "request") == 0)
            cJSON_AddNumberToObject(step, "ma", 1000);
    cJSON *sink = cJSON_GetObjectItem(port, "sink");

    cJSON_AddStringToObject(sink ? sink : cJSON_AddObjectToObject(port, "sink"), "policy", "most_power");
    return scenario;
}

/* The verdicts that differ are those of these rules; no offer, time or voltage differs. */
static void assert_named(const struct try *t, const char *fault, const char *rules)
{
    unsigned verdicts = 0;

    for (int k = 0; k < size_at(t->json, "differences"); k++) {
        const cJSON *x = cJSON_GetArrayItem(at(t->json, "differences"), k);
        const char  *kind = text_at(x, "kind"), *text = text_at(x, "text");

        if (strcmp(kind, "verdict") == 0) {
            verdicts++;
            assert_int_equal(strncmp(text, "Rule ", 5), 0);
            if (strncmp(text + 5, rules, strlen(rules)) != 0 || text[5 + strlen(rules)] != ' ')
                fail_msg("%s: %s", fault, text);
        } else if (strcmp(kind, "negotiation") != 0 && strcmp(kind, "contract") != 0) {
            fail_msg("%s: %s", fault, text);
        }
    }
    if (verdicts != 1)
        fail_msg("%s: %u verdicts differ: %s", fault, verdicts, t->text);
}

static void what_is_made_wrong_is_named_and_nothing_else(void **state)
{
    cJSON *scenario = settled_scenario("fixed");
    char   a[64], b[64];

    (void)state;
    save_played(scenario, NULL, a);
    for (size_t k = 0; k < sizeof faults / sizeof faults[0]; k++) {
        cJSON *spoilt = cJSON_Duplicate(scenario, true);

        add_fault(spoilt, faults[k].fault);
        save_played(spoilt, NULL, b);
        struct try t = try_run(&command_diff, "--json", a, b, NULL);

        assert_int_equal(t.status, STATUS_FAILED);
        assert_named(&t, faults[k].fault, faults[k].rules);
        try_free(&t);
        try_remove(b);
        cJSON_Delete(spoilt);
    }
    cJSON_Delete(scenario);
    try_remove(a);
}

static void what_the_device_says_of_itself_is_compared_field_by_field(void **state)
{
    cJSON *a = settled_scenario("extended"), *b = cJSON_Duplicate(a, true);
    char   path_a[64], path_b[64];

    (void)state;
    cJSON_AddNumberToObject(cJSON_GetObjectItem(cJSON_GetArrayItem(cJSON_GetObjectItem(b, "ports"), 0), "source"), "pdp_w", 65);
    save_played(a, NULL, path_a);
    save_played(b, NULL, path_b);
    struct try t = try_run(&command_diff, path_a, path_b, NULL);

    assert_int_equal(t.status, STATUS_FAILED);
    expect_text(&t, "1 DIFFERENCE");
    expect_text(&t, "The device says in Source_Capabilities_Extended: SPR Source PDP Rating 60 W in A; SPR Source");
    try_free(&t);
    try_remove(path_a);
    try_remove(path_b);
    cJSON_Delete(a);
    cJSON_Delete(b);
}

static void a_hard_reset_stands_before_what_matters_less(void **state)
{
    const struct brick resets = { 0, 1, 3250, ",{\"do\":\"hard_reset\",\"unexplained\":true},{\"do\":\"wait\",\"ms\":1500}" };
    char               a[64], b[64];

    (void)state;
    save_brick(&as_sold, a);
    save_brick(&resets, b);
    struct try t = try_run(&command_diff, a, b, NULL);

    assert_int_equal(t.status, STATUS_FAILED);
    expect_text(&t, "   1   C1: After \"contract 20 V 3.25 A, object 4, fixed\" only B has: Hard Reset");
    expect_width(&t, 100);
    try_free(&t);
    try_remove(a);
    try_remove(b);
}

static void what_is_left_out_is_said_when_asked(void **state)
{
    char a[64];

    (void)state;
    save_brick(&as_sold, a);
    struct try t = try_run(&command_diff, "-v", a, a, NULL);

    expect_text(&t, "Not counted as a difference: MessageIDs");
    expect_width(&t, 100);
    try_free(&t);
    t = try_run(&command_diff, "-q", a, a, NULL);
    assert_string_equal(strchr(t.text, '\n') + 1, "");
    try_free(&t);
    t = try_run(&command_diff, a, "/nowhere/at/all", NULL);
    assert_int_equal(t.status, STATUS_NOT_DONE);
    expect_complaint(&t, "/nowhere/at/all");
    try_free(&t);
    t = try_run(&command_diff, "-", "-", NULL);
    assert_int_equal(t.status, STATUS_NOT_DONE);
    expect_complaint(&t, "standard input cannot be both traces");
    try_free(&t);
    try_remove(a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_differ_beyond_their_uncertainties_together),
        cmocka_unit_test(a_verdict_that_nobody_could_reach_is_no_difference),
        cmocka_unit_test(the_alignment_is_the_least_edit_from_either_side),
        cmocka_unit_test(plugs_that_only_one_of_them_saw_are_left_out),
        cmocka_unit_test(a_trace_does_not_differ_from_itself_nor_from_itself_timed_anew),
        cmocka_unit_test_setup_teardown(other_message_ids_are_no_difference, lines_setup, lines_teardown),
        cmocka_unit_test(ports_that_changed_places_are_said_first_and_are_no_difference),
        cmocka_unit_test(ports_are_compared_as_the_user_says),
        cmocka_unit_test(less_current_in_an_offer_is_an_offer_and_a_contract),
        cmocka_unit_test(the_other_way_round_the_same_differs),
        cmocka_unit_test(what_is_made_wrong_is_named_and_nothing_else),
        cmocka_unit_test(what_the_device_says_of_itself_is_compared_field_by_field),
        cmocka_unit_test(a_hard_reset_stands_before_what_matters_less),
        cmocka_unit_test(what_is_left_out_is_said_when_asked),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
